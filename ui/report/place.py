"""Shift and skew of a chip, each judged by its own value, uncertainty and limit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ui.report.cells import (
    NO_LIMIT,
    Row,
    is_number,
    measured,
    number,
    part_of,
    state_word,
)
from vision.limits import Bound, judge
from vision.results import WORST_FIRST, worst_state
from vision.uncertainty import Reading

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ui.report.cells import Answer
    from vision.results import State

NO_OWN_LIMIT = "none of its own"
PART_OF_SHIFT = "counts in the shift"
NAMES = {"shift": "shift of the chip", "skew": "skew of the chip"}
"""How the tool begins its sentence about either."""
UNITS = {"shift": "mm", "skew": "deg"}


def place_rows(found: Answer) -> Iterator[Row]:
    """Give where a chip sits after reflow beside the shop limits.

    Parameters
    ----------
    found : dict
        ``alignment`` of a recorded answer.

    Yields
    ------
    tuple of str
        What, measured, limit, judged.  The shift is one quantity, its length; what it
        is along x and along y has no limit of its own.
    """
    states = place_states(found)
    for name, what in (("dx_mm", "Moved along x"), ("dy_mm", "Moved along y")):
        value = found.get(name)
        said = PART_OF_SHIFT if is_number(value) else state_word("unsure")
        yield (what, measured(value, found.get("u_mm"), "mm", 2), NO_OWN_LIMIT, said)
    length = measured(_length_mm(found), found.get("u_mm"), "mm", 2)
    skew = measured(found.get("skew_deg"), found.get("u_deg"), "°", 1)
    yield (
        "Shift, its length",
        length,
        _limit(found, "mm"),
        state_word(states["shift"]),
    )
    yield ("Skewed", skew, _limit(found, "deg"), state_word(states["skew"]))


def place_states(found: Answer) -> dict[str, State]:
    """Judge shift and skew as the tool does, each by itself.

    Parameters
    ----------
    found : dict
        ``alignment`` of a recorded answer.

    Returns
    -------
    dict
        By ``shift`` and ``skew``.  A doubt of the tool's that neither explains is one
        about the shift; old answers do not hold limits, so nobody knows of which.
    """
    states = {
        "shift": _judged(found, _length_mm(found), UNITS["shift"]),
        "skew": _judged(found, found.get("skew_deg"), UNITS["skew"]),
    }
    said = found.get("state")
    whole: State = said if said in WORST_FIRST else "ok"
    of_both = worst_state(states.values())
    is_known = is_number(found.get("limit_mm"))
    if is_known and worst_state((whole, of_both)) != of_both:
        states["shift"] = whole
    return states


def innocent_starts(answer: Answer) -> tuple[str, ...]:
    """Name the sentences of the tool that are not why it holds a board back.

    Parameters
    ----------
    answer : dict
        A recorded ``dotward.compare`` answer.

    Returns
    -------
    tuple of str
        How they begin.
    """
    found = part_of(answer, "alignment")
    guilty = {"fault"} if answer.get("decision") == "stop" else {"fault", "unsure"}
    return tuple(
        f"{NAMES[name]}: "
        for name, state in place_states(found).items()
        if state not in guilty and is_number(found.get(f"limit_{UNITS[name]}"))
    )


def _judged(found: Answer, value: object, unit: str) -> State:
    spread = found.get("u_mm" if unit == "mm" else "u_deg")
    limit = found.get(f"limit_{unit}")
    if not is_number(value):
        return "unsure"
    if not is_number(limit):
        return "ok" if found.get("state") == "ok" else "unsure"
    if not is_number(spread):
        return "unsure"
    reading = Reading(
        name=unit, value=abs(float(str(value))), u=float(str(spread)), unit=unit
    )
    bound = Bound(
        value=float(str(limit)), side="max", unit=unit, source="", status="derived"
    )
    return judge(reading, bound).state


def _length_mm(found: Answer) -> float | None:
    dx_mm, dy_mm = found.get("dx_mm"), found.get("dy_mm")
    if not is_number(dx_mm) or not is_number(dy_mm):
        return None
    return math.hypot(float(str(dx_mm)), float(str(dy_mm)))


def _limit(found: Answer, unit: str) -> str:
    limit = found.get(f"limit_{unit}")
    if limit is None:
        return NO_LIMIT
    return number(limit, "mm", 2) if unit == "mm" else number(limit, "°", 1)
