"""The typeface that comes with the program; its licence lies beside it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

_FOLDER = Path(__file__).parent / "typeface"
REGULAR = _FOLDER / "DejaVuSans-subset.ttf"
BOLD = _FOLDER / "DejaVuSans-Bold-subset.ttf"


@cache
def known_characters() -> frozenset[int]:
    """Name every character that both weights can show.

    Returns
    -------
    frozenset of int
        Unicode numbers.
    """
    known: set[int] | None = None
    for path in (REGULAR, BOLD):
        with TTFont(path, lazy=True) as font:
            found = set(font.getBestCmap())
        known = found if known is None else known & found
    return frozenset(known or ())


def in_typeface(text: str) -> str:
    """Spell out what the typeface cannot show, as ``[U+4E2D]``.

    Parameters
    ----------
    text : str
        Visible text.

    Returns
    -------
    str
        Text without a single missing glyph.
    """
    known = known_characters()
    return "".join(c if ord(c) in known else f"[U+{ord(c):04X}]" for c in text)
