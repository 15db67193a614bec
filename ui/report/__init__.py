"""The report of a job, as HTML for keeping and as PDF for handing over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.report.content import build_report
from ui.report.html import render_html
from ui.report.pdf import render_pdf

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record.state import JobState

__all__ = ["build_report", "make_reports", "render_html", "render_pdf"]


def make_reports(folder: Path, state: JobState) -> dict[str, bytes]:
    """Write a job's report in both forms.

    Parameters
    ----------
    folder : Path
        The job folder.
    state : JobState
        The job.

    Returns
    -------
    dict of str to bytes
        Content by suffix, ``.html`` and ``.pdf``.
    """
    report = build_report(folder, state)
    return {".html": render_html(report), ".pdf": render_pdf(report)}
