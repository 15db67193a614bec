"""Adds events to a job: one writer at a time, durable before it returns."""

from __future__ import annotations

import contextlib
import hashlib
import os
from dataclasses import asdict
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from filelock import BaseFileLock, FileLock, Timeout

from ui.record.changes import announce_change
from ui.record.files import (
    sweep_parts,
    sync_folder,
    told_as_record_error,
    write_all,
    write_part,
    write_whole,
)
from ui.record.journal import (
    HEAD_NAME,
    JOURNAL_NAME,
    Entry,
    Head,
    Journal,
    canonical,
    line_of,
    next_entry,
    read_head,
    read_journal,
)
from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

LOCK_NAME = ".lock"
ASIDE_FOLDER = "set-aside"
SET_ASIDE_KIND = "set-aside"
LOCK_WAIT_S = 10.0


def utc_now() -> datetime:
    """Read the system clock.  Its word is a claim; order comes from ``seq``.

    Returns
    -------
    datetime
        Aware, UTC.
    """
    return datetime.now(tz=UTC)


class Writer:
    """A job opened for adding; use it through ``open_for_adding``."""

    def __init__(
        self, folder: Path, journal: Journal, clock: Callable[[], datetime]
    ) -> None:
        self._folder = folder
        self._entries = list(journal.entries)
        self._torn = journal.torn
        self._whole_bytes = journal.whole_bytes
        self._clock = clock
        self._has_failed = False

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Every whole event so far, this writer's own included."""
        return tuple(self._entries)

    def append(self, kind: str, data: dict[str, Any]) -> Entry:
        """Add one event; when this returns it is on the disk.

        Parameters
        ----------
        kind : str
            Event kind.
        data : dict
            Event fields as JSON values.

        Returns
        -------
        Entry
            The event as it stands in the journal.

        Raises
        ------
        RecordError
            Nothing was added, and why.
        """
        with self._adding():
            return self._append_line(kind, data)

    def set_torn_aside(self) -> None:
        """Move the rest of a cut-off write into a file of its own and say so.

        Raises
        ------
        RecordError
            Nothing was added, and why.
        """
        if not self._torn:
            return
        with self._adding():
            torn, digest = self._torn, hashlib.sha256(self._torn).hexdigest()
            aside = self._folder / ASIDE_FOLDER
            aside.mkdir(exist_ok=True)
            sync_folder(self._folder)
            write_whole(aside / f"{digest}.bin", torn)
            _cut(self._folder / JOURNAL_NAME, self._whole_bytes)
            self._torn = b""
            self._append_line(
                SET_ASIDE_KIND,
                {"file_sha256": digest, "size_bytes": len(torn)},
            )

    @contextlib.contextmanager
    def _adding(self) -> Iterator[None]:
        """Announce a change; after one that failed nothing more can be added."""
        if self._has_failed:
            message = "a writer that failed once may not add more: open the job again"
            raise ValueError(message)
        self._has_failed = True
        announce_change(self._folder)
        with told_as_record_error(self._folder.name):
            yield
        self._has_failed = False
        announce_change(self._folder)

    def _append_line(self, kind: str, data: dict[str, Any]) -> Entry:
        last = self._entries[-1]
        at = self._clock().astimezone(UTC).isoformat(timespec="milliseconds")
        entry = next_entry(Head(count=last.seq, hash=last.hash), kind, data, at)
        line = line_of(entry)
        handle = os.open(self._folder / JOURNAL_NAME, os.O_WRONLY | os.O_APPEND)
        try:
            try:
                write_all(handle, line)
                os.fsync(handle)
            except BaseException:
                with contextlib.suppress(OSError):
                    os.ftruncate(handle, self._whole_bytes)
                    os.fsync(handle)
                raise
        finally:
            os.close(handle)
        self._whole_bytes += len(line)
        self._entries.append(entry)
        # The event is safe already; a head that lags behind is noticed, not wrong.
        with contextlib.suppress(OSError):
            save_head(self._folder, entry)
        return entry


@contextlib.contextmanager
def open_for_adding(
    folder: Path, *, clock: Callable[[], datetime] = utc_now
) -> Iterator[Writer]:
    """Lock a job, check its journal, and hand out its only writer.

    What a cut-off write left behind is set aside first, by an event of its own.

    Parameters
    ----------
    folder : Path
        The job folder.
    clock : callable, optional
        Gives the aware time that events claim.

    Yields
    ------
    Writer
        Valid inside the ``with`` block.

    Raises
    ------
    RecordError
        The job is locked too long, damaged, or cannot be written to.
    """
    if not (folder / JOURNAL_NAME).is_file():
        read_journal(folder)  # says so, before a lock file is made
    lock = FileLock(folder / LOCK_NAME, timeout=LOCK_WAIT_S)
    with told_as_record_error(folder.name):
        _take(lock, folder.name)
    try:
        journal = read_journal(folder)
        _refuse_damage(folder, journal)
        with contextlib.suppress(OSError):
            sweep_parts(folder)
        writer = Writer(folder, journal, clock)
        writer.set_torn_aside()  # before anyone reads what stands in the job
        yield writer
    finally:
        lock.release()


def start_journal(
    folder: Path, kind: str, data: dict[str, Any], clock: Callable[[], datetime]
) -> Entry:
    """Write the first event of a job that nobody else can see yet.

    Parameters
    ----------
    folder : Path
        A new, empty folder.
    kind : str
        Kind of the first event.
    data : dict
        Its fields.
    clock : callable
        Gives the aware time.

    Returns
    -------
    Entry
        Event 1.
    """
    at = clock().astimezone(UTC).isoformat(timespec="milliseconds")
    entry = next_entry(Head(count=0, hash="0" * 64), kind, data, at)
    part = write_part(folder, (line_of(entry),))
    part.rename(folder / JOURNAL_NAME)
    save_head(folder, entry)
    return entry


def save_head(folder: Path, entry: Entry) -> None:
    """Note the newest event beside the journal, so that a lost end is noticed.

    Parameters
    ----------
    folder : Path
        The job folder.
    entry : Entry
        The newest entry.
    """
    head = Head(count=entry.seq, hash=entry.hash)
    write_whole(folder / HEAD_NAME, canonical(asdict(head)) + b"\n")


def _take(lock: BaseFileLock, job: str) -> None:
    try:
        lock.acquire()
    except Timeout as error:
        message = (
            f"{job}: another program has been writing in this job for "
            f"{LOCK_WAIT_S:.0f} s; nothing was added. Wait for it or close it."
        )
        raise RecordError(message) from error


def _cut(path: Path, length_bytes: int) -> None:
    handle = os.open(path, os.O_WRONLY)
    try:
        os.ftruncate(handle, length_bytes)
        os.fsync(handle)
    finally:
        os.close(handle)


def _refuse_damage(folder: Path, journal: Journal) -> None:
    problems = list(journal.damage)
    head = read_head(folder)
    if head is None:
        problems.append(f"{HEAD_NAME} is missing or unreadable")
    elif head.count > len(journal.entries) and not journal.damage:
        problems.append(
            f"{head.count} events were recorded but the journal holds only "
            f"{len(journal.entries)}"
        )
    if not journal.entries:
        problems.append("there is no whole event in the journal")
    if problems:
        message = (
            f"{folder.name}: the record is damaged: {'; '.join(problems)}. Nothing "
            "was added. Restore the folder from a copy, or open a new job that "
            "names this one."
        )
        raise RecordError(message)
