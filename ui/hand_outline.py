"""Whether four corners set by hand can be the body of a chip."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from vision.geometry import is_sane_quad

if TYPE_CHECKING:
    from collections.abc import Sequence

MIN_BODY_PX = 12.0
CORNER_DEG = (30.0, 150.0)
"""Corners of a body set by hand.  Seen from afar at a tilt, a right angle shows as
2 atan(1 / cos tilt) at most: 127 degrees at 60, 151 at 75, where no lead can be told
from its neighbour.  A corner dragged onto the line between two others shows as more."""
MAX_RATIO = 3.0
"""Facing sides of a body set by hand: the nearer looks larger, but hardly twice as
large from where a chip can be photographed."""


def outline_doubt(corners: Sequence[Sequence[float]]) -> str:
    """Say why corners are not the body of a chip.

    Parameters
    ----------
    corners : sequence of (float, float)
        In order round the body, pixels.

    Returns
    -------
    str
        Sentences with what to do; empty where they may be a body.
    """
    sides = [math.dist(a, b) for a, b in pairwise([*corners, corners[0]])]
    if not is_sane_quad(corners) or min(sides) < MIN_BODY_PX:
        return (
            "The four corners cross or lie on a line, so they are not the body of a "
            "chip. Set each at its own corner of the body."
        )
    low_deg, high_deg = CORNER_DEG
    angles_deg = _corner_angles_deg(corners)
    a, b, c, d = sides
    ratio = max(a / c, c / a, b / d, d / b)
    is_wide = low_deg <= min(angles_deg) and max(angles_deg) <= high_deg
    if is_wide and ratio <= MAX_RATIO:
        return ""
    return (
        f"The outline is nearly a triangle: its corners are {min(angles_deg):.0f} to "
        f"{max(angles_deg):.0f} degrees wide ({low_deg:.0f} to {high_deg:.0f} are "
        f"taken) and facing sides differ {ratio:.1f}-fold (at most {MAX_RATIO:.0f}). "
        "Set each corner at its own corner of the body."
    )


def _corner_angles_deg(corners: Sequence[Sequence[float]]) -> list[float]:
    """Give the angle at each corner of a quad that bends one way."""
    found = []
    for k, (x, y) in enumerate(corners):
        (x0, y0), (x1, y1) = corners[k - 1], corners[(k + 1) % len(corners)]
        between = math.atan2(y1 - y, x1 - x) - math.atan2(y0 - y, x0 - x)
        turn_deg = math.degrees(between) % 360
        found.append(min(turn_deg, 360 - turn_deg))
    return found
