"""Text from outside made safe to show: nothing hidden, nothing obeyed.

Every text field of a job may hold anything a keyboard, a file name or a
camera can produce.  The record keeps it as given; whatever shows it goes
through this module first.
"""

from __future__ import annotations

import math
import unicodedata

# Characters that are invisible or change how their neighbours are shown:
# control, format (bidirectional marks and overrides, zero width), surrogate,
# private use, unassigned, and the two separators that break a line.
_HIDDEN_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})

# A spreadsheet runs a cell that starts with one of these as a formula (OWASP,
# "CSV Injection"); the wide forms are folded to the plain ones by some programs.
_FORMULA_STARTS = "=+-@\uff1d\uff0b\uff0d\uff20"


def visible(text: str) -> str:
    """Give the text with every hidden character spelt out as ``[U+202E]``.

    Parameters
    ----------
    text : str
        Any text, lone surrogates included.

    Returns
    -------
    str
        One line of printable characters that any encoding of Unicode can hold.
    """
    return "".join(_spelt(char) for char in text)


def visible_lines(text: str) -> tuple[str, ...]:
    """Give a longer text line by line, each made visible.

    Parameters
    ----------
    text : str
        Free text; a line feed, with or without carriage return, ends a line.

    Returns
    -------
    tuple of str
        At least one line.
    """
    return tuple(visible(line) for line in text.replace("\r\n", "\n").split("\n"))


def csv_cell(value: object) -> str:
    """Give one table cell that a spreadsheet shows as text and never runs.

    Parameters
    ----------
    value : object
        Anything; numbers stay numbers, None becomes an empty cell.

    Returns
    -------
    str
        Visible text, with an apostrophe in front where it would be a formula.

    References
    ----------
    OWASP Foundation, "CSV Injection" (rule from memory).
    """
    if value is None:
        return ""
    if isinstance(value, bool | int):
        return str(value)
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else ""
    text = visible(str(value))
    return "'" + text if text.lstrip()[:1] in tuple(_FORMULA_STARTS) else text


def _spelt(char: str) -> str:
    if unicodedata.category(char) in _HIDDEN_CATEGORIES:
        return f"[U+{ord(char):04X}]"
    return char
