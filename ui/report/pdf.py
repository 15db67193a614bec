"""A report as PDF with its typeface inside and its pictures described."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from fpdf import FPDF
from fpdf.enums import TableBordersLayout, XPos, YPos
from fpdf.fonts import FontFace

from ui.report.fonts import BOLD, REGULAR, in_typeface

if TYPE_CHECKING:
    from datetime import datetime

    from ui.report.model import Figure, Report, Section, Table

_FAMILY = "report"
_TEXT_PT = 9.5
_LINE_MM = 5.0
_TALLEST_FIGURE_MM = 110.0
_BANNER_DASH = {"stop": 0.0, "no-fault-seen": 0.0, "open": 0.6}
_OTHER_DASH_MM = 2.5


class _Pages(FPDF):
    """Pages with the job and the page number at the foot."""

    def __init__(self, foot: str) -> None:
        super().__init__(format="A4", unit="mm")
        self._foot = foot

    def footer(self) -> None:
        """Write the foot of a page."""
        self.set_y(-12)
        self.set_font(_FAMILY, size=7.5)
        self.cell(0, 5, f"{self._foot} \u2013 page {self.page_no()} of {{nb}}")


def render_pdf(report: Report, *, made_at: datetime | None = None) -> bytes:
    """Write a report as PDF.

    Parameters
    ----------
    report : Report
        What it says.
    made_at : datetime, optional
        Time to write into the file; now if not given.

    Returns
    -------
    bytes
        The PDF.
    """
    pdf = _Pages(
        in_typeface(f"{report.job}, {report.count} events, {report.head[:16]}")
    )
    pdf.add_font(_FAMILY, "", REGULAR)
    pdf.add_font(_FAMILY, "B", BOLD)
    pdf.set_lang("en")
    pdf.set_title(in_typeface(report.title))
    pdf.set_keywords(f"count={report.count} head={report.head}")
    pdf.set_creator("dotward")
    if made_at is not None:
        pdf.set_creation_date(made_at)
    pdf.set_margin(15)
    pdf.set_auto_page_break(auto=True, margin=18)
    pdf.add_page()
    _heading(pdf, report.title, level=0, size_pt=15)
    _banner(pdf, report)
    for section in report.sections:
        _section(pdf, section)
    return bytes(pdf.output())


def _section(pdf: FPDF, section: Section) -> None:
    room_mm = 45.0 if section.tables else 30.0
    if section.figures and not section.paragraphs:
        room_mm += _figure_size_mm(pdf, section.figures[0])[1]
    if pdf.will_page_break(room_mm):
        pdf.add_page()
    pdf.ln(3)
    _heading(pdf, section.heading, level=1, size_pt=12)
    for text in section.paragraphs:
        _paragraph(pdf, text)
    for text in section.items:
        _paragraph(pdf, f"\u2022 {text}")
    for figure in section.figures:
        _figure(pdf, figure)
    for table in section.tables:
        _table(pdf, table)


def _heading(pdf: FPDF, text: str, *, level: int, size_pt: float) -> None:
    pdf.set_font(_FAMILY, "B", size_pt)
    shown = in_typeface(text)
    pdf.start_section(shown, level=level)
    pdf.multi_cell(
        0, size_pt * 0.5, shown, align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT
    )
    pdf.ln(1.5)


def _paragraph(pdf: FPDF, text: str) -> None:
    pdf.set_font(_FAMILY, size=_TEXT_PT)
    pdf.multi_cell(
        0, _LINE_MM, in_typeface(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT
    )
    pdf.ln(0.8)


def _banner(pdf: FPDF, report: Report) -> None:
    left, top, width = pdf.l_margin, pdf.get_y(), pdf.epw
    pdf.set_xy(left + 4, top + 3)
    pdf.set_font(_FAMILY, "B", 14)
    words = in_typeface(f"{report.banner_sign} {report.banner_word}")
    pdf.multi_cell(width - 8, 7, words, align="L", new_x=XPos.LEFT, new_y=YPos.NEXT)
    pdf.set_font(_FAMILY, size=_TEXT_PT)
    text = in_typeface(report.banner_text)
    pdf.multi_cell(width - 8, _LINE_MM, text, align="L")
    height = pdf.get_y() - top + 3
    pdf.set_line_width(0.8)
    dash = _BANNER_DASH.get(report.banner_kind, _OTHER_DASH_MM)
    if dash:
        pdf.set_dash_pattern(dash=dash, gap=dash)
    pdf.rect(left, top, width, height)
    pdf.set_dash_pattern()
    if report.banner_kind == "stop":  # a double line, as in the HTML
        pdf.rect(left + 1.6, top + 1.6, width - 3.2, height - 3.2)
    pdf.set_line_width(0.2)
    pdf.set_y(top + height + 2)


def _figure(pdf: FPDF, figure: Figure) -> None:
    if figure.jpeg is None:
        _paragraph(pdf, figure.alt)
    else:
        width, height = _figure_size_mm(pdf, figure)
        if pdf.will_page_break(height + 2 * _LINE_MM):
            pdf.add_page()
        pdf.image(io.BytesIO(figure.jpeg), w=width, h=height, alt_text=figure.alt)
        pdf.ln(1)
    _paragraph(pdf, figure.caption)


def _figure_size_mm(pdf: FPDF, figure: Figure) -> tuple[float, float]:
    if figure.jpeg is None:
        return pdf.epw, 2 * _LINE_MM
    scale = min(pdf.epw / figure.width_px, _TALLEST_FIGURE_MM / figure.height_px)
    return scale * figure.width_px, scale * figure.height_px


def _table(pdf: FPDF, table: Table) -> None:
    if pdf.will_page_break(25):
        pdf.add_page()
    pdf.set_font(_FAMILY, "B", _TEXT_PT)
    pdf.multi_cell(
        0, _LINE_MM, in_typeface(table.caption), new_x=XPos.LMARGIN, new_y=YPos.NEXT
    )
    pdf.set_font(_FAMILY, size=8)
    with pdf.table(
        borders_layout=TableBordersLayout.ALL,
        headings_style=FontFace(emphasis="BOLD", fill_color=(230, 230, 230)),
        col_widths=_widths(table),
        line_height=4.2,
        padding=1,
        text_align="LEFT",
        width=pdf.epw,
    ) as grid:
        for cells in (table.columns, *table.rows):
            row = grid.row()
            for cell in cells:
                row.cell(in_typeface(cell))
    pdf.ln(2)


def _widths(table: Table) -> tuple[int, ...]:
    """Give each column room by its longest text, within reason."""
    columns = zip(table.columns, *table.rows, strict=True)
    return tuple(min(60, max(12, *(len(cell) for cell in col))) for col in columns)
