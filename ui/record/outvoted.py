"""Photos that were judged stop and that newer ones stand for now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.record.comparisons import is_pair_answer, photos_that_count
from ui.record.events import STAGES_BESIDE, PhotoAdded
from ui.record.state import Noted

if TYPE_CHECKING:
    from ui.record.events import Checked
    from ui.record.state import JobState


def outvoted_stops(state: JobState) -> tuple[Noted[PhotoAdded], ...]:
    """Name the photos whose last answer was a stop and that no longer count.

    A new photo of a stage takes the place of the one before it.  That is how mended
    work is shown, and also how a better-looking photo of the same fault would be.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    tuple of Noted
        Oldest first; those of bare lands and from the side where they were a fault.
    """
    stopped = _stopped(state) - photos_that_count(state.photos)
    return tuple(noted for noted in _all_photos(state) if noted.seq in stopped)


def outvoted_words(state: JobState) -> tuple[str, ...]:
    """Say which photos were judged stop before newer ones stood for them.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    tuple of str
        A sentence a photo.
    """
    return tuple(
        f"an earlier photo of the stage {noted.event.stage} (event {noted.seq}) was "
        "judged stop; it no longer counts"
        for noted in outvoted_stops(state)
    )


def no_longer_counting(
    before: JobState, now: JobState
) -> tuple[Noted[PhotoAdded], ...]:
    """Name the photos that newer ones took the place of between two states of a job.

    Parameters
    ----------
    before, now : JobState
        The job at two times.

    Returns
    -------
    tuple of Noted
        Oldest first.
    """
    gone = photos_that_count(before.photos) - photos_that_count(now.photos)
    return tuple(noted for noted in _all_photos(now) if noted.seq in gone)


def _stopped(state: JobState) -> set[int]:
    """Give the photos of which the newest comparison, or own answer, is a stop."""
    beside = {n.seq for n in _all_photos(state) if n.event.stage in STAGES_BESIDE}
    said: dict[tuple[int, bool], bool] = {}
    for noted in state.answers:
        for photo in noted.event.photos:
            about = (photo, is_pair_answer(noted.event))
            said[about] = _is_stop(noted.event, is_beside=photo in beside)
    return {photo for (photo, _), is_stop in said.items() if is_stop}


def _is_stop(checked: Checked, *, is_beside: bool) -> bool:
    if is_pair_answer(checked):
        return checked.answer.get("decision") == "stop"
    return is_beside and checked.answer.get("state") == "fault"


def _all_photos(state: JobState) -> tuple[Noted[PhotoAdded], ...]:
    return tuple(
        Noted(seq=noted.seq, at=noted.at, event=noted.event)
        for noted in state.history
        if isinstance(noted.event, PhotoAdded)
    )
