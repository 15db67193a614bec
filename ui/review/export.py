"""The queue as files for other programs: CSV and JSON lines."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict, astuple, fields
from typing import TYPE_CHECKING

from ui.plain_text import csv_cell
from ui.record import JobRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


def csv_lines(rows: Iterable[JobRow]) -> Iterator[str]:
    """Give rows as CSV, cells guarded against formulas, hidden characters spelt out.

    Parameters
    ----------
    rows : iterable of JobRow
        What is listed.

    Yields
    ------
    str
        One line, line feed included; the first names the columns.
    """
    yield _line(item.name for item in fields(JobRow))
    for row in rows:
        yield _line(csv_cell(value) for value in astuple(row))


def json_lines(rows: Iterable[JobRow]) -> Iterator[str]:
    """Give rows as JSON lines, texts untouched but for JSON's own escapes.

    Parameters
    ----------
    rows : iterable of JobRow
        What is listed.

    Yields
    ------
    str
        One object, line feed included, ASCII only.
    """
    for row in rows:
        yield json.dumps(asdict(row)) + "\n"


def _line(cells: Iterable[str]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(cells)
    return out.getvalue()
