"""A report before it has a form: the same for HTML and PDF.

Every text here is visible text already; see ``ui.plain_text``.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table whose first column names the rows."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A picture as JPEG bytes, what it shows, and what is said under it.

    ``jpeg`` is None where the photo cannot be shown; ``alt`` then says why.
    """

    alt: str
    caption: str
    jpeg: bytes | None
    width_px: int = 0
    height_px: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading and what stands under it, in this order."""

    heading: str
    paragraphs: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A whole report.  ``banner`` is the decision, its sign and its sentence.

    ``count`` and ``head`` say which state of the journal it shows.
    """

    title: str
    job: str
    banner_word: str
    banner_sign: str
    banner_kind: str
    banner_text: str
    sections: tuple[Section, ...]
    count: int
    head: str
