"""What a job's events amount to.  Pure: the same events give the same state."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, Literal, TypeVar

from ui.record.comparisons import (
    board_of,
    pairs_that_count,
    photos_that_count,
    uncounted_photos,
    uncovered_corrections,
)
from ui.record.events import (
    STAGES_BESIDE,
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
    event_of,
)
from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ui.record.events import Decision, Role, Stage
    from ui.record.journal import Entry

_GRAVITY: dict[Decision, int] = {
    "no-fault-seen": 0,
    "check-by-hand": 1,
    "retake": 1,
    "stop": 2,
}
Step = Literal["open", "photos", "checked", "decided", "sealed"]
E_co = TypeVar("E_co", bound=Event, covariant=True)
F = TypeVar("F", bound=Event)


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted(Generic[E_co]):
    """An event with its place in the journal; ``at`` is the clock's claim."""

    seq: int
    at: str
    event: E_co


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """Everything that follows from a job's events, oldest first in each tuple.

    ``photos``, ``corrections`` and ``reviews`` hold what counts now; ``history``
    holds everything.  ``decision`` is None as soon as a photo, an answer or a
    correction came after it: it did not know of that.  It is None, too, where a newer
    one was taken back (``is_taken_back``): the older does not come back by itself.
    ``answer_pair`` is the newest comparison of the photos that count now.
    """

    job: str
    opened: Opened
    history: tuple[Noted[Event], ...]
    photos: tuple[Noted[PhotoAdded], ...]
    answers: tuple[Noted[Checked], ...]
    answer_pairs: tuple[Noted[Checked], ...]
    corrections: tuple[Noted[Corrected], ...]
    decision: Noted[Decided] | None
    earlier_decision: Noted[Decided] | None
    is_taken_back: bool
    reviews: tuple[Noted[Reviewed], ...]
    seals: tuple[Noted[Sealed], ...]
    outcomes: tuple[Noted[Outcome], ...]
    set_aside: tuple[Noted[SetAside], ...]
    head: str

    @property
    def step(self) -> Step:
        """How far the job has come."""
        if self.seals:
            return "sealed"
        if self.decision:
            return "decided"
        if self.answers:
            return "checked"
        return "photos" if self.photos else "open"

    @property
    def count(self) -> int:
        """Number of events."""
        return len(self.history)

    @property
    def tool_decision(self) -> Decision:
        """What the tool says now; never ``no-fault-seen`` without its own word."""
        if self._has_fault_beside():
            return "stop"
        said = [self._said(pair) for pair in self.answer_pairs]
        said += ["check-by-hand"] * len(self.not_compared)
        return max(said, key=_GRAVITY.__getitem__, default="check-by-hand")

    @property
    def not_compared(self) -> set[Role]:
        """Boards whose photo after reflow stands in no comparison that counts."""
        compared = {board_of(self.photos, pair.event) for pair in self.answer_pairs}
        return {
            n.event.role for n in self.photos if n.event.stage == "after"
        } - compared

    @property
    def answer_pair(self) -> Noted[Checked] | None:
        """The comparison that counts; of two boards the graver, else the newer."""
        newest_first = sorted(self.answer_pairs, key=lambda pair: -pair.seq)
        said = [_GRAVITY[self._said(pair)] for pair in newest_first]
        return newest_first[said.index(max(said))] if said else None

    def _said(self, pair: Noted[Checked]) -> Decision:
        """Give what a comparison says of what counts now."""
        said = pair.event.answer.get("decision")
        counted = {noted.seq for noted in self.corrections}
        gone = set(pair.event.corrections) - counted
        late = uncovered_corrections(self, pair.event)
        unseen = uncounted_photos(self, pair.event)
        if (late or gone or unseen) and said == "no-fault-seen":
            return "check-by-hand"
        if said in ("no-fault-seen", "stop", "retake"):
            decision: Decision = said
            return decision
        return "check-by-hand"

    def photo(
        self,
        stage: Stage,
        role: Role | None = None,
        *,
        leads: tuple[int, ...] | None = None,
    ) -> Noted[PhotoAdded] | None:
        """Give the newest photo that counts for a stage.

        Parameters
        ----------
        stage : str
            Stage of the work.
        role : str, optional
            Which board it shows; if not given, ``usual_role``.
        leads : tuple of int, optional
            Which row of leads it shows, empty for one not named; any if not given.

        Returns
        -------
        Noted or None
            None where there is no such photo.
        """
        role = role or self.usual_role(stage)
        for noted in reversed(self.photos):
            event = noted.event
            is_row = leads is None or event.leads == leads
            if event.stage == stage and event.role == role and is_row:
                return noted
        return None

    def side_photos(self, role: Role | None = None) -> tuple[Noted[PhotoAdded], ...]:
        """Give all photos from the side that count, of every row.

        Parameters
        ----------
        role : str, optional
            Which board they show; if not given, ``usual_role``.

        Returns
        -------
        tuple of Noted
            Oldest first.
        """
        role = role or self.usual_role("side")
        return tuple(
            noted
            for noted in self.photos
            if noted.event.stage == "side" and noted.event.role == role
        )

    @property
    def has_donor(self) -> bool:
        """Whether another board than the patient is named, or shown in a photo."""
        is_shown = any(noted.event.role == "donor" for noted in self.photos)
        return is_shown or bool(self.opened.donor.strip())

    def usual_role(self, stage: Stage) -> Role:
        """Give the board that a photo shows where nobody says which.

        The chip is lifted from the patient; where a donor is named, it gets the chip.
        """
        if stage == "before" or not self.has_donor:
            return "patient"
        later = [n.event for n in self.photos if n.event.stage != "before"]
        stays = any(event.role == "patient" for event in later)  # as jobs once were
        return "patient" if stays else "donor"

    def _has_fault_beside(self) -> bool:
        """Tell whether lands or a row that count are a fault by their newest answer."""
        said = {
            noted.event.photos[0]: noted.event.answer.get("state")
            for noted in self.answers
            if len(noted.event.photos) == 1
        }
        beside = [n.seq for n in self.photos if n.event.stage in STAGES_BESIDE]
        return "fault" in map(said.get, photos_that_count(self.photos) & {*beside})


def derive_state(entries: Iterable[Entry]) -> JobState:
    """Work out the state of a job from its journal.

    Parameters
    ----------
    entries : iterable of Entry
        Whole entries in their order.

    Returns
    -------
    JobState
        Times play no part in it.

    Raises
    ------
    RecordError
        An event is unknown or does not fit, or the first is not an opening.
    """
    listed = tuple(entries)
    return state_of(read_events(listed), listed[-1].hash if listed else "")


def read_events(entries: Iterable[Entry]) -> tuple[Noted[Event], ...]:
    """Read the events of journal entries.

    Parameters
    ----------
    entries : iterable of Entry
        Whole entries in their order.

    Returns
    -------
    tuple of Noted
        One event an entry.

    Raises
    ------
    RecordError
        An event is unknown or does not fit.
    """
    return tuple(
        Noted(seq=entry.seq, at=entry.at, event=event_of(entry.kind, entry.data))
        for entry in entries
    )


def state_of(history: tuple[Noted[Event], ...], head: str) -> JobState:
    """Work out the state of a job from its events; see ``derive_state``.

    Parameters
    ----------
    history : tuple of Noted
        All events in their order.
    head : str
        Hash of the newest entry.

    Returns
    -------
    JobState
        Times play no part in it.

    Raises
    ------
    RecordError
        The first event is not an opening.
    """
    if not history or not isinstance(history[0].event, Opened):
        message = (
            "the journal does not begin with the opening of a job. Restore the "
            "folder from a copy."
        )
        raise RecordError(message)
    opened = history[0].event
    withdrawn = {noted.event.event for noted in _of(history, Withdrawn)}
    kept = tuple(noted for noted in history if noted.seq not in withdrawn)
    all_photos = _of(history, PhotoAdded)
    replaced = {noted.event.replaces for noted in all_photos}
    photos = tuple(noted for noted in all_photos if noted.seq not in replaced)
    answers = _of(history, Checked)
    decided = _of(kept, Decided)
    decision = decided[-1] if decided else None
    is_old = decision is not None and decision.seq < _last_fact(history)
    newer = decision is not None and _of(history, Decided)[-1].seq > decision.seq
    stale = is_old or newer
    return JobState(
        job=opened.job,
        opened=opened,
        history=history,
        photos=photos,
        answers=answers,
        answer_pairs=pairs_that_count(photos, answers),
        corrections=_of(kept, Corrected),
        decision=None if stale else decision,
        earlier_decision=decision if stale else None,
        is_taken_back=newer and not is_old,
        reviews=tuple(
            noted
            for noted in _of(kept, Reviewed)
            if decision and not stale and noted.event.decided == decision.seq
        ),
        seals=_of(history, Sealed),
        outcomes=_of(history, Outcome),
        set_aside=_of(history, SetAside),
        head=head,
    )


def _of(history: Iterable[Noted[Event]], kind: type[F]) -> tuple[Noted[F], ...]:
    return tuple(
        Noted(seq=noted.seq, at=noted.at, event=noted.event)
        for noted in history
        if isinstance(noted.event, kind)
    )


def _last_fact(history: Iterable[Noted[Event]]) -> int:
    """Seq of the newest event that a decision must have known of."""
    last = 0
    kinds = {noted.seq: noted.event.KIND for noted in history}
    for noted in history:
        event = noted.event
        if isinstance(event, PhotoAdded | Checked | Corrected) or (
            isinstance(event, Withdrawn) and kinds.get(event.event) == Corrected.KIND
        ):
            last = noted.seq
    return last
