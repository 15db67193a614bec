"""A throw-away index of all jobs, so that a long list comes at once.

The journals are the record; the index may be deleted at any time.  It reads again
the jobs that are new in the folder and those whose writers announced a change, and
every row is compared with its journal's length and time before it is shown.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import threading
from dataclasses import astuple, dataclass, fields
from typing import TYPE_CHECKING, Any, TypeVar

from ui.record.changes import CHANGES_NAME, INDEX_FOLDER, read_changes
from ui.record.jobs import is_job_name, load_job
from ui.record.journal import HEAD_NAME, JOURNAL_NAME
from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from ui.record.state import JobState

INDEX_NAME = "jobs.sqlite"
_VERSION = 5
_NEWEST = "step <> 'damaged', opened_at DESC, job DESC"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRow:
    """What a list shows of a job.

    ``step`` is ``damaged`` where it cannot be read; then nothing is said of what the
    tool or anyone decided, as nobody knows.  ``decision`` and ``review`` are empty
    where there is none that counts, and so are the names and reasons that go with
    them; ``answered`` tells whether the tool compared the photos that count,
    ``corrected`` whether someone put it right by hand.  ``outcome`` is ``worked`` or
    ``failed`` after power-on.
    """

    job: str
    opened_at: str = ""
    step: str
    technician: str = ""
    part: str = ""
    patient: str = ""
    donor: str = ""
    tool_decision: str
    decision: str = ""
    review: str = ""
    corrected: bool = False
    photo_count: int = 0
    event_count: int = 0
    answered: bool = False
    decided_by: str = ""
    decision_reason: str = ""
    reviewer: str = ""
    review_decision: str = ""
    review_reason: str = ""
    outcome: str = ""


_COLUMNS = tuple(item.name for item in fields(JobRow))
_TRUTHS = ("corrected", "answered")
_ASKING = threading.Lock()
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which rows of the index are wanted: SQL of ours, values of anyone."""

    where: str = "1"
    values: tuple[str | int, ...] = ()
    order: str
    limit: int | None = None


_Mark = tuple[int, int, int]
"""Time of change in ns and length in bytes of a journal, and time of its head."""


def list_jobs(home: Path, *, limit: int | None = None) -> tuple[JobRow, ...]:
    """List all jobs, damaged ones first, then newest day first.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    limit : int, optional
        At most so many; all if not given.

    Returns
    -------
    tuple of JobRow
        As many as there are.
    """
    if not home.is_dir():
        return ()
    newest = Choice(order=_NEWEST, limit=limit)
    return with_index(home, lambda index: fresh_rows(index, home, newest))


def with_index(home: Path, ask: Callable[[sqlite3.Connection], T]) -> T:
    """Ask the index something, once it has followed all changes.

    Parameters
    ----------
    home : Path
        The folder of all jobs; it exists.
    ask : callable
        Takes the database with its table ``jobs``; may be called twice.

    Returns
    -------
    object
        What ``ask`` gave.
    """
    try:
        # One at a time: whoever waits here finds the index built by the first.
        with _ASKING, contextlib.closing(_connect(home)) as index:
            _follow_changes(index, home)
            return ask(index)
    except (sqlite3.Error, OSError):
        # The index is broken, locked or its disk is full or read-only: do without.
        with contextlib.closing(_in_memory()) as index:
            _follow_changes(index, home)
            return ask(index)


def fresh_rows(
    index: sqlite3.Connection, home: Path, choice: Choice
) -> tuple[JobRow, ...]:
    """Give the rows of the index that are chosen, each as its journal is now.

    Parameters
    ----------
    index : Connection
        From ``with_index``.
    home : Path
        The folder of all jobs.
    choice : Choice
        Which rows, in which order.

    Returns
    -------
    tuple of JobRow
        Damaged jobs are among them.
    """
    for _ in range(3):  # a busy writer may change a row again while it is read
        rows, marks = _rows(index, choice)
        stale = [job for job, mark in marks.items() if _mark(home, job) != mark]
        if not stale:
            break
        _read_again(index, home, stale)
    return rows


def forget_index(home: Path) -> None:
    """Delete the index; the next list builds it anew from the journals.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    """
    shutil.rmtree(home / INDEX_FOLDER, ignore_errors=True)


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
    decision = state.decision.event if state.decision else None
    review = state.reviews[-1].event if decision and state.reviews else None
    return JobRow(
        job=state.job,
        opened_at=state.history[0].at,
        step=state.step,
        technician=state.opened.technician,
        part=state.opened.part,
        patient=state.opened.patient,
        donor=state.opened.donor,
        tool_decision=state.tool_decision,
        decision=decision.decision if decision else "",
        review=review.verdict if review else "",
        corrected=bool(state.corrections),
        photo_count=len(state.photos),
        event_count=state.count,
        answered=state.answer_pair is not None,
        decided_by=decision.by if decision else "",
        decision_reason=decision.reason if decision else "",
        reviewer=review.by if review else "",
        review_decision=review.decision if review else "",
        review_reason=review.reason if review else "",
        outcome=_outcome_word(state),
    )


def _outcome_word(state: JobState) -> str:
    if not state.outcomes:
        return ""
    return "worked" if state.outcomes[-1].event.worked else "failed"


def _connect(home: Path) -> sqlite3.Connection:
    place = home / INDEX_FOLDER
    place.mkdir(exist_ok=True)
    (place / CHANGES_NAME).touch()
    index = sqlite3.connect(place / INDEX_NAME, timeout=5, isolation_level=None)
    try:
        (version,) = index.execute("PRAGMA user_version").fetchone()
    except sqlite3.OperationalError:
        index.close()
        raise
    except sqlite3.DatabaseError:  # not a database: throw it away
        index.close()
        (place / INDEX_NAME).unlink()
        return _connect(home)
    if version != _VERSION:
        _create(index)
    return index


def _in_memory() -> sqlite3.Connection:
    index = sqlite3.connect(":memory:", isolation_level=None)
    _create(index)
    return index


def _create(index: sqlite3.Connection) -> None:
    columns = ", ".join(_COLUMNS[1:])
    index.executescript(
        f"""
        BEGIN IMMEDIATE;
        DROP TABLE IF EXISTS jobs;
        DROP TABLE IF EXISTS seen;
        CREATE TABLE jobs
            (job TEXT PRIMARY KEY, {columns}, mtime_ns, size_bytes,
             head_mtime_ns) WITHOUT ROWID;
        CREATE INDEX by_time ON jobs ({_NEWEST});
        CREATE TABLE seen (home_mtime_ns, changes_bytes);
        INSERT INTO seen VALUES (-1, 0);
        PRAGMA user_version = {_VERSION};
        COMMIT;
        """
    )


def _follow_changes(index: sqlite3.Connection, home: Path) -> None:
    mtime_ns = home.stat().st_mtime_ns
    old_mtime_ns, old_bytes = index.execute("SELECT * FROM seen").fetchone()
    changed, new_bytes = read_changes(home, old_bytes)
    wanted = {job for job in changed if is_job_name(job)}
    if mtime_ns != old_mtime_ns:
        known = {job for (job,) in index.execute("SELECT job FROM jobs")}
        with os.scandir(home) as found:
            there = {item.name for item in found}
        wanted |= {name for name in there - known if is_job_name(name)}
        wanted |= known - there
    if wanted or (mtime_ns, new_bytes) != (old_mtime_ns, old_bytes):
        _read_again(index, home, wanted)
        index.execute(
            "UPDATE seen SET home_mtime_ns = ?, changes_bytes = ?",
            (mtime_ns, new_bytes),
        )


def _read_again(index: sqlite3.Connection, home: Path, jobs: Iterable[str]) -> None:
    places = ", ".join("?" * (len(_COLUMNS) + 3))
    index.execute("BEGIN IMMEDIATE")
    for job in jobs:
        mark = _mark(home, job)
        if not (home / job).is_dir():
            index.execute("DELETE FROM jobs WHERE job = ?", (job,))
            continue
        try:
            row = summary_of(load_job(home / job))
        except RecordError:
            row = _damaged(job)
        texts = [_storable(value) for value in astuple(row)]
        index.execute(
            f"INSERT OR REPLACE INTO jobs VALUES ({places})",
            (job, *texts[1:], *mark),
        )
    index.execute("COMMIT")


def _mark(home: Path, job: str) -> _Mark:
    try:
        stat = (home / job / JOURNAL_NAME).stat()
    except OSError:
        return (0, -1, 0)
    return (stat.st_mtime_ns, stat.st_size, _changed_at_ns(home / job / HEAD_NAME))


def _changed_at_ns(path: Path) -> int:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def _damaged(job: str) -> JobRow:
    return JobRow(job=job, step="damaged", tool_decision="")


def _storable(value: object) -> object:
    """SQLite holds no lone surrogates; a list may show them as question marks."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    return value


def _rows(
    index: sqlite3.Connection, choice: Choice
) -> tuple[tuple[JobRow, ...], dict[str, _Mark]]:
    found = index.execute(
        f"SELECT {', '.join(_COLUMNS)}, mtime_ns, size_bytes, "
        "head_mtime_ns FROM jobs "
        f"WHERE {choice.where} ORDER BY {choice.order} LIMIT ?",
        (*choice.values, -1 if choice.limit is None else choice.limit),
    ).fetchall()
    rows = tuple(_row(dict(zip(_COLUMNS, row, strict=False))) for row in found)
    return rows, {row[0]: row[-3:] for row in found}


def _row(named: dict[str, Any]) -> JobRow:
    return JobRow(**named | {name: bool(named[name]) for name in _TRUTHS})
