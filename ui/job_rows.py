"""Rows of a job list as a table, CSV or JSON lines."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from ui.plain_text import visible
from ui.review.cautions import row_caution
from ui.review.export import csv_lines, json_lines

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ui.record import JobRow

FORMS = ("table", "csv", "jsonl")


def print_rows(rows: Iterable[JobRow], form: str) -> None:
    """Print rows of a list.

    Parameters
    ----------
    rows : iterable of JobRow
        What is listed.
    form : str
        One of ``FORMS``.
    """
    if form == "table":
        _print_table(rows)
        return
    for line in (csv_lines if form == "csv" else json_lines)(rows):
        typer.echo(line, nl=False)


def _print_table(rows: Iterable[JobRow]) -> None:
    table = Table(title=None, show_lines=False)
    table.add_column("job", no_wrap=True)  # whole, to be copied
    for name in ("step", "decision", "review", "part", "patient", "technician"):
        table.add_column(name, overflow="fold")
    for row in rows:
        cells = (row.job, row.step, *_said(row), row.part, row.patient)
        # Text, not str: brackets in a name must not become markup.
        table.add_row(*(Text(visible(c)) for c in (*cells, row.technician)))
    width = None if sys.stdout.isatty() else int(os.environ.get("COLUMNS", "120"))
    Console(width=width).print(table)


def _said(row: JobRow) -> tuple[str, str]:
    """Give what was decided and reviewed, and what speaks against letting it go."""
    tool = f"(tool: {row.tool_decision})" if row.tool_decision else ""
    decision = row.decision or tool
    review = row.review
    if row.review_decision and row.review_decision != row.decision:
        review = f"{row.review}: {row.review_decision}"
    caution = row_caution(row)
    if caution is None:
        return decision, review
    word = caution.word[0].lower() + caution.word[1:]
    if review:
        return decision, f"{review} ({word})"
    return f"{decision} ({word})", review
