"""The steps of a job as plain functions; page and command line both call these."""

from __future__ import annotations

import contextlib
import re
import secrets
from typing import TYPE_CHECKING

from ui.record.changes import announce_change
from ui.record.claims import read_claims
from ui.record.events import KINDS, Opened, PhotoAdded, Reviewed, Sealed, data_of
from ui.record.files import PART_PREFIX, sync_folder, told_as_record_error
from ui.record.journal import Head, Journal, head_problems, read_head, read_journal
from ui.record.late_rules import clears, late_refusal
from ui.record.limits import refuse_other_limits
from ui.record.pieces import refuse_changed_photos
from ui.record.rules import nameless, refusal
from ui.record.state import derive_state
from ui.record.store import PHOTO_FOLDER, photo_path, store_photo
from ui.record.writer import open_for_adding, start_journal, utc_now
from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from ui.record.events import Event, Role, Stage
    from ui.record.journal import Entry
    from ui.record.state import JobState

_JOB_NAME = re.compile(r"\d{8}-[a-z2-7]{6}", flags=re.ASCII)
_LETTERS = "abcdefghijklmnopqrstuvwxyz234567"


def is_job_name(name: str) -> bool:
    """Tell whether a text has the form of a job number.

    Parameters
    ----------
    name : str
        Any text.

    Returns
    -------
    bool
        True for a date, a hyphen and six letters or digits.
    """
    return _JOB_NAME.fullmatch(name) is not None


def job_folder(home: Path, job: str) -> Path:
    """Say where a job lies.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    job : str
        Job number.

    Returns
    -------
    Path
        The job folder; it exists.

    Raises
    ------
    RecordError
        The text is no job number, or there is no such job.
    """
    if not is_job_name(job):
        message = (
            f"{job[:80]!r}: not a job number; one looks like 20260131-k7q2mx. "
            "See `dotward job list`."
        )
        raise RecordError(message)
    folder = home / job
    if not folder.is_dir():
        message = f"{job}: no such job in {home}. See `dotward job list`."
        raise RecordError(message)
    return folder


def open_job(
    home: Path, opening: Opened, *, clock: Callable[[], datetime] = utc_now
) -> Path:
    """Open a new job; the folder appears whole or not at all.

    Parameters
    ----------
    home : Path
        The folder of all jobs; made if missing.
    opening : Opened
        What the job is about; its ``job`` comes from ``new_job_name``.
    clock : callable, optional
        Gives the aware time that the event claims.

    Returns
    -------
    Path
        The new job folder.

    Raises
    ------
    RecordError
        The folder cannot be made, or who and what it is about is not said.
    """
    unsaid = nameless(opening)
    if unsaid is not None:
        message = f"no job was opened: {unsaid}"
        raise RecordError(message)
    if not is_job_name(opening.job):
        message = f"{opening.job!r} is not a job number: use new_job_name"
        raise ValueError(message)
    with told_as_record_error(str(home)):
        home.mkdir(parents=True, exist_ok=True)
        hidden = home / f"{PART_PREFIX}{opening.job}-{secrets.token_hex(4)}"
        hidden.mkdir()
        (hidden / PHOTO_FOLDER).mkdir()
        start_journal(hidden, opening.KIND, data_of(opening), clock)
        folder = home / opening.job
        hidden.rename(folder)  # fails if the job exists: it is never empty
        sync_folder(home)
    announce_change(folder)
    return folder


def new_job_name(clock: Callable[[], datetime] = utc_now) -> str:
    """Make up a job number: the day and six random letters or digits.

    Parameters
    ----------
    clock : callable, optional
        Gives the aware time.

    Returns
    -------
    str
        Such as ``20260131-k7q2mx``.
    """
    letters = "".join(secrets.choice(_LETTERS) for _ in range(6))
    return f"{clock():%Y%m%d}-{letters}"


def load_job(folder: Path) -> JobState:
    """Read a job.

    Parameters
    ----------
    folder : Path
        The job folder.

    Returns
    -------
    JobState
        What its events amount to; a cut-off last write is left out.  Events that
        were recorded once and are gone are no such write: then the job is damaged.

    Raises
    ------
    RecordError
        The record is damaged or too new.
    """
    head = read_head(folder)  # first: a writer may add an event meanwhile
    journal = read_journal(folder)
    problems = journal.damage or _lost_end(journal, head)
    if problems:
        message = (
            f"{folder.name}: the record is damaged: {'; '.join(problems)}. Restore the "
            f"folder from a copy; see `dotward job verify {folder.name}`."
        )
        raise RecordError(message)
    return derive_state(journal.entries)


def _lost_end(journal: Journal, head: Head | None) -> tuple[str, ...]:
    """Name what is missing at a journal's end; the opening alone needs no head."""
    if head is None and len(journal.entries) <= 1:
        return ()
    return tuple(head_problems(journal, head, "noted"))


def add_event(
    folder: Path, event: Event, *, clock: Callable[[], datetime] = utc_now
) -> Entry:
    """Add an event to a job if the rules allow it.

    Parameters
    ----------
    folder : Path
        The job folder.
    event : Event
        What happened.
    clock : callable, optional
        Gives the aware time that the event claims.

    Returns
    -------
    Entry
        The event as recorded; it is on the disk.

    Raises
    ------
    RecordError
        Nothing was added, and why.
    """
    if KINDS.get(event.KIND) is not type(event):
        message = f"{type(event).__name__} is not a kind of event"
        raise TypeError(message)
    with open_for_adding(folder, clock=clock) as writer:
        check_rules(folder, derive_state(writer.entries), event)
        return writer.append(event.KIND, data_of(event))


def check_rules(folder: Path, state: JobState, event: Event) -> None:
    """Refuse an event that may not be added to a job now.

    A board is let go only by the limits in force, and, as a decision is accepted or
    sealed, only by photos as they were added.

    Parameters
    ----------
    folder : Path
        The job folder.
    state : JobState
        The job as it stands.
    event : Event
        What is to be added.

    Raises
    ------
    RecordError
        Says why, and what to do instead.
    """
    reason = refusal(state, event) or late_refusal(state, event)
    if reason is not None:
        message = f"{folder.name}: {reason}"
        raise RecordError(message)
    does_clear = clears(state, event)
    if does_clear:
        refuse_other_limits(folder, state)
    is_accepted = isinstance(event, Reviewed) and event.verdict == "accepted"
    if does_clear or is_accepted or isinstance(event, Sealed):
        refuse_changed_photos(folder, state)


def add_photo(  # noqa: PLR0913 - a photo has this many facts
    folder: Path,
    source: Path,
    *,
    stage: Stage,
    by: str,
    role: Role | None = None,
    name: str | None = None,
    replaces: int | None = None,
    leads: tuple[int, ...] = (),
    clock: Callable[[], datetime] = utc_now,
) -> Entry:
    """Store a photo and record that it was added.

    Parameters
    ----------
    folder : Path
        The job folder.
    source : Path
        The untouched file.
    stage : str
        Stage of the work it shows.
    by : str
        Who adds it.
    role : str, optional
        Which board it shows; if not given, ``JobState.usual_role``.
    name : str, optional
        File name it came under; taken from ``source`` if not given.
    replaces : int, optional
        Event of the photo it stands for from now on.
    leads : tuple of int, optional
        First and last lead of the row that a side photo shows, where that is known.
        A photo that is there already without a row is replaced by itself with one.
    clock : callable, optional
        Gives the aware time that the event claims.

    Returns
    -------
    Entry
        The event as recorded; photo and event are on the disk.

    Raises
    ------
    PhotoError
        The file is no photo.
    RecordError
        Nothing was recorded, and why.
    """
    with open_for_adding(folder, clock=clock) as writer:
        stored = store_photo(folder, source)
        claims = read_claims(photo_path(folder, stored.sha256, stored.suffix))
        state = derive_state(writer.entries)
        role = role or state.usual_role(stage)
        if leads and replaces is None:
            replaces = _not_named(state, stored.sha256, role)
        event = PhotoAdded(
            stage=stage,
            role=role,
            sha256=stored.sha256,
            suffix=stored.suffix,
            size_bytes=stored.size_bytes,
            name=source.name if name is None else name,
            by=by,
            claims=claims.texts,
            has_place=claims.has_place,
            replaces=replaces,
            leads=leads,
        )
        try:
            check_rules(folder, state, event)
            return writer.append(event.KIND, data_of(event))
        except RecordError:
            _forget_unnamed(folder, state, event)
            raise


def _not_named(state: JobState, sha256: str, role: Role) -> int | None:
    """Find this very photo among those of a row that nobody named."""
    for noted in state.side_photos(role):
        if noted.event.sha256 == sha256 and not noted.event.leads:
            return noted.seq
    return None


def _forget_unnamed(folder: Path, state: JobState, event: PhotoAdded) -> None:
    """Remove a photo that was stored for an event that did not come about."""
    named = {
        noted.event.sha256
        for noted in state.history
        if isinstance(noted.event, PhotoAdded)
    }
    if event.sha256 not in named:
        with contextlib.suppress(OSError):
            photo_path(folder, event.sha256, event.suffix).unlink()
