"""Which event may follow in a job; each refusal says what to do instead."""

from __future__ import annotations

import unicodedata
from functools import singledispatch
from typing import TYPE_CHECKING

from ui.record.comparisons import uncounted_photos, uncovered_corrections
from ui.record.events import (
    Checked,
    Corrected,
    Decided,
    Event,
    Opened,
    Outcome,
    PhotoAdded,
    Reviewed,
    Sealed,
    SetAside,
    Withdrawn,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ui.record.state import JobState, Noted

_MUST_BE_SAID = {
    "by": "the name of who does this",
    "technician": "the name of who opens the job",
    "part": "the chip's name",
    "patient": "the failed board's name",
}
_AFTER_SEAL = (Reviewed, Outcome, SetAside)
_CAN_BE_WITHDRAWN = (Corrected, Decided, Reviewed)


def refusal(state: JobState, event: Event) -> str | None:
    """Say why an event may not be added to a job, if it may not.

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
    if state.seals and not _may_follow_seal(state, event):
        return (
            f"sealed at event {state.seals[-1].seq}: only reviews and outcomes can "
            "follow. Open a new job that names this one."
        )
    return nameless(event) or _refusal_of(event, state)


def nameless(event: Event) -> str | None:
    """Refuse an event that does not say who or what it is about.

    Parameters
    ----------
    event : Event
        What is to be added.

    Returns
    -------
    str or None
        A sentence for the technician, or None where all is said.
    """
    for field, what in _MUST_BE_SAID.items():
        if not str(getattr(event, field, what)).strip():
            return f"{what} is empty, and a record cannot do without. Give it."
    return None


@singledispatch
def _refusal_of(event: Event, state: JobState) -> str | None:
    del event, state
    return None


@_refusal_of.register(Opened)
def _(event: Opened, state: JobState) -> str | None:
    del event
    return f"already opened as {state.job}. Use a new folder for a new job."


@_refusal_of.register(PhotoAdded)
def _(event: PhotoAdded, state: JobState) -> str | None:
    if event.leads and event.stage != "side":
        return (
            f"leads name the row in a photo from the side; this one shows the stage "
            f"{event.stage}. Leave them out."
        )
    if event.leads and not (
        len(event.leads) == 2 and 1 <= event.leads[0] < event.leads[1]
    ):
        return (
            "a row is named by its first and its last lead, such as 1-4. Name it so, "
            "or leave it out."
        )
    current = {
        noted.seq
        for noted in state.photos
        if (noted.event.stage, noted.event.role) == (event.stage, event.role)
    }
    if event.replaces is not None and event.replaces not in current:
        return (
            f"event {event.replaces} is not a photo of the same stage and board that "
            f"counts now; {_choice(current, 'there is none to replace')}."
        )
    for noted in state.photos:
        if noted.event.sha256 == event.sha256 and noted.seq != event.replaces:
            if noted.seq in current and noted.event.leads and event.leads:
                first, last = noted.event.leads
                return (
                    f"this very file is already the side photo of event {noted.seq}, "
                    f"which shows leads {first}-{last}; to name another row add "
                    f"--replaces {noted.seq}."
                )
            return same_photo_words(noted, is_at_its_stage=noted.seq in current)
    return None


@_refusal_of.register(Checked)
def _(event: Checked, state: JobState) -> str | None:
    return _unknown_photos(state, event.photos)


@_refusal_of.register(Corrected)
def _(event: Corrected, state: JobState) -> str | None:
    return _unknown_photos(state, (event.photo,))


@_refusal_of.register(Decided)
def _(event: Decided, state: JobState) -> str | None:
    if not state.photos:
        return "no photo has been added, so there is nothing to decide. Add photos."
    if event.decision != "no-fault-seen" or event.reason.strip():
        return None
    is_tools_word = event.tool_decision == "no-fault-seen"
    if is_tools_word and _has_cleared(state):
        return None
    said = state.tool_decision if is_tools_word else event.tool_decision
    return (
        f"the tool says {said}{_because(state)}; deciding "
        "no-fault-seen against it needs a reason. Say what you saw."
    )


@_refusal_of.register(Reviewed)
def _(event: Reviewed, state: JobState) -> str | None:
    decided = _decision_once(state)
    if decided is None or decided.seq != event.decided:
        return "there is no such decision to review now. Decide first, then review."
    if same_person(event.by, decided.event.by):
        return (
            f"{event.by} decided it, and a review is a second pair of eyes. Let "
            "someone else review."
        )
    standing = state.reviews[-1] if state.reviews else None
    if standing is not None and _says_the_same(standing.event, event):
        return (
            f"{event.by} has said so already (event {standing.seq}). Nothing more is "
            "needed."
        )
    same = event.decision == decided.event.decision
    if event.verdict == "accepted" and not same:
        return "an accepted decision stays as it is. Overrule it to change it."
    if event.verdict == "overruled" and not event.reason.strip():
        return "overruling a decision needs a reason. Say what you saw."
    return None


@_refusal_of.register(Withdrawn)
def _(event: Withdrawn, state: JobState) -> str | None:
    standing = standing_events(state)
    if event.event in standing:
        return None
    return (
        f"event {event.event} is not a correction, decision or review that stands; "
        f"{_choice(standing, 'none does, so there is nothing to take back')}."
    )


@_refusal_of.register(Sealed)
def _(event: Sealed, state: JobState) -> str | None:
    if _decision_once(state) is None:
        old = state.earlier_decision
        if old is not None:
            return (
                f"the decision at event {old.seq} is older than the newest photo, "
                "answer or correction. Decide again, then seal."
            )
        return "nothing has been decided. Decide first, then seal."
    if (event.count, event.head) != (state.count, state.head):
        return "something was added while the report was made. Seal again."
    return None


def standing_events(state: JobState) -> set[int]:
    """Give the ``seq`` of what may be taken back.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    set of int
        Corrections, decisions and reviews that nobody has taken back.
    """
    known = {
        noted.seq
        for noted in state.history
        if isinstance(noted.event, _CAN_BE_WITHDRAWN)
    }
    gone = {
        noted.event.event
        for noted in state.history
        if isinstance(noted.event, Withdrawn)
    }
    return known - gone


def not_compared_words(state: JobState) -> str:
    """Say what keeps the chip from having been compared with how it sat before.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    str
        The start of a sentence; empty where photos before and after were compared.
    """
    stages = {noted.event.stage for noted in state.photos}
    words = {"before": "before lifting", "after": "after reflow"}
    absent = [f"no photo {words[stage]}" for stage in words if stage not in stages]
    if absent:
        return f"there is {' and '.join(absent)}"
    if state.not_compared or not state.answer_pairs:
        boards = " and the ".join(sorted(state.not_compared)) or "board"
        return f"the photos of the {boards} were not compared"
    unread = [pair.seq for pair in state.answer_pairs if "error" in pair.event.answer]
    if unread:
        return f"the comparison at event {unread[0]} could not use the photos"
    return ""


def same_photo_words(noted: Noted[PhotoAdded], *, is_at_its_stage: bool) -> str:
    """Say that a photo is there already.

    Parameters
    ----------
    noted : Noted
        The photo that counts.
    is_at_its_stage : bool
        Whether it was given for its own stage and board once more.

    Returns
    -------
    str
        A sentence and what to do.
    """
    what = (
        f"this very file is already the {noted.event.stage} photo (event {noted.seq})"
    )
    if is_at_its_stage:
        return f"{what}; nothing was added. If a newer photo is meant, choose that one."
    return f"{what}: two stages cannot share one photo. Choose the right file."


def same_person(one: str, other: str) -> bool:
    """Tell whether two names are typed alike, but for capitals and spaces.

    Parameters
    ----------
    one, other : str
        Names as given.

    Returns
    -------
    bool
        False for different names, even where they mean one person.
    """
    folded = [
        " ".join(unicodedata.normalize("NFKC", name).casefold().split())
        for name in (one, other)
    ]
    return folded[0] == folded[1]


def _has_cleared(state: JobState) -> bool:
    """Tell whether any answer says no-fault-seen: the tool's word for it came so."""
    return any(
        noted.event.answer.get("decision") == "no-fault-seen" for noted in state.answers
    )


def _decision_once(state: JobState) -> Noted[Decided] | None:
    """Give what stood by the older rule: one that a newer withdrawn one let stand."""
    return state.earlier_decision if state.is_taken_back else state.decision


def _says_the_same(standing: Reviewed, event: Reviewed) -> bool:
    return (
        same_person(standing.by, event.by)
        and standing.verdict == event.verdict
        and standing.decision == event.decision
    )


def _may_follow_seal(state: JobState, event: Event) -> bool:
    if isinstance(event, Withdrawn):
        return any(
            noted.seq == event.event and isinstance(noted.event, Reviewed)
            for noted in state.history
        )
    return isinstance(event, _AFTER_SEAL)


def _unknown_photos(state: JobState, photos: tuple[int, ...]) -> str | None:
    known = {
        noted.seq for noted in state.history if isinstance(noted.event, PhotoAdded)
    }
    unknown = sorted(set(photos) - known)
    if not photos or unknown:
        return f"{_listed(unknown)} named as photo events; there are {_listed(known)}."
    return None


def _because(state: JobState) -> str:
    pair = state.answer_pair
    if pair is None:
        return " because the photos that count now were never compared"
    waiting = uncovered_corrections(state, pair.event)
    if waiting:
        late = waiting[0].seq
        return f" because the correction at event {late} came after its answer"
    for noted in uncounted_photos(state, pair.event):
        stage = noted.event.stage
        return f" because it has not counted the {stage} photo of event {noted.seq}"
    return ""


def _choice(numbers: Iterable[int], without: str) -> str:
    """Say which events may be named, or that there are none."""
    known = tuple(numbers)
    return f"name one of these: {_listed(known)}" if known else without


def _listed(numbers: Iterable[int]) -> str:
    text = ", ".join(str(number) for number in sorted(numbers))
    return text or "none"
