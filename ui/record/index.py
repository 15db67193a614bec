"""A throw-away index of all jobs, so that a long list comes at once.

The journals are the record; this file may be deleted at any time.  Before each
answer every journal's length and time of change are compared with what the index
knows, and only what differs is read again.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from dataclasses import astuple, dataclass, fields
from typing import TYPE_CHECKING

from ui.record.jobs import is_job_name, load_job
from ui.record.journal import JOURNAL_NAME
from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from ui.record.state import JobState

INDEX_NAME = ".index.sqlite"
_VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRow:
    """What a list shows of a job.  ``step`` is ``damaged`` where it cannot be read.

    ``decision`` and ``review`` are empty where there is none that counts;
    ``corrected`` tells whether someone put the tool right by hand.
    """

    job: str
    opened_at: str
    step: str
    technician: str
    part: str
    patient: str
    donor: str
    tool_decision: str
    decision: str
    review: str
    corrected: bool
    photo_count: int
    event_count: int


_COLUMNS = tuple(item.name for item in fields(JobRow))
_Seen = tuple[int, int]  # time of change in ns, length in bytes


def list_jobs(home: Path, *, limit: int | None = None) -> tuple[JobRow, ...]:
    """List all jobs, newest day first.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    limit : int, optional
        At most so many; all if not given.

    Returns
    -------
    tuple of JobRow
        Damaged jobs are listed too.
    """
    seen = dict(_journals(home))
    try:
        with contextlib.closing(_connect(home)) as index:
            _refresh(index, home, seen)
            return _rows(index, limit)
    except sqlite3.Error:
        # The index is broken, locked or its disk is full or read-only: do without.
        with contextlib.closing(_in_memory()) as index:
            _refresh(index, home, seen)
            return _rows(index, limit)


def forget_index(home: Path) -> None:
    """Delete the index; the next list builds it anew from the journals.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    """
    for suffix in ("", "-journal", "-wal", "-shm"):
        (home / f"{INDEX_NAME}{suffix}").unlink(missing_ok=True)


def summary_of(state: JobState) -> JobRow:
    """Give what a list shows of a job.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    JobRow
        Texts as given; make them visible before showing them.
    """
    decision, review = state.decision, state.reviews[-1] if state.reviews else None
    return JobRow(
        job=state.job,
        opened_at=state.history[0].at,
        step=state.step,
        technician=state.opened.technician,
        part=state.opened.part,
        patient=state.opened.patient,
        donor=state.opened.donor,
        tool_decision=state.tool_decision,
        decision=decision.event.decision if decision else "",
        review=review.event.verdict if review else "",
        corrected=bool(state.corrections),
        photo_count=len(state.photos),
        event_count=state.count,
    )


def _journals(home: Path) -> Iterator[tuple[str, _Seen]]:
    try:
        with os.scandir(home) as found:
            names = [item.name for item in found if is_job_name(item.name)]
    except FileNotFoundError:
        return
    root = os.fspath(home)
    for name in names:
        try:
            # os.stat on text: a Path for each of 100,000 jobs would cost as much
            # again as the call.
            stat = os.stat(f"{root}/{name}/{JOURNAL_NAME}")  # noqa: PTH116
        except OSError:
            yield name, (0, -1)
        else:
            yield name, (stat.st_mtime_ns, stat.st_size)


def _connect(home: Path) -> sqlite3.Connection:
    path = home / INDEX_NAME
    if not home.is_dir():
        return _in_memory()
    index = sqlite3.connect(path, timeout=5, isolation_level=None)
    try:
        (version,) = index.execute("PRAGMA user_version").fetchone()
        if version != _VERSION:
            _create(index)
    except sqlite3.DatabaseError as error:
        index.close()
        if isinstance(error, sqlite3.OperationalError):
            raise
        forget_index(home)
        index = sqlite3.connect(path, timeout=5, isolation_level=None)
        _create(index)
    return index


def _in_memory() -> sqlite3.Connection:
    index = sqlite3.connect(":memory:", isolation_level=None)
    _create(index)
    return index


def _create(index: sqlite3.Connection) -> None:
    columns = ", ".join(_COLUMNS[1:])
    index.execute("DROP TABLE IF EXISTS jobs")
    index.execute(
        f"CREATE TABLE jobs (job TEXT PRIMARY KEY, {columns}, mtime_ns, size_bytes)"
    )
    index.execute("CREATE INDEX by_time ON jobs (opened_at DESC, job DESC)")
    index.execute(f"PRAGMA user_version = {_VERSION}")


def _refresh(index: sqlite3.Connection, home: Path, seen: dict[str, _Seen]) -> None:
    known = {
        job: (mtime_ns, size_bytes)
        for job, mtime_ns, size_bytes in index.execute(
            "SELECT job, mtime_ns, size_bytes FROM jobs"
        )
    }
    if known == seen:
        return
    changed = [job for job, mark in seen.items() if known.get(job) != mark]
    gone = known.keys() - seen.keys()
    places = ", ".join("?" * (len(_COLUMNS) + 2))
    index.execute("BEGIN IMMEDIATE")
    index.executemany("DELETE FROM jobs WHERE job = ?", [(job,) for job in gone])
    index.executemany(
        f"INSERT OR REPLACE INTO jobs VALUES ({places})",
        _marked_rows(home, changed, seen),
    )
    index.execute("COMMIT")


def _marked_rows(
    home: Path, jobs: Iterable[str], seen: dict[str, _Seen]
) -> Iterator[tuple[object, ...]]:
    for job in jobs:
        try:
            row = summary_of(load_job(home / job))
        except RecordError:
            row = _damaged(job)
        texts = (_storable(value) for value in astuple(row))
        yield (job, *tuple(texts)[1:], *seen[job])


def _damaged(job: str) -> JobRow:
    return JobRow(
        job=job,
        opened_at="",
        step="damaged",
        technician="",
        part="",
        patient="",
        donor="",
        tool_decision="check-by-hand",
        decision="",
        review="",
        corrected=False,
        photo_count=0,
        event_count=0,
    )


def _storable(value: object) -> object:
    """SQLite holds no lone surrogates; a list may show them as question marks."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    return value


def _rows(index: sqlite3.Connection, limit: int | None) -> tuple[JobRow, ...]:
    found = index.execute(
        f"SELECT {', '.join(_COLUMNS)} FROM jobs "
        "ORDER BY opened_at DESC, job DESC LIMIT ?",
        (-1 if limit is None else limit,),
    )
    named = (dict(zip(_COLUMNS, row, strict=True)) for row in found)
    return tuple(JobRow(**row | {"corrected": bool(row["corrected"])}) for row in named)
