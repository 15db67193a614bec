"""The photos of a job by stage, as report sections."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.plain_text import visible
from ui.record.comparisons import is_pair_answer
from ui.record.events import STAGES
from ui.record.pieces import photo_problem
from ui.record.store import photo_path
from ui.report.figures import package_of, photo_jpeg
from ui.report.measures import feet_rows, is_side_answer, row_word
from ui.report.model import Figure, Section, Table
from ui.report.timeline import time_words
from vision.errors import RecordError

if TYPE_CHECKING:
    from pathlib import Path
    from typing import Any

    from ui.record.events import PhotoAdded
    from ui.record.state import JobState, Noted


def photo_sections(
    folder: Path, state: JobState, stage_words: dict[str, str]
) -> tuple[Section, ...]:
    """Show every photo that counts, one section a stage.

    Parameters
    ----------
    folder : Path
        The job folder.
    state : JobState
        The job.
    stage_words : dict
        What each stage is called.

    Returns
    -------
    tuple of Section
        Stages without a photo are left out.
    """
    sections = []
    for stage in STAGES:
        photos = [noted for noted in state.photos if noted.event.stage == stage]
        if photos:
            word = stage_words[stage]
            sections.append(
                Section(
                    heading=f"Photos: {word}",
                    figures=tuple(_figure(folder, state, p, word) for p in photos),
                    tables=tuple(_facts(p) for p in photos),
                )
            )
    return tuple(sections)


def _figure(
    folder: Path, state: JobState, photo: Noted[PhotoAdded], word: str
) -> Figure:
    event = photo.event
    package, feet = _package(state, photo), _feet(state, photo)
    row = f", {row_word(feet)}" if feet else ""
    caption = (
        f"{word}{row}, {event.role} board, photo of event {photo.seq} "
        f"({visible(event.name)}), added by {visible(event.by)}."
    )
    for problem in photo_problem(folder, photo.seq, event):
        alt = (
            f"{word}: the photo cannot be shown: {visible(problem)}. Restore the job's "
            "folder from a copy."
        )
        return Figure(alt=alt, caption=caption, jpeg=None)
    try:
        path = photo_path(folder, event.sha256, event.suffix)
        jpeg, width_px, height_px = photo_jpeg(path, package, feet)
    # A stored photo may be broken in any way a decoder can stumble over.
    except (RecordError, Exception) as error:
        reason = visible(str(error).replace(str(folder), ""))[:200]
        alt = f"{word}: the photo cannot be shown ({reason})"
        return Figure(alt=alt, caption=caption, jpeg=None)
    return Figure(
        alt=f"{word}: {_seen(package) if feet is None else _feet_seen(feet)}",
        caption=caption,
        jpeg=jpeg,
        width_px=width_px,
        height_px=height_px,
    )


def _package(state: JobState, photo: Noted[PhotoAdded]) -> dict[str, Any] | None:
    """Find the newest chip the tool saw in this photo, from a pair if there is one."""
    pair = state.answer_pair
    if pair is not None and photo.seq in pair.event.photos:
        sides = dict(zip(pair.event.photos, ("before", "after"), strict=False))
        found = package_of(pair.event.answer, sides.get(photo.seq, ""))
        if found is not None:
            return found
    for noted in reversed(state.answers):
        if noted.event.photos == (photo.seq,) and not is_pair_answer(noted.event):
            return package_of(noted.event.answer, "")
    return None


def _feet(state: JobState, photo: Noted[PhotoAdded]) -> dict[str, Any] | None:
    """Find the newest answer about the row of feet in this photo."""
    for noted in reversed(state.answers):
        if noted.event.photos == (photo.seq,):
            answer = noted.event.answer
            return answer if is_side_answer(answer) else None
    return None


def _feet_seen(answer: dict[str, Any]) -> str:
    rows = feet_rows(answer)
    if not rows:
        return f"{row_word(answer)}; the feet could not be read"
    told = "; ".join(
        f"{what.lower()} {value}, {judged}" for what, value, _, judged in rows
    )
    return f"{row_word(answer)}, a square on each foot: {told}"


def _seen(package: dict[str, Any] | None) -> str:
    if package is None:
        return "photo without marks; the tool found no chip in it or was not asked"
    pin1 = package.get("pin1")
    is_sure = isinstance(pin1, dict) and pin1.get("state") == "ok"
    count = package.get("lead_count")
    leads = f" with {visible(str(count))} leads" if count else ""
    chip = (
        f"the chip ({visible(str(package.get('family', 'unknown')))}{leads}) outlined"
    )
    where = (
        "pin 1 ringed at its corner" if is_sure else "pin 1 not marked: cannot be told"
    )
    bridges = package.get("bridges")
    count_bridges = len(bridges) if isinstance(bridges, list) else 0
    found = f", {count_bridges} solder bridges crossed" if count_bridges else ""
    return f"{chip}, {where}{found}"


def _facts(photo: Noted[PhotoAdded]) -> Table:
    event = photo.event
    rows = [
        ("SHA-256", visible(event.sha256)),
        ("Size", f"{event.size_bytes} bytes"),
        ("Added (claimed)", time_words(photo.at)),
        ("Holds a place", "yes, left out here" if event.has_place else "no"),
    ]
    rows += [
        (f"Camera claims: {visible(name)}", visible(text))
        for name, text in sorted(event.claims.items())
    ]
    if event.replaces is not None:
        rows.append(("Replaces", f"the photo of event {event.replaces}"))
    return Table(
        caption=f"Photo of event {photo.seq}",
        columns=("Field", "Entry"),
        rows=tuple(rows),
    )
