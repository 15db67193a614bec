"""Has the tool judge a job's photos and records what it answered.

The judging itself comes in as a ``Checker``; nothing else here knows of vision.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from ui.record.comparisons import is_pair_answer
from ui.record.events import ROLES, STAGES, STAGES_BESIDE, Checked
from ui.record.jobs import add_event, load_job
from ui.record.limits import is_by_other_limits
from ui.record.pieces import refuse_changed_photos
from ui.record.store import PHOTO_FOLDER, file_sha256, photo_path
from ui.record.writer import utc_now
from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from ui.record.events import Corrected, PhotoAdded, Stage
    from ui.record.journal import Entry
    from ui.record.state import JobState, Noted

    Answer = dict[str, Any]
    Photo = Noted[PhotoAdded]
    ByHand = tuple[Corrected, ...]
    Rows = tuple[tuple[Path, tuple[int, ...]], ...]


OLDER = (
    "it came before the photo after reflow, so it may show joints as they were. Add a "
    "new one, or this one again if it shows them as they are now"
)


LIKE = "like"
"""What an answer about lands or a row calls the package that they were judged as."""


class Look(Protocol):
    """Judges one photo; what was set right by hand is taken as it stands.

    ``like`` names the package that was on the place before, where that is known;
    ``leads`` the row that a photo from the side shows, empty where it has no name.
    """

    def __call__(
        self,
        path: Path,
        *,
        stage: Stage,
        by_hand: ByHand,
        like: str | None,
        leads: tuple[int, ...],
    ) -> Answer:
        """Answer as ``dotward look`` does."""
        ...


class Compare(Protocol):
    """Judges two photos; ``by_hand`` is for the first and for the second.

    ``lands`` shows the bare lands between the two, where there is such a photo;
    ``side`` holds photos of rows of feet after reflow, each with its ``leads``.
    """

    def __call__(
        self,
        before: Path,
        after: Path,
        *,
        by_hand: tuple[ByHand, ByHand],
        lands: Path | None,
        side: Rows,
    ) -> Answer:
        """Answer as ``dotward compare`` does."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Checker:
    """What judges photos: two functions that give answers as JSON objects.

    ``look`` and ``compare`` never raise for an unusable photo; they answer with
    ``error``.  ``made_with`` holds the SHA-256 of models and limits by name.
    """

    look: Look
    compare: Compare
    tool_version: str
    made_with: dict[str, str]


def check_job(
    folder: Path,
    checker: Checker,
    *,
    by_limits: bool = False,
    clock: Callable[[], datetime] = utc_now,
) -> tuple[Entry, ...]:
    """Judge every photo and pair that counts and has no answer yet.

    An answer that does not rest on the hand corrections that count now is none, nor is
    one about lands or a row that was judged as those of another package.

    Parameters
    ----------
    folder : Path
        The job folder.
    checker : Checker
        What judges.
    by_limits : bool, optional
        A comparison by other limits than the checker's is no answer, either.
    clock : callable, optional
        Gives the aware time that the events claim.

    Returns
    -------
    tuple of Entry
        The answers that were recorded, each on the disk; empty if all were there.

    Raises
    ------
    RecordError
        A photo is missing or was changed, or an answer is about another photo.
    """
    state = load_job(folder)
    refuse_changed_photos(folder, state)
    added: list[Entry] = []
    limits = checker.made_with if by_limits else None
    # One at a time: what one answer says of the package, another rests on.
    while photos := _next_unanswered(state, limits, added):
        by_hand = [corrections_of(state, photo.seq) for photo in photos]
        like = package_before(state, photos[0])
        rests_on = _corrections_below(state, photos)
        answer = _ask(folder, checker, photos, by_hand, like)
        event = Checked(
            photos=tuple(photo.seq for photo in photos),
            answer=answer,
            tool_version=checker.tool_version,
            made_with=checker.made_with,
            corrections=tuple(fix.seq for fix in rests_on),
        )
        added.append(add_event(folder, event, clock=clock))
        state = load_job(folder)
    return tuple(added)


def _next_unanswered(
    state: JobState, limits: dict[str, str] | None, added: list[Entry]
) -> tuple[Photo, ...] | None:
    """Give what waits for an answer and was not asked about just now."""
    asked = [entry.data["photos"] for entry in added]
    waiting = unanswered(state, limits=limits)
    return next((w for w in waiting if [p.seq for p in w] not in asked), None)


def unanswered(
    state: JobState, *, limits: dict[str, str] | None = None
) -> list[tuple[Photo, ...]]:
    """Name the photos and pairs that wait for an answer of the tool.

    Parameters
    ----------
    state : JobState
        The job.
    limits : dict, optional
        The SHA-256 of the limits in force by name; what was compared by others waits,
        too.

    Returns
    -------
    list of tuple of Noted
        Single photos first, in the order of the work, then pairs: before (of the
        patient where the board itself was not photographed), after, the bare lands
        where there is a photo of them, then all rows from the side.
    """
    newest = {
        (noted.event.photos, is_pair_answer(noted.event)): noted.event
        for noted in state.answers
    }
    rests_on = {
        about: set(answer.corrections)
        for about, answer in newest.items()
        if (limits is None or not is_by_other_limits(answer, limits))
        and not is_as_another(state, answer)
    }
    in_order = sorted(state.photos, key=lambda noted: STAGES.index(noted.event.stage))
    wanted: list[tuple[Photo, ...]] = [(photo,) for photo in in_order]
    for role in ROLES:
        before = state.photo("before", role) or state.photo("before", "patient")
        after, lands = state.photo("after", role), state.photo("lands", role)
        if before is not None and after is not None:
            bare = [lands] if lands is not None else []
            wanted.append((before, after, *bare, *state.side_photos(role)))
    return [
        photos
        for photos in wanted
        if rests_on.get((tuple(p.seq for p in photos), len(photos) > 1))
        != {fix.seq for fix in _corrections_below(state, photos)}
    ]


def is_as_another(state: JobState, checked: Checked) -> bool:
    """Tell whether lands or a row were judged as those of another package than now.

    Parameters
    ----------
    state : JobState
        The job.
    checked : Checked
        An answer.

    Returns
    -------
    bool
        False where the answer does not say as what it was judged.
    """
    if LIKE not in checked.answer:
        return False
    about = next((n for n in state.photos if (n.seq,) == checked.photos), None)
    return about is not None and package_before(state, about) != checked.answer[LIKE]


def _corrections_below(
    state: JobState, photos: tuple[Photo, ...]
) -> tuple[Noted[Corrected], ...]:
    """Give the hand corrections that an answer rests on.

    One photo of bare lands or from the side is judged by the package that was seen on
    its board, so that what was set right there counts, too.
    """
    seqs = {photo.seq for photo in photos}
    if len(photos) == 1 and photos[0].event.stage in STAGES_BESIDE:
        seqs |= {shown.seq for shown in _shown_from_above(state, photos[0])}
    return tuple(noted for noted in state.corrections if noted.event.photo in seqs)


def corrections_of(state: JobState, photo: int) -> tuple[Noted[Corrected], ...]:
    """Give the hand corrections of a photo that count.

    Parameters
    ----------
    state : JobState
        The job.
    photo : int
        Event of the photo.

    Returns
    -------
    tuple of Noted
        Oldest first.
    """
    return tuple(noted for noted in state.corrections if noted.event.photo == photo)


def package_before(state: JobState, photo: Photo) -> str | None:
    """Name the package that the tool saw on a board before the chip was lifted.

    For a photo from the side the chip after reflow counts where there is none before.

    Parameters
    ----------
    state : JobState
        The job.
    photo : Noted
        A photo of the same board.

    Returns
    -------
    str or None
        The full name of its size, or family and lead count; None if not known.
    """
    for shown in _shown_from_above(state, photo):
        name = _package_seen(state, shown.seq)
        if name is not None:
            return name
    return None


def _shown_from_above(state: JobState, photo: Photo) -> list[Photo]:
    """Give the photos that say which package lands or a row from the side belong to."""
    role = photo.event.role
    before = state.photo("before", role) or state.photo("before", "patient")
    after = state.photo("after", role) if photo.event.stage == "side" else None
    return [shown for shown in (before, after) if shown is not None]


def _package_seen(state: JobState, photo: int) -> str | None:
    """Name the package of the newest answer about a photo, if it is the one meant."""
    for noted in reversed(state.answers):
        if noted.event.photos == (photo,):
            answer = noted.event.answer
            if answer.get("meant", {}).get("state", "ok") != "ok":
                return None
            chips = answer.get("packages") or [{}]
            count = chips[0].get("lead_count")
            plain = f"{chips[0].get('family')}-{count}" if count else None
            return chips[0].get("variant") or plain
    return None


def _ask(
    folder: Path,
    checker: Checker,
    photos: tuple[Photo, ...],
    by_hand: list[tuple[Noted[Corrected], ...]],
    like: str | None,
) -> Answer:
    paths = [_whole_photo(folder, photo) for photo in photos]
    fixes = [tuple(noted.event for noted in noteds) for noteds in by_hand]
    by_stage = [(photo.event.stage, k) for k, photo in enumerate(photos)]
    if len(paths) > 1:
        lands = [paths[k] for stage, k in by_stage if stage == "lands"]
        rows = [
            (paths[k], () if photos[k].seq < photos[1].seq else photos[k].event.leads)
            for stage, k in by_stage
            if stage == "side"
        ]
        answer = checker.compare(
            paths[0],
            paths[1],
            by_hand=(fixes[0], fixes[1]),
            lands=lands[0] if lands else None,
            side=tuple(rows),
        )
        parts = ["before", "after", *["lands_photo"] * len(lands)]
    else:
        event = photos[0].event
        answer = checker.look(
            paths[0], stage=event.stage, by_hand=fixes[0], like=like, leads=event.leads
        )
        parts = ["photo"]
        if event.stage in STAGES_BESIDE:
            answer = answer | {LIKE: like}
    named = dict(answer)
    for part, photo in zip(parts, photos, strict=False):
        named[part] = _named_in_job(folder, answer.get(part), photo)
    if isinstance(answer.get("side"), list):
        shown = [photo for photo in photos if photo.event.stage == "side"]
        named["side"] = [
            {
                **row,
                "photo": _named_in_job(folder, row.get("photo"), photo),
                **({"note": OLDER} if photo.seq < photos[1].seq else {}),
            }
            for row, photo in zip(answer["side"], shown, strict=True)
        ]
    return named


def _whole_photo(folder: Path, photo: Photo) -> Path:
    path = photo_path(folder, photo.event.sha256, photo.event.suffix)
    if not path.is_file() or file_sha256(path) != photo.event.sha256:
        message = (
            f"{folder.name}: the photo of event {photo.seq} is missing or was "
            f"changed; it cannot be judged. See `dotward job verify {folder.name}`."
        )
        raise RecordError(message)
    return path


def _named_in_job(folder: Path, said: object, photo: Photo) -> Answer:
    """Name the photo by its place in the job, so that no outside path is kept."""
    about = dict(said) if isinstance(said, dict) else {}
    if about.get("sha256", photo.event.sha256) != photo.event.sha256:
        message = (
            f"{folder.name}: the answer is about another photo than event "
            f"{photo.seq}; nothing was added. Check again."
        )
        raise RecordError(message)
    about["file"] = f"{PHOTO_FOLDER}/{photo.event.sha256}{photo.event.suffix}"
    about["sha256"] = photo.event.sha256
    return about
