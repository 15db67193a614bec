"""The queue of jobs for review: filters, counts and rows, from the index."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Literal, TypeVar, get_args

from ui.record.index import Choice, JobRow, fresh_rows, with_index
from vision.errors import RecordError

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator
    from pathlib import Path

Show = Literal["open", "reviewed", "undecided", "all"]
Kind = Literal["any", "stop", "by-hand", "corrected", "differs"]
SHOWS: tuple[Show, ...] = get_args(Show)
KINDS: tuple[Kind, ...] = get_args(Kind)
S = TypeVar("S", bound=str)
MAX_FILTER_CHARS = 500
MAX_NAMES = 200
# Oldest first: who has waited longest comes first.
ORDER = "opened_at, job"
_CHUNK_ROWS = 2_000

_SHOW_SQL: dict[Show, str] = {
    # Nobody can tell what was decided in a damaged job: it waits for a person, too.
    "open": "(step = 'damaged' OR (decision <> '' AND review = ''))",
    "reviewed": "(review <> '')",
    "undecided": "(decision = '')",
    "all": "1",
}
# The same as ``cautions.tool_counts``.
TOOL_COUNTS = (
    "(answered OR tool_decision = 'stop' "
    "OR decision = 'no-fault-seen' OR review_decision = 'no-fault-seen')"
)
_SAID = (
    "(decision IN ({0}) OR review_decision IN ({0}) "
    f"OR ({TOOL_COUNTS} AND tool_decision IN ({{0}})))"
)
_KIND_SQL: dict[Kind, str] = {
    "any": "1",
    "stop": _SAID.format("'stop'"),
    "by-hand": _SAID.format("'check-by-hand', 'retake'"),
    "corrected": "corrected",
    "differs": f"((decision <> '' AND {TOOL_COUNTS} AND decision <> tool_decision) "
    "OR review = 'overruled')",
}
_NAMED = {
    "technician": ("technician",),
    "part": ("part",),
    "board": ("patient", "donor"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """Which jobs are wanted.

    ``show`` is ``open`` (decided, not reviewed; or damaged), ``reviewed``,
    ``undecided`` or ``all``; ``kind`` is ``any``, ``stop`` or ``by-hand`` (tool,
    technician or reviewer said so), ``corrected`` (put right by hand) or ``differs``
    (someone went against the tool or the technician, or let a board go that was never
    compared).  ``technician``, ``part`` and ``board`` are pieces of the names,
    capitals alike; ``board`` is that of the patient or the donor.  ``since`` and
    ``until`` are days in UTC as the clock claimed them when the job was opened, both
    included.
    """

    show: Show = "open"
    kind: Kind = "any"
    technician: str = ""
    part: str = ""
    board: str = ""
    since: date | None = None
    until: date | None = None

    def __post_init__(self) -> None:
        for value, known in ((self.show, SHOWS), (self.kind, KINDS)):
            if value not in known:
                message = (
                    f"{value[:60]!r} is not a filter of the queue; one of "
                    f"{', '.join(known)} is needed."
                )
                raise RecordError(message)
        for text in (self.technician, self.part, self.board):
            if len(text) > MAX_FILTER_CHARS:
                message = (
                    f"a filter has {len(text)} characters; at most "
                    f"{MAX_FILTER_CHARS} are compared. Shorten it."
                )
                raise RecordError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Queue:
    """A page of the queue and how many jobs there are.

    ``by_show`` counts the jobs under each ``show`` with the other filters kept,
    ``by_kind`` likewise; ``count`` is what all filters together leave.
    ``technicians``, ``parts`` and ``boards`` (patients) are the names there are,
    most frequent first.
    """

    rows: tuple[JobRow, ...]
    count: int
    by_show: dict[Show, int]
    by_kind: dict[Kind, int]
    technicians: tuple[str, ...]
    parts: tuple[str, ...]
    boards: tuple[str, ...]


def read_queue(
    home: Path,
    wanted: Filter,
    *,
    limit: int = 100,
    after: tuple[str, str] | None = None,
) -> Queue:
    """Read a page of the queue, oldest job first.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    wanted : Filter
        Which jobs.
    limit : int, optional
        At most so many rows.
    after : tuple of (str, str), optional
        ``opened_at`` and ``job`` of the last row that is known already.

    Returns
    -------
    Queue
        Empty where there is no such folder.
    """
    if not home.is_dir():
        return Queue(
            rows=(),
            count=0,
            by_show=dict.fromkeys(SHOWS, 0),
            by_kind=dict.fromkeys(KINDS, 0),
            technicians=(),
            parts=(),
            boards=(),
        )
    chosen = choice_of(wanted, limit=limit, after=after)

    def ask(index: sqlite3.Connection) -> Queue:
        add_functions(index)
        by_show = _counts(index, replace(wanted, show="all"), _SHOW_SQL)
        by_kind = _counts(index, replace(wanted, kind="any"), _KIND_SQL)
        return Queue(
            rows=fresh_rows(index, home, chosen),
            count=by_show[wanted.show],
            by_show=by_show,
            by_kind=by_kind,
            technicians=_names(index, "technician"),
            parts=_names(index, "part"),
            boards=_names(index, "patient"),
        )

    return with_index(home, ask)


def read_rows(home: Path, wanted: Filter) -> Iterator[JobRow]:
    """Read all rows of a filter, some at a time, oldest job first.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    wanted : Filter
        Which jobs.

    Yields
    ------
    JobRow
        A job that changes meanwhile is given once or not at all.
    """
    after: tuple[str, str] | None = None
    while home.is_dir():
        chosen = choice_of(wanted, limit=_CHUNK_ROWS, after=after)

        def ask(
            index: sqlite3.Connection, chosen: Choice = chosen
        ) -> tuple[JobRow, ...]:
            add_functions(index)
            return fresh_rows(index, home, chosen)

        rows = with_index(home, ask)
        yield from rows
        if len(rows) < _CHUNK_ROWS:
            return
        after = (rows[-1].opened_at, rows[-1].job)


def choice_of(
    wanted: Filter, *, limit: int | None = None, after: tuple[str, str] | None = None
) -> Choice:
    """Give the rows of the index that a filter asks for.

    Parameters
    ----------
    wanted : Filter
        Which jobs.
    limit : int, optional
        At most so many; all if not given.
    after : tuple of (str, str), optional
        ``opened_at`` and ``job`` of the row before the first wanted one.

    Returns
    -------
    Choice
        Values of the filter stand apart from the SQL.
    """
    parts = [_SHOW_SQL[wanted.show], _KIND_SQL[wanted.kind]]
    narrow: list[str] = []
    values: list[str | int] = []
    for name, columns in _NAMED.items():
        piece = getattr(wanted, name)
        if piece:
            tests = (f"instr(folded({column}), ?) > 0" for column in columns)
            narrow.append(f"({' OR '.join(tests)})")
            values += [_folded(piece)] * len(columns)
    if wanted.since is not None:
        narrow.append("opened_at >= ?")
        values.append(wanted.since.isoformat())
    if wanted.until is not None and wanted.until < date.max:
        narrow.append("opened_at < ?")
        values.append((wanted.until + timedelta(days=1)).isoformat())
    if narrow:  # of a damaged job nobody knows whether it is meant
        parts.append(f"(step = 'damaged' OR ({' AND '.join(narrow)}))")
    if after is not None:
        parts.append("(opened_at, job) > (?, ?)")
        values += after
    return Choice(
        where=" AND ".join(parts), values=tuple(values), order=ORDER, limit=limit
    )


def add_functions(index: sqlite3.Connection) -> None:
    """Teach a connection to compare names as ``Filter`` says.

    Parameters
    ----------
    index : Connection
        From ``with_index``.
    """
    index.create_function("folded", 1, _folded, deterministic=True)


def _counts(
    index: sqlite3.Connection, wanted: Filter, tests: dict[S, str]
) -> dict[S, int]:
    chosen = choice_of(wanted)
    sums = ", ".join(f"coalesce(sum({sql}), 0)" for sql in tests.values())
    found = index.execute(
        f"SELECT {sums} FROM jobs WHERE {chosen.where}", chosen.values
    ).fetchone()
    return dict(zip(tests, found, strict=True))


def _names(index: sqlite3.Connection, column: str) -> tuple[str, ...]:
    found = index.execute(
        f"SELECT {column} FROM jobs WHERE {column} <> '' GROUP BY {column} "
        f"ORDER BY count(*) DESC, {column} LIMIT ?",
        (MAX_NAMES,),
    )
    return tuple(name for (name,) in found)


def _folded(text: str) -> str:
    """Fold capitals and forms of letters; lone surrogates cannot be compared."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    return folded.encode("utf-8", "replace").decode("utf-8")
