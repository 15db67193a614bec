"""Fields of a recorded answer as the words and numbers of a table's cells.

Every field may be missing or of a strange form: then it is said to be so.
"""

from __future__ import annotations

from typing import Any, TypeGuard

from ui.plain_text import visible
from ui.words import STATE_WORDS

Answer = dict[str, Any]
Row = tuple[str, ...]

NOT_RECORDED = "not recorded"
NO_LIMIT = "none recorded"
MOST_SHARE = 0.999


def state_word(state: object) -> str:
    """Say a state in words.

    Parameters
    ----------
    state : object
        ``ok``, ``fault``, ``unsure`` or anything else.

    Returns
    -------
    str
        Words; anything else counts as not told.
    """
    return STATE_WORDS.get(str(state), STATE_WORDS["unsure"])


def measured(value: object, spread: object, unit: str, digits: int) -> str:
    """Give a value with its uncertainty and unit, or say what is missing."""
    if not is_number(value):
        return "not measured"
    shown = f"{value:.{digits}f}"
    if is_number(spread):
        # One digit more for a spread that would otherwise read as nothing.
        more = digits + 1 if round(float(str(spread)), digits) == 0 else digits
        shown = f"{value:.{more}f} ± {spread:.{more}f}"
    else:
        shown += " ± unknown"
    return f"{shown}{_gap(unit)}{unit}".replace("-", "\u2212")


def number(value: object, unit: str, digits: int) -> str:
    """Give a limit or another number with its unit, or say that there is none."""
    if not is_number(value):
        return NO_LIMIT
    return f"{value:.{digits}f}{_gap(unit)}{unit}".replace("-", "\u2212")


def _gap(unit: str) -> str:
    return "" if unit == "°" else "\u00a0"


def share(value: object) -> str:
    """Give a confidence from 0 to 1, never rounded up to certainty, or say none."""
    if not is_number(value):
        return NOT_RECORDED
    return "over 0.999" if value > MOST_SHARE else f"{value:.3f}"


def times_100(value: object) -> object:
    """Turn a share into per cent; None where it is no number."""
    return 100 * float(str(value)) if is_number(value) else None


def is_number(value: object) -> TypeGuard[float]:
    """Tell a number from anything else, yes and no included."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def part_of(answer: Answer, name: str) -> Answer:
    """Give an object within an answer; empty where there is none."""
    part = answer.get(name)
    return part if isinstance(part, dict) else {}


def parts_of(answer: Answer, name: str) -> list[Answer]:
    """Give the objects of a list within an answer; none where there is no list."""
    parts = answer.get(name)
    return [p for p in parts if isinstance(p, dict)] if isinstance(parts, list) else []


def texts(value: object) -> tuple[str, ...]:
    """Give the items of a list as visible text; none where there is no list."""
    return tuple(text(item) for item in value) if isinstance(value, list) else ()


def text(value: object) -> str:
    """Give a field as visible text, or say that there is none."""
    return NOT_RECORDED if value is None else visible(str(value))
