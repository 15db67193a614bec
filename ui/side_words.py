"""Sentences about a row of feet seen from the side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.record.checking import OLDER
from ui.words import STATE_WORDS, Answer
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Iterable

    from vision.results import SideFoot, SideSeen

NEXT_PHOTO = (
    "Photograph the row again: camera beside the board and 15 to 30 degrees above it, "
    "the whole row and its lands sharp and filling half of the frame, nothing in front "
    "of them, light from behind the camera."
)
NO_FEET = "no feet that stand out of the body"
"""What a reason says of a package no photo of which can show feet from the side."""
NO_PHOTO_HELPS = (
    "The feet of this package do not reach out of its body, so they cannot be seen "
    "from the side, and another photo from there shows no more. Look at each joint "
    "under the microscope, board unpowered."
)
LOOK_CLOSELY = (
    "Look at that foot under the microscope, board unpowered, and touch it with a "
    "wooden pick: a foot that moves is not soldered."
)
WHAT_IT_IS_NOT = (
    "Heights are against the row itself: a row that stands high as a whole, and solder "
    "that did not wet, are not seen in them."
)
NAMED_BY_HAND = "Which row it shows is as the person who gave the photo named it."
ROW_NOT_NAMED = (
    "Which row it shows was not named, so it clears no doubt about a lead; a foot "
    "above the limit counts all the same."
)
OLDER_PHOTO = "a side photo that is older than the photo after reflow"


def side_answer(seen: SideSeen, *, package: str = "") -> Answer:
    """Put the heights of a row of feet into sentences.

    Parameters
    ----------
    seen : SideSeen
    package : str, optional
        Where the pitch comes from that gives the scale.

    Returns
    -------
    Answer
    """
    side = seen.view
    who = f"Feet of {row_words(seen)}" if seen.leads else "Feet"
    if isinstance(side, NotFound):
        return Answer(
            state="unsure",
            headline=f"{who}: cannot tell: {side.reason}",
            details=(seen.note,) if seen.note else (),
            next_steps=(next_photo(side),),
        )
    bad = [foot for foot in side.feet if foot.state == "fault"]
    doubtful = [foot for foot in side.feet if foot.state == "unsure"]
    if bad:
        said = f"lifted: {_listed(seen, bad)}; limit {side.limit_mm:.2f} mm"
    elif doubtful:
        said = f"cannot tell of {_listed(seen, doubtful)}; limit {side.limit_mm:.2f} mm"
    else:
        said = f"all {len(side.feet)} within {side.limit_mm:.2f} mm of one line"
    steps = (LOOK_CLOSELY,) if bad else (NEXT_PHOTO, LOOK_CLOSELY) if doubtful else ()
    source = f", as {package} has (--package)" if package else ""
    return Answer(
        state=side.state,
        headline=f"{who}: {STATE_WORDS[side.state]}: {said}",
        details=(
            *side.reasons,
            "Heights from the left: " + "; ".join(map(height_words, side.feet)),
            f"Scale: {side.pitch_mm:.2f} mm between leads{source}, "
            f"{side.px_per_mm:.0f} px/mm",
            WHAT_IT_IS_NOT,
            *((seen.note,) if seen.note else ()),
        ),
        next_steps=steps,
    )


def next_photo(unread: NotFound) -> str:
    """Say what to do about a row that was not read.

    Parameters
    ----------
    unread : NotFound

    Returns
    -------
    str
        How to photograph it again, where a photo can show it.
    """
    return NO_PHOTO_HELPS if NO_FEET in unread.reason else NEXT_PHOTO


def row_words(seen: SideSeen) -> str:
    """Name the row that a side photo shows.

    Parameters
    ----------
    seen : SideSeen

    Returns
    -------
    str
        ``leads 1 to 4``, or ``row not named``.
    """
    if seen.leads is None:
        return "row not named"
    return f"leads {seen.leads[0]} to {seen.leads[1]}"


def foot_words(seen: SideSeen, foot: SideFoot) -> str:
    """Name a foot: its lead where the row is known, else its place in the photo.

    Parameters
    ----------
    seen : SideSeen
    foot : SideFoot

    Returns
    -------
    str
    """
    lead = seen.lead(foot)
    return f"foot {foot.from_left} from the left" if lead is None else f"lead {lead}"


def foot_tag(seen: SideSeen, foot: SideFoot) -> str:
    """Name a foot in a few letters, as pictures do.

    Parameters
    ----------
    seen : SideSeen
    foot : SideFoot

    Returns
    -------
    str
        Its lead's number alone where the row is known.
    """
    return str(seen.lead(foot) or f"no. {foot.from_left}")


def height_words(foot: SideFoot) -> str:
    """Say how high a foot stands.

    Parameters
    ----------
    foot : SideFoot

    Returns
    -------
    str
    """
    return f"{foot.height_mm:+.2f} ± {foot.u_mm:.2f} mm"


def unread_words(rows: Iterable[SideSeen]) -> tuple[str, ...]:
    """Say which side photos count neither way, or not as they were named.

    Parameters
    ----------
    rows : iterable of SideSeen

    Returns
    -------
    tuple of str
    """
    found = []
    for seen in rows:
        if isinstance(seen.view, NotFound):
            found.append(
                f"Side photo ({row_words(seen)}) not read, so it counts neither way: "
                f"{seen.view.reason}"
            )
        if is_older(seen):
            found.append(f"Side photo older than the photo after reflow: {seen.note}")
        elif seen.note:
            found.append(f"Side photo counts as one of a row not named: {seen.note}")
    return tuple(found)


def is_older(seen: SideSeen) -> bool:
    """Tell whether a photo from the side came before the photo after reflow."""
    return seen.note == OLDER


def side_fault(rows: Iterable[SideSeen]) -> str:
    """Say what is against a row of feet, and whether it may have been mended since.

    Parameters
    ----------
    rows : iterable of SideSeen
        All that were counted in.

    Returns
    -------
    str
    """
    if _is_old_fault(rows):
        return f"a foot stood above the limit in {OLDER_PHOTO}"
    return "a foot stands above the limit"


def side_mending(rows: Iterable[SideSeen]) -> str:
    """Say what mends a foot that stands too high, or shows that it was mended.

    Parameters
    ----------
    rows : iterable of SideSeen
        All that were counted in.

    Returns
    -------
    str
    """
    if _is_old_fault(rows):
        return f"Photograph that row from the side anew: it was high in {OLDER_PHOTO}."
    return "Press down and solder anew the leads that stand too high."


def _is_old_fault(rows: Iterable[SideSeen]) -> bool:
    faulty = [seen for seen in rows if seen.view and seen.view.state == "fault"]
    return bool(faulty) and all(map(is_older, faulty))


def _listed(seen: SideSeen, feet: list[SideFoot]) -> str:
    """Name feet with their heights."""
    return ", ".join(f"{foot_words(seen, f)}, {height_words(f)}" for f in feet)
