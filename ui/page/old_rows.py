"""Rows of feet whose fault is older than the photo after reflow: mended, or not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.decided_words import DO_NOT_POWER
from ui.side_words import OLDER_PHOTO

if TYPE_CHECKING:
    from ui.record import Checked, JobState, Noted, PhotoAdded


def old_rows_step(state: JobState) -> str:
    """Ask anew for rows that stop a board by photos older than its newest reflow.

    A chip that was set right goes on being stopped by the photo of how it was.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    str
        Two sentences; empty where anything else speaks against the board, too.
    """
    pair, after = state.answer_pair, state.photo("after")
    faulty = _faulty_rows(state)
    if pair is None or after is None or not faulty or _has_other_faults(pair.event):
        return ""
    if any(noted.seq > after.seq for noted in faulty):
        return ""
    rows = " and ".join(_row_words(noted.event.leads) for noted in faulty)
    return (
        f"Photograph {rows} from the side anew: a foot stood too high there in "
        f"{OLDER_PHOTO}. {DO_NOT_POWER}"
    )


def _faulty_rows(state: JobState) -> list[Noted[PhotoAdded]]:
    """Give the photos from the side that count and show a foot too high."""
    newest = {noted.event.photos: noted.event.answer for noted in state.answers}
    return [
        noted
        for noted in state.side_photos()
        if newest.get((noted.seq,), {}).get("state") == "fault"
    ]


def _has_other_faults(checked: Checked) -> bool:
    """Tell whether a comparison found a fault other than from the side."""
    checks = checked.answer.get("checks")
    if not isinstance(checks, dict):
        return checked.answer.get("decision") == "stop"
    return any(
        isinstance(found, dict) and found.get("state") == "fault" and name != "side"
        for name, found in checks.items()
    )


def _row_words(leads: tuple[int, ...]) -> str:
    return f"leads {leads[0]} to {leads[1]}" if leads else "the row of leads"
