"""Comparisons in a job: of which board they are, and what they did not count in."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ui.record.events import Checked, Corrected, PhotoAdded, Role
    from ui.record.state import JobState, Noted


def is_pair_answer(checked: Checked) -> bool:
    """Tell whether an answer compares two photos.

    Parameters
    ----------
    checked : Checked
        An answer.

    Returns
    -------
    bool
        True for ``dotward.compare`` answers.
    """
    return str(checked.answer.get("format", "")).startswith("dotward.compare/")


def uncovered_corrections(
    state: JobState, checked: Checked
) -> tuple[Noted[Corrected], ...]:
    """Name the hand corrections that an answer does not take into account.

    Parameters
    ----------
    state : JobState
        The job.
    checked : Checked
        An answer of that job.

    Returns
    -------
    tuple of Noted
        Corrections of the answer's photos that it does not list.
    """
    return tuple(
        noted
        for noted in state.corrections
        if noted.event.photo in checked.photos and noted.seq not in checked.corrections
    )


def uncounted_photos(
    state: JobState, checked: Checked
) -> tuple[Noted[PhotoAdded], ...]:
    """Name the photos that a comparison would count in now and did not.

    Parameters
    ----------
    state : JobState
        The job.
    checked : Checked
        A comparison of that job.

    Returns
    -------
    tuple of Noted
        Of the same board: before, bare lands and sides.
    """
    role = board_of(state.photos, checked)
    if role is None:
        return ()
    above = (state.photo("before", role), state.photo("lands", role))
    counted = (*above, *state.side_photos(role))
    return tuple(n for n in counted if n is not None and n.seq not in checked.photos)


def board_of(photos: Iterable[Noted[PhotoAdded]], checked: Checked) -> Role | None:
    """Give the board that a comparison is about: that of its photo after reflow.

    Parameters
    ----------
    photos : iterable of Noted
        The job's photos that count.
    checked : Checked
        A comparison.

    Returns
    -------
    str or None
        None where none of its photos counts.
    """
    shown = [n.event for n in photos if n.seq in checked.photos]
    return next((e.role for e in shown if e.stage == "after"), None)


def photos_that_count(photos: Iterable[Noted[PhotoAdded]]) -> set[int]:
    """Give the newest photo of each stage and board, and every one from the side.

    Parameters
    ----------
    photos : iterable of Noted
        The job's photos that nothing replaces, oldest first.

    Returns
    -------
    set of int
        Their events.
    """
    listed = tuple(photos)
    newest = {(noted.event.stage, noted.event.role): noted.seq for noted in listed}
    return {*newest.values(), *(n.seq for n in listed if n.event.stage == "side")}


def pairs_that_count(
    photos: tuple[Noted[PhotoAdded], ...], answers: tuple[Noted[Checked], ...]
) -> tuple[Noted[Checked], ...]:
    """Give the newest comparison of each board that is of photos that count.

    Parameters
    ----------
    photos : tuple of Noted
        The job's photos that count.
    answers : tuple of Noted
        All answers, oldest first.

    Returns
    -------
    tuple of Noted
        One a board.
    """
    counts = photos_that_count(photos)
    by_role = {
        board_of(photos, noted.event): noted
        for noted in answers
        if is_pair_answer(noted.event) and set(noted.event.photos) <= counts
    }
    return tuple(by_role.values())
