"""Boards that were let go although the tool did not clear them: what to beware of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ui.record.rules import not_compared_words

if TYPE_CHECKING:
    from ui.record import JobRow, JobState

LETS_GO = "no-fault-seen"
AGAINST_WORD = "Against the tool: stop"
UNSEEN_WORD = "No comparison was made"
_CAUTION = (
    "Caution: {seen}, and the {who} lets the board go on. A chip that is turned can "
    "burn and take the board with it. {look} before you accept."
)
_AT_PICTURES = "Look at the pictures"
_AT_BOARD = "The tool has not judged how the chip sits now: look at the board"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What speaks against a board that was let go.

    ``word`` is short, for a list; ``text`` is for the one who is about to accept, and
    empty in a list.
    """

    state: Literal["fault", "unsure"]
    word: str
    text: str = ""


def row_caution(row: JobRow) -> Caution | None:
    """Say what to beware of in a row of the queue.

    Parameters
    ----------
    row : JobRow
        The job as a list shows it.

    Returns
    -------
    Caution or None
        None where what holds now is not that the board goes on, where the tool
        compared the photos that count, or where it did not say stop.
    """
    holds = row.review_decision or row.decision
    return (
        _caution(row.tool_decision, compared=row.answered) if holds == LETS_GO else None
    )


def job_caution(state: JobState) -> Caution | None:
    """Say what to beware of before a decision is accepted.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    Caution or None
        None where neither technician nor reviewer lets the board go on, or where
        nothing speaks against it.
    """
    who = _who_lets_go(state)
    missing = not_compared_words(state)
    found = _caution(state.tool_decision, compared=not missing) if who else None
    if found is None:
        return None
    is_stop = found.state == "fault"
    text = _CAUTION.format(
        seen="the tool says stop" if is_stop else missing,
        who=who,
        look=_AT_PICTURES if is_stop else _AT_BOARD,
    )
    return Caution(state=found.state, word=found.word, text=text)


def tool_counts(row: JobRow) -> bool:
    """Tell whether what the tool says is held against what people say.

    Parameters
    ----------
    row : JobRow
        The job as a list shows it.

    Returns
    -------
    bool
        True where it compared the photos that count or says stop, and where the board
        was let go without: that goes against its "check by hand".
    """
    let_go = LETS_GO in (row.decision, row.review_decision)
    return row.answered or row.tool_decision == "stop" or let_go


def _caution(tool_decision: str, *, compared: bool) -> Caution | None:
    if tool_decision == "stop":
        return Caution(state="fault", word=AGAINST_WORD)
    return None if compared else Caution(state="unsure", word=UNSEEN_WORD)


def _who_lets_go(state: JobState) -> str:
    if state.decision is None:
        return ""
    if state.decision.event.decision == LETS_GO:
        return "technician"
    reviewed = state.reviews[-1].event.decision if state.reviews else ""
    return "reviewer" if reviewed == LETS_GO else ""
