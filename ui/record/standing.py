"""What stands decided in a job: the last review counts over the decision."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ui.record.events import Decision, Verdict
    from ui.record.state import JobState


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What counts now, who said so, and why.

    ``verdict`` is that of the review, None where nobody has reviewed.
    ``tool_decision`` is what the tool said to the one who decided.
    """

    decision: Decision
    by: str
    reason: str
    verdict: Verdict | None
    tool_decision: Decision


def standing_of(state: JobState) -> Standing | None:
    """Give what stands decided.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    Standing or None
        None where nobody has decided since the newest fact.
    """
    if state.decision is None:
        return None
    decided = state.decision.event
    review = state.reviews[-1].event if state.reviews else None
    said = review or decided
    return Standing(
        decision=said.decision,
        by=said.by,
        reason=said.reason,
        verdict=review.verdict if review else None,
        tool_decision=decided.tool_decision,
    )


def undecided_words(state: JobState) -> str:
    """Say why no decision stands.

    Parameters
    ----------
    state : JobState
        A job in which none does.

    Returns
    -------
    str
        The start of a sentence.
    """
    if state.is_taken_back:
        return (
            "the newest decision was taken back, and the one before it does not come "
            "back by itself"
        )
    if state.earlier_decision is not None:
        return "something was added after the decision, so it has to be made again"
    return "nobody has decided yet"


def is_against_stop(state: JobState) -> bool:
    """Tell whether a board is let go that the tool would stop.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    bool
        By the standing decision, whoever made it.
    """
    standing = standing_of(state)
    if standing is None or standing.decision != "no-fault-seen":
        return False
    return "stop" in (standing.tool_decision, state.tool_decision)


def is_stopped(state: JobState) -> bool:
    """Tell whether a board is held back for now.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    bool
        True where Stop was decided or reviewed; where the tool says it and nobody has
        decided since; and where nobody has reviewed a decision against it.
    """
    standing = standing_of(state)
    if standing is None:
        return state.tool_decision == "stop"
    is_unreviewed = standing.verdict is None
    return standing.decision == "stop" or (is_unreviewed and is_against_stop(state))
