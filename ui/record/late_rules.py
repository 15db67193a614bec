"""Rules for what is added from now on.

They came after journals had been written.  A journal that does not keep to them is
as it was written all the same, so `verify` does not hold it against them.
"""

from __future__ import annotations

from functools import singledispatch
from typing import TYPE_CHECKING

from ui.record.events import (
    STAGES_BESIDE,
    Corrected,
    Decided,
    Event,
    PhotoAdded,
    Reviewed,
    Sealed,
    Withdrawn,
)
from ui.record.outvoted import outvoted_stops
from ui.record.rules import not_compared_words, same_person, same_photo_words
from ui.record.standing import standing_of, undecided_words

if TYPE_CHECKING:
    from ui.record.state import JobState


def late_refusal(state: JobState, event: Event) -> str | None:
    """Say why an event may not be added from now on, if it may not.

    Parameters
    ----------
    state : JobState
        The job as it stands.
    event : Event
        What is to be added.

    Returns
    -------
    str or None
        A sentence for the technician, or None where nothing speaks against it.
    """
    return _not_compared(state, event) or _refusal_of(event, state)


def _not_compared(state: JobState, event: Event) -> str | None:
    """Refuse to clear a board whose photos before and after were never compared."""
    missing = not_compared_words(state) if clears(state, event) else ""
    if not missing:
        return None
    return (
        f"{missing}, so nobody has held this chip against how it sat before: "
        "no-fault-seen cannot be said of it. Add what is missing and have it judged, "
        "or say check-by-hand or stop."
    )


def clears(state: JobState, event: Event) -> bool:
    """Tell whether an event lets a board go, or closes a job that does.

    Parameters
    ----------
    state : JobState
        The job as it stands.
    event : Event
        What is to be added.

    Returns
    -------
    bool
    """
    if isinstance(event, Sealed):
        standing = standing_of(state)
        return standing is not None and standing.decision == "no-fault-seen"
    return isinstance(event, Decided | Reviewed) and event.decision == "no-fault-seen"


@singledispatch
def _refusal_of(event: Event, state: JobState) -> str | None:
    del event, state
    return None


@_refusal_of.register(PhotoAdded)
def _(event: PhotoAdded, state: JobState) -> str | None:
    """Replace no photo by itself: what was set right in it would be lost.

    One from the side may be given again, for another row or after rework.
    """
    old = next((n for n in state.photos if n.seq == event.replaces), None)
    if old is None or event.stage == "side" or old.event.sha256 != event.sha256:
        return None
    return same_photo_words(old, is_at_its_stage=True)


@_refusal_of.register(Corrected)
def _(event: Corrected, state: JobState) -> str | None:
    photo = next((n.event for n in state.photos if n.seq == event.photo), None)
    if photo is None or photo.stage not in STAGES_BESIDE:
        return None
    return (
        f"what is set right in a {photo.stage} photo has no effect. Correct the before "
        "or after photo: lands and rows follow it."
    )


@_refusal_of.register(Decided)
def _(event: Decided, state: JobState) -> str | None:
    if event.tool_decision != state.tool_decision:
        return (
            f"the tool now says {state.tool_decision}, not {event.tool_decision}. "
            "Look at the newest answer and decide again."
        )
    stops = outvoted_stops(state)
    if event.decision != "no-fault-seen" or event.reason.strip() or not stops:
        return None
    last = stops[-1]
    return (
        f"an earlier {last.event.stage} photo (event {last.seq}) was judged stop; "
        "deciding no-fault-seen after it needs a reason. Say what was mended, or why "
        "that photo was wrong."
    )


@_refusal_of.register(Reviewed)
@_refusal_of.register(Sealed)
def _(event: Reviewed | Sealed, state: JobState) -> str | None:
    if state.decision is not None:
        return None
    then = "seal" if isinstance(event, Sealed) else "review"
    return f"{undecided_words(state)}. Decide first, then {then}."


@_refusal_of.register(Withdrawn)
def _(event: Withdrawn, state: JobState) -> str | None:
    noted = next((n for n in state.history if n.seq == event.event), None)
    if noted is None or not isinstance(noted.event, Reviewed):
        return None
    review = noted.event
    if not same_person(event.by, review.by):
        return (
            f"event {noted.seq} is the review of {review.by}; nobody else can take it "
            f"back. Ask {review.by}, or name the event that you mean."
        )
    if review.verdict == "overruled" and not event.reason.strip():
        return "taking back an overruling needs a reason. Say what you saw."
    return None
