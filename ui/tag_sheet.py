"""The sheet of tags to print and cut: vector squares of exact size, with rulers.

A4, two columns of cards.  Black first, then the white squares upon it: drawn the other
way, some printers leave hairlines between neighbouring black squares.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from fpdf import FPDF

from vision.tags import MODULES, ROLES, SIDE_MM, STAGES, tag_id, tag_modules

if TYPE_CHECKING:
    from pathlib import Path

    from vision.tags import Role, Stage

CARD_MM = (86.0, 25.0)
LEFT_MM, TOP_MM = 17.0, 34.0
MARGIN_MM = 3.0
RULER_MM = 50
CHECK_MM = 100.0
SHOWN = {
    "before": "before lifting",
    "lands": "bare lands",
    "placed": "placed, not soldered",
    "after": "after soldering",
}


def write_tag_sheet(path: Path) -> None:
    """Write the sheet as a PDF.

    Parameters
    ----------
    path : Path
        Where to write it; an existing file is replaced.
    """
    path.write_bytes(bytes(_sheet().output()))


def _sheet() -> FPDF:
    pdf = FPDF(format="A4", unit="mm")
    pdf.set_margin(0)
    pdf.set_auto_page_break(auto=False)
    pdf.set_title("dotward tags")
    pdf.add_page()
    _heading(pdf)
    for copy in range(2):
        for i, (role, stage) in enumerate((r, s) for r in ROLES for s in STAGES):
            x = LEFT_MM + copy * (CARD_MM[0] + 4)
            _card(pdf, x, TOP_MM + i * (CARD_MM[1] + 2), role, stage)
    _check_line(pdf)
    return pdf


def _heading(pdf: FPDF) -> None:
    pdf.set_text_color(0)
    pdf.set_font("helvetica", "B", 14)
    pdf.text(LEFT_MM, 16, "dotward tags")
    pdf.set_font("helvetica", "", 9)
    pdf.text(
        LEFT_MM,
        22,
        "Print at 100 % on matt paper. The line at the foot must measure 100.0 mm; "
        "if not, set the scaling to none.",
    )
    pdf.text(
        LEFT_MM,
        27,
        "Cut along the grey lines. Lay the card flat on the board beside the chip, "
        "in the same photo, not over parts.",
    )


def _card(pdf: FPDF, x: float, y: float, role: Role, stage: Stage) -> None:
    pdf.set_draw_color(170)
    pdf.set_line_width(0.1)
    pdf.rect(x, y, *CARD_MM)
    _tag(pdf, x + MARGIN_MM, y + MARGIN_MM, role, stage)
    text_x = x + MARGIN_MM + SIDE_MM + MARGIN_MM
    pdf.set_text_color(0)
    pdf.set_font("helvetica", "B", 12)
    pdf.text(text_x, y + 7.5, role.upper())
    pdf.set_font("helvetica", "", 10)
    pdf.text(text_x, y + 12.5, SHOWN[stage])
    pdf.set_font("helvetica", "", 6)
    pdf.text(x + CARD_MM[0] - 26, y + 6, f"tag {tag_id(role, stage)}, side 10.00 mm")
    _ruler(pdf, x + 12, y + CARD_MM[1] - 3.0)


def _tag(pdf: FPDF, x: float, y: float, role: Role, stage: Stage) -> None:
    square = SIDE_MM / MODULES
    pdf.set_fill_color(0)
    pdf.rect(x, y, SIDE_MM, SIDE_MM, style="F")
    pdf.set_fill_color(255)
    for row, line in enumerate(tag_modules(role, stage)):
        for col, is_white in enumerate(line):
            if is_white:
                pdf.rect(x + col * square, y + row * square, square, square, style="F")


def _ruler(pdf: FPDF, x: float, y: float) -> None:
    """Millimetre ticks upwards from a base line, figures every 10 mm."""
    pdf.set_draw_color(0)
    pdf.set_line_width(0.1)
    pdf.line(x, y, x + RULER_MM, y)
    pdf.set_font("helvetica", "", 5)
    for mm in range(RULER_MM + 1):
        tall = 2.4 if mm % 10 == 0 else 1.8 if mm % 5 == 0 else 1.2
        pdf.line(x + mm, y, x + mm, y - tall)
        if mm % 10 == 0:
            pdf.text(x + mm - 0.9, y + 2.1, f"{mm}")
    pdf.text(x + RULER_MM + 1.5, y, "mm")


def _check_line(pdf: FPDF) -> None:
    x, y = LEFT_MM, 264.0
    pdf.set_draw_color(0)
    pdf.set_line_width(0.1)
    pdf.line(x, y, x + CHECK_MM, y)
    for end in (x, x + CHECK_MM):
        pdf.line(end, y - 2.5, end, y + 2.5)
    pdf.set_font("helvetica", "", 9)
    pdf.text(x + CHECK_MM + 4, y + 1, "100.0 mm: check with a rule")
