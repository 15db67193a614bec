"""What speaks against an answer that stands in the record: it no longer fits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ui.pair_words import DECISION_STATE, DECISION_WORDS
from ui.record import uncovered_corrections
from ui.record.checking import is_as_another, unanswered
from ui.record.comparisons import uncounted_photos
from ui.record.limits import is_by_other_limits
from ui.record.standing import standing_of

if TYPE_CHECKING:
    from ui.record import Checked, JobState
    from ui.record.events import Decision
    from vision.results import State

Limits = dict[str, str] | None
AGAIN = ": judge again"
PHOTOS = "Older than the photos"
BY_HAND = "Older than what was set right by hand"
AS_ANOTHER = "Judged as another package than is seen now"
LIMITS = "Judged by earlier limits"


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Why an answer does not stand as it was given, and the state to show instead.

    ``is_old`` tells an answer that was overtaken from one that something else in the
    job outweighs.
    """

    words: str
    state: State
    is_old: bool


def photo_doubt(state: JobState, photo: int) -> Doubt | None:
    """Say why the answer about one photo does not stand, if it does not.

    Parameters
    ----------
    state : JobState
        The job.
    photo : int
        Event of a photo that was judged.

    Returns
    -------
    Doubt or None
        None where nothing speaks against it.
    """
    waiting = [tuple(p.seq for p in photos) for photos in unanswered(state)]
    if (photo,) not in waiting:
        return None
    answers = [n.event for n in state.answers if n.event.photos == (photo,)]
    as_another = bool(answers) and is_as_another(state, answers[-1])
    return _old(state, AS_ANOTHER if as_another else BY_HAND)


def is_to_compare(state: JobState, photo: int) -> bool:
    """Tell whether a comparison with a photo waits to be made.

    Parameters
    ----------
    state : JobState
        The job.
    photo : int
        Event of a photo.

    Returns
    -------
    bool
    """
    pairs = [photos for photos in unanswered(state) if len(photos) > 1]
    return any(photo in (p.seq for p in photos[:2]) for photos in pairs)


def pair_doubt(state: JobState, checked: Checked, limits: Limits) -> Doubt | None:
    """Say why a comparison does not stand, if it does not.

    Parameters
    ----------
    state : JobState
        The job.
    checked : Checked
        A comparison of that job.
    limits : dict or None
        From ``ui.record.limits``; None if not asked about.

    Returns
    -------
    Doubt or None
        None where nothing speaks against it.
    """
    gone = set(checked.corrections) - {noted.seq for noted in state.corrections}
    if uncounted_photos(state, checked):
        return _old(state, PHOTOS)
    if gone or uncovered_corrections(state, checked):
        return _old(state, BY_HAND)
    if is_earlier(state, checked, limits):
        return _old(state, LIMITS)
    clears = checked.answer.get("decision") == "no-fault-seen"
    return _against(state) if clears else None


def is_earlier(state: JobState, checked: Checked, limits: Limits) -> bool:
    """Tell whether a comparison was judged by limits that have changed since.

    Parameters
    ----------
    state : JobState
        The job; what is sealed stays as it was judged.
    checked : Checked
        A comparison of that job.
    limits : dict or None
        From ``ui.record.limits``; None if not asked about.

    Returns
    -------
    bool
    """
    if limits is None or state.step == "sealed":
        return False
    return is_by_other_limits(checked, limits)


def _against(state: JobState) -> Doubt | None:
    """Say what else in the job keeps a comparison from clearing the board."""
    if state.tool_decision != "no-fault-seen":
        return _outweighed("The answer for the whole job is “{}”", state.tool_decision)
    standing = standing_of(state)
    if standing is None or standing.decision == "no-fault-seen":
        return None
    did = "Overruled" if standing.verdict == "overruled" else "Decided otherwise"
    return _outweighed(f"{did}: “{{}}” holds", standing.decision)


def _outweighed(words: str, decision: Decision) -> Doubt:
    told = words.format(DECISION_WORDS[decision])
    return Doubt(words=told, state=DECISION_STATE[decision], is_old=False)


def _old(state: JobState, why: str) -> Doubt:
    words = why if state.step == "sealed" else f"{why}{AGAIN}"
    return Doubt(words=words, state="unsure", is_old=True)
