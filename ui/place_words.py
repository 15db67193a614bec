"""One line a frame for setting a chip: which way, how far, when it is right."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from vision.results import NotFound, WrongWay

if TYPE_CHECKING:
    from vision.place import Move

LEAST_MM = 0.01
LEAST_DEG = 0.1
MOST_U_MM = 0.15
"""Half the 0.30 mm that a SOIC may be off; less sure, and no way is told."""


def place_line(move: Move | WrongWay | NotFound) -> str:
    """Say what to do next.

    Parameters
    ----------
    move : Move, WrongWay or NotFound
        The answer for one frame.

    Returns
    -------
    str
        One line without a line end.
    """
    if isinstance(move, NotFound):
        return f"wait: {move.reason}"
    if isinstance(move, WrongWay):
        by = {90: "90° counter-clockwise", 270: "90° clockwise"}
        return (
            "the chip lies the wrong way round: turn it by "
            f"{by.get(move.turn_deg, f'{move.turn_deg}°')} first"
        )
    parts = [
        _part(move.dx_mm, "right", "left"),
        _part(move.dy_mm, "down", "up"),
    ]
    pushes = [part for part in parts if part]
    turn = ""
    if abs(move.turn_deg) >= max(LEAST_DEG, move.u_deg):
        way = "counter-clockwise" if move.turn_deg > 0 else "clockwise"
        turn = f"turn {abs(move.turn_deg):.1f}° {way}"
    doubt = f"(± {move.u_mm:.2f} mm, ± {move.u_deg:.1f}°)"
    if move.u_mm > MOST_U_MM:
        return (
            f"wait: this picture tells the place only to ± {move.u_mm:.2f} mm; look "
            "from where the first picture was taken, straight above"
        )
    if is_in_place(move):
        return f"hold: in place as far as this picture tells {doubt}"
    push = "move " + ", ".join(pushes) if pushes else ""
    return f"{'; '.join(x for x in (push, turn) if x)} {doubt}"


def is_in_place(move: Move) -> bool:
    """Say whether what is left to move and turn is within what can be told.

    Parameters
    ----------
    move : Move
        The answer for one frame.

    Returns
    -------
    bool
    """
    shift_mm = math.hypot(move.dx_mm, move.dy_mm)
    is_turned = abs(move.turn_deg) >= max(LEAST_DEG, move.u_deg)
    is_still = shift_mm <= max(move.u_mm, LEAST_MM) and not is_turned
    return is_still and move.u_mm <= MOST_U_MM


def _part(value_mm: float, ahead: str, back: str) -> str:
    if abs(value_mm) < LEAST_MM:
        return ""
    return f"{abs(value_mm):.2f} mm {ahead if value_mm > 0 else back}"
