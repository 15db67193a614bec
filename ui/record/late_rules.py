"""Rules for what is added from now on.

They came after journals had been written.  A journal that does not keep to them is
as it was written all the same, so `verify` does not hold it against them.
"""

from __future__ import annotations

from functools import singledispatch
from typing import TYPE_CHECKING

from ui.record.events import Decided, Event, Reviewed, Withdrawn
from ui.record.outvoted import outvoted_stops
from ui.record.rules import same_person

if TYPE_CHECKING:
    from ui.record.state import JobState


@singledispatch
def late_refusal(event: Event, state: JobState) -> str | None:
    """Say why an event may not be added from now on, if it may not.

    Parameters
    ----------
    event : Event
        What is to be added.
    state : JobState
        The job as it stands.

    Returns
    -------
    str or None
        A sentence for the technician, or None where nothing speaks against it.
    """
    del event, state
    return None


@late_refusal.register(Decided)
def _(event: Decided, state: JobState) -> str | None:
    stops = outvoted_stops(state)
    if event.decision != "no-fault-seen" or event.reason.strip() or not stops:
        return None
    last = stops[-1]
    return (
        f"an earlier {last.event.stage} photo (event {last.seq}) was judged stop; "
        "deciding no-fault-seen after it needs a reason. Say what was mended, or why "
        "that photo was wrong."
    )


@late_refusal.register(Withdrawn)
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
