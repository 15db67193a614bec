"""The tool's answers as rows of words and numbers.

Answers are what ``dotward look`` and ``dotward compare`` print.  They come out of a
journal, so every field may be missing or of a strange form; what cannot be read is
shown as not recorded, never guessed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.pair_steps import CHECK_WORDS
from ui.plain_text import visible
from ui.read_contract import bridge_state
from ui.report.cells import (
    NO_LIMIT,
    NOT_RECORDED,
    Answer,
    Row,
    measured,
    number,
    part_of,
    parts_of,
    share,
    state_word,
    text,
    texts,
    times_100,
)
from ui.report.place import innocent_starts, place_rows
from ui.report.unseen_leads import unseen_leads
from ui.words import STATE_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator

COLUMNS = ("What", "Measured", "Shop limit", "Judged")
MANY_REASONS = 200


def measured_rows(answer: Answer) -> tuple[Row, ...]:
    """Give each measured value of a comparison beside its shop limit.

    Returns
    -------
    tuple of tuple of str
        Rows of ``COLUMNS``.
    """
    rows = [
        *_turn_rows(part_of(answer, "orientation")),
        *place_rows(part_of(answer, "alignment")),
        *(_overhang_row(row) for row in parts_of(answer, "overhang")),
        *_registration_rows(part_of(answer, "registration")),
    ]
    return tuple(rows)


def feet_rows(answer: Answer) -> tuple[Row, ...]:
    """Give the height of each foot in a photo from the side beside the shop limit.

    Returns
    -------
    tuple of tuple of str
        Rows of ``COLUMNS``, from the left of the photo.
    """
    return tuple(
        (
            _foot_word(foot),
            measured(foot.get("height_mm"), foot.get("u_mm"), "mm", 2),
            number(answer.get("limit_mm"), "mm", 2),
            state_word(foot.get("state")),
        )
        for foot in parts_of(answer, "feet")
    )


def row_word(answer: Answer) -> str:
    """Say which row of feet a photo shows, as it was named.

    Returns
    -------
    str
        Words without a stop.
    """
    leads = answer.get("leads")
    if isinstance(leads, list) and len(leads) == 2:
        return f"leads {text(leads[0])} to {text(leads[1])}"
    return "a row that was not named"


def joint_rows(answer: Answer) -> tuple[Row, ...]:
    """Give what was seen of joints and bridges.

    Returns
    -------
    tuple of tuple of str
        Rows of what, what was seen, how it was judged.
    """
    rows = [
        (
            "Bridge between leads " + " and ".join(texts(row.get("between"))),
            "confidence " + share(row.get("confidence")),
            STATE_WORDS[bridge_state(row)],
        )
        for row in parts_of(answer, "bridges")
    ]
    rows += [
        (
            f"Joint of lead {text(row.get('lead'))}",
            "; ".join(texts(row.get("findings"))) or "nothing noted",
            state_word(row.get("state")),
        )
        for row in parts_of(answer, "joints")
    ]
    return tuple(rows)


def unseen(answer: Answer) -> tuple[str, ...]:
    """Name what a comparison or a look could not judge, with its reasons.

    Returns
    -------
    tuple of str
        One sentence each.
    """
    found: list[str] = []
    error = part_of(answer, "error")
    if error:
        found.append(f"No answer: {text(error.get('message'))}")
    checks = {
        **{name: part_of(answer, name) for name in ("quality", "registration")},
        **{name: part_of(answer, name) for name in ("orientation", "alignment")},
        **part_of(answer, "checks"),
    }
    for name, check in checks.items():
        if isinstance(check, dict) and check.get("state") == "unsure":
            found.append(_because(CHECK_WORDS.get(name, visible(name)), check))
    for side in ("before", "after"):
        quality = part_of(answer, f"{side}_quality")
        if quality.get("state") in ("unsure", "fault"):
            found.append(_because(f"Photo {side}", quality))
    found += unseen_leads(answer)
    found += _unseen_packages(answer)
    found += _unseen_feet(answer)
    return tuple(dict.fromkeys(found))


def reasons_of(answer: Answer) -> tuple[str, ...]:
    """Give the sentences that led the tool to its decision.

    Returns
    -------
    tuple of str
        Visible text; what is within its limit is no reason against a board.
    """
    told = texts(answer.get("reasons"))
    if answer.get("decision") != "no-fault-seen":
        innocent = innocent_starts(answer)
        told = tuple(reason for reason in told if not reason.startswith(innocent))
    return told[:MANY_REASONS]


def notes_of(answer: Answer) -> tuple[str, ...]:
    """Give what is worth a look and decides nothing.

    Returns
    -------
    tuple of str
        Visible text.
    """
    return tuple(f"Note: {note}" for note in texts(answer.get("notes")))


def _turn_rows(turn: Answer) -> Iterator[Row]:
    degrees = turn.get("turn_deg")
    value = NOT_RECORDED if degrees is None else f"turned by {text(degrees)}°"
    if turn.get("confidence") is not None:
        value += f" (confidence {share(turn.get('confidence'))})"
    yield ("Way round", value, "turned by 0°", state_word(turn.get("state")))


def _overhang_row(row: Answer) -> Row:
    return (
        f"Side overhang of lead {text(row.get('lead'))} (of the lead's width)",
        measured(
            times_100(row.get("side_overhang_frac")),
            times_100(row.get("u_frac")),
            "%",
            0,
        ),
        number(times_100(row.get("limit_frac")), "%", 0),
        state_word(row.get("state")),
    )


def _registration_rows(found: Answer) -> Iterator[Row]:
    residual, inliers = found.get("residual_px"), found.get("inliers")
    if residual is not None:
        yield (
            "Fit of the board, after over before (rms)",
            f"{number(residual, 'px', 2)} at {text(inliers)} points",
            NO_LIMIT,
            state_word(found.get("state")),
        )


def _unseen_packages(answer: Answer) -> Iterator[str]:
    if "packages" in answer and not parts_of(answer, "packages"):
        yield "No chip was found in this photo"
    for package in parts_of(answer, "packages")[:1]:
        pin1 = part_of(package, "pin1")
        if pin1.get("state") != "ok":
            yield _because("Pin 1", pin1)


def is_side_answer(answer: Answer) -> bool:
    """Tell whether an answer is about a photo of a row of feet.

    Returns
    -------
    bool
    """
    return str(answer.get("format", "")).startswith("dotward.side/")


def _unseen_feet(answer: Answer) -> Iterator[str]:
    if not is_side_answer(answer):
        return
    feet = parts_of(answer, "feet")
    if not feet:
        yield _because(f"Feet of {row_word(answer)}", answer)
    if answer.get("note"):
        yield f"The row was not counted as named: {text(answer.get('note'))}"
    for foot in feet:
        if foot.get("state") not in ("ok", "fault"):
            yield f"{_foot_word(foot)}: {STATE_WORDS['unsure']}"


def _foot_word(foot: Answer) -> str:
    if foot.get("lead") is None:
        return f"Foot {text(foot.get('from_left'))} from the left"
    return f"Foot of lead {text(foot.get('lead'))}"


def _because(what: str, check: Answer) -> str:
    reasons = "; ".join(texts(check.get("reasons")))
    return f"{what}: {state_word(check.get('state'))}" + (
        f": {reasons}" if reasons else " (no reason recorded)"
    )
