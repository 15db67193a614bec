"""A report as one HTML file: pictures inside, no script, nothing loaded."""

from __future__ import annotations

import base64
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from jinja2 import Environment, StrictUndefined, Template

if TYPE_CHECKING:
    from ui.report.model import Report

_FOLDER = Path(__file__).parent


def render_html(report: Report) -> bytes:
    """Write a report as HTML.

    Parameters
    ----------
    report : Report
        What it says.

    Returns
    -------
    bytes
        UTF-8; every text is escaped, so nothing in it can act.
    """
    style = (_FOLDER / "report.css").read_text(encoding="utf-8")
    return _template().render(report=report, style=style).encode("utf-8")


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["base64"] = lambda data: base64.b64encode(data).decode("ascii")
    source = (_FOLDER / "report.html").read_text(encoding="utf-8")
    return environment.from_string(source)
