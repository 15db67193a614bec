"""What to do with a board once somebody has decided: the review counts over it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui import words
from ui.pair_words import DECISION_WORDS
from ui.plain_text import visible
from ui.record.rules import not_compared_words
from ui.record.standing import is_stopped, standing_of, undecided_words

if TYPE_CHECKING:
    from ui.record import JobState
    from ui.record.standing import Standing

DO_NOT_POWER = "Do not power the board."
FINISH = "Finish the job: that writes the report and seals the record."
AGAIN = "Add what is missing, have it judged, and decide again."
SEALED = "The job is sealed."
SECOND_PERSON = (
    "Nobody has reviewed it yet: let a second person look before the board is powered."
)
UNREVIEWED = (
    "The tool says Stop, and “No fault seen” was decided against it: a second person "
    "has to review that before the board is powered (`dotward job review`)."
)
UNDECIDED = "Do not power the board: no decision stands."
NOTE_OUTCOME = (
    "When the board was powered for the first time, note how it went with `dotward job "
    "outcome`."
)
NOTE_ANYWAY = (
    "A board that was mended since needs a new job; if it was powered all the same, "
    "note what happened with `dotward job outcome`."
)
MAX_REASON_CHARS = 300


def decided_step(state: JobState) -> str:
    """Say what to do next in a job that is decided or sealed.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    str
        Some sentences; the first keeps the board from power unless it was cleared.
    """
    standing = standing_of(state)
    missing = not_compared_words(state)
    if missing and standing is not None and standing.decision == "no-fault-seen":
        return f"Do not power the board: {missing}. {SEALED if state.seals else AGAIN}"
    held = UNDECIDED if standing is None else _held_words(state, standing)
    if not state.seals:
        return f"{held} {FINISH}".strip()
    if state.outcomes:
        return f"{held} {SEALED} What became of the board is noted.".strip()
    if held:
        return f"{held} {SEALED} {NOTE_ANYWAY}"
    is_unreviewed = standing is not None and standing.verdict is None
    return " ".join([SEALED, *([SECOND_PERSON] if is_unreviewed else []), NOTE_OUTCOME])


def standing_words(state: JobState) -> str:
    """Say what stands decided now, and by whom.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    str
        One sentence of visible text.
    """
    standing = standing_of(state)
    if standing is None:
        why = undecided_words(state)
        return f"nothing stands decided now: {why}. Decide with `dotward job decide`"
    how = "decided" if standing.verdict is None else f"{standing.verdict} in review"
    more = ", not reviewed yet" if standing.verdict is None else ""
    word = DECISION_WORDS[standing.decision]
    return f"what stands now: “{word}”, {how} by {visible(standing.by)}{more}"


def power_lines(state: JobState) -> tuple[str, ...]:
    """Warn of the first power where the tool or whoever decided says Stop.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    tuple of str
        Sentences; empty where neither says it, or a reviewer let the board go.
    """
    standing = standing_of(state)
    lets_go = standing is not None and standing.decision == "no-fault-seen"
    if not is_stopped(state) and (lets_go or state.tool_decision != "stop"):
        return ()
    caution = f"Caution: {words.DO_NOT_POWER}"
    return (caution, UNREVIEWED) if lets_go else (caution,)


def may_be_powered(state: JobState) -> bool:
    """Tell whether the first power may be what comes next.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    bool
        True only where the board is let go: by whoever decided or reviewed, else by the
        tool; what nobody could judge, or is to be photographed again, is not.
    """
    standing = standing_of(state)
    said = state.tool_decision if standing is None else standing.decision
    is_let_go = said == "no-fault-seen" and not not_compared_words(state)
    return is_let_go and not is_stopped(state)


def _held_words(state: JobState, standing: Standing) -> str:
    """Say that a board must not be powered, and why; nothing where it may."""
    if standing.decision == "no-fault-seen":
        if is_stopped(state):
            return (
                "Do not power the board until a reviewer has looked: the tool says "
                "Stop, and “No fault seen” was decided against it."
            )
        return ""
    word = DECISION_WORDS[standing.decision]
    if standing.verdict is None:
        return DO_NOT_POWER if standing.decision == "stop" else _not_cleared(word)
    done = "overruled the decision" if standing.verdict == "overruled" else "reviewed"
    by = visible(standing.by)
    return f"Do not power the board: {by} {done}: {word}.{_why(standing)}"


def _not_cleared(word: str) -> str:
    return f"Do not power the board yet: “{word}” was decided, so it is not cleared."


def _why(standing: Standing) -> str:
    reason = visible(" ".join(standing.reason.split()))
    if len(reason) > MAX_REASON_CHARS:
        reason = reason[:MAX_REASON_CHARS].rstrip() + "…"
    stop = "" if reason.endswith((".", "…")) else "."
    return f" Reason: {reason}{stop}" if reason else ""
