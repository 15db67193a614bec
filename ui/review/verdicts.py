"""What a reviewer does with a decision; each is an event, undo included."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.record import Reviewed, Withdrawn, add_event, load_job
from ui.record.rules import standing_events
from ui.record.standing import undecided_words
from vision.errors import RecordError

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record import Decided, Entry, Noted
    from ui.record.events import Decision


def accept(
    folder: Path,
    *,
    by: str,
    decided: int | None = None,
    reason: str = "",
) -> Entry:
    """Record that a second person agrees with the decision.

    Parameters
    ----------
    folder : Path
        The job folder.
    by : str
        The reviewer.
    decided : int, optional
        Event of the decision that the reviewer saw; the newest if not given.
    reason : str, optional
        A remark.

    Returns
    -------
    Entry
        The event as recorded.

    Raises
    ------
    RecordError
        There is no such decision any more, or its own maker reviews it.
    """
    decision = _decision(folder, decided)
    event = Reviewed(
        verdict="accepted",
        by=_named(by),
        decided=decision.seq,
        decision=decision.event.decision,
        reason=reason,
    )
    return add_event(folder, event)


def overrule(
    folder: Path,
    decision: Decision,
    *,
    by: str,
    reason: str,
    decided: int | None = None,
) -> Entry:
    """Record that a second person decides otherwise, and why.

    Parameters
    ----------
    folder : Path
        The job folder.
    decision : str
        What holds instead.
    by : str
        The reviewer.
    reason : str
        What the reviewer saw; never empty.
    decided : int, optional
        Event of the decision that the reviewer saw; the newest if not given.

    Returns
    -------
    Entry
        The event as recorded.

    Raises
    ------
    RecordError
        No reason, no such decision, the same decision, or the same person.
    """
    old = _decision(folder, decided)
    if decision == old.event.decision:
        message = (
            f"{folder.name}: {decision} is what was decided. Accept it, or overrule "
            "it with another decision."
        )
        raise RecordError(message)
    event = Reviewed(
        verdict="overruled",
        by=_named(by),
        decided=old.seq,
        decision=decision,
        reason=reason,
    )
    return add_event(folder, event)


def take_back(
    folder: Path,
    *,
    by: str,
    event: int | None = None,
    reason: str = "",
) -> Entry:
    """Take back a review, decision or correction by a further event.

    Parameters
    ----------
    folder : Path
        The job folder.
    by : str
        Who takes it back.
    event : int, optional
        Which event; the newest one that stands if not given.
    reason : str, optional
        Why.

    Returns
    -------
    Entry
        The taking back; what is taken back stays in the journal.

    Raises
    ------
    RecordError
        Nothing stands that could be taken back, or the job is sealed.
    """
    if event is None:
        standing = standing_events(load_job(folder))
        if not standing:
            message = (
                f"{folder.name}: no correction, decision or review stands, so there "
                "is nothing to take back."
            )
            raise RecordError(message)
        event = max(standing)
    return add_event(folder, Withdrawn(event=event, by=_named(by), reason=reason))


def _decision(folder: Path, seen: int | None) -> Noted[Decided]:
    state = load_job(folder)
    if state.decision is None:
        message = f"{folder.name}: {undecided_words(state)}. Decide first, then review."
        raise RecordError(message)
    if seen is not None and seen != state.decision.seq:
        message = (
            f"{folder.name}: the decision was changed since it was shown (event "
            f"{state.decision.seq} is the newest). Look at the job again."
        )
        raise RecordError(message)
    return state.decision


def _named(by: str) -> str:
    if not by.strip():
        message = "no name is given; the record says who does what. Give your name."
        raise RecordError(message)
    return by
