"""Which surfaces lie across a strip of the photo: a land, a foot upon it, a toe.

Each ``cover`` function takes the blurred steps at the edges (pixels, edges; 0 before an
edge, 1 after it) and gives the share of each surface in each pixel.  Because the steps
fall with the place of their edge, one surface hides another by clipping steps.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.edge_pattern import EdgePattern

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

FOOT_EDGES = 5
"""Of land, foot and wall; those of solder come after them."""
SOLDER_BESIDE_MM, SOLDER_BESIDE_SD_MM = 0.03, 0.03
"""Solder that shows beside a foot (assumed: from none to 0.1 mm)."""
LEAST_PRIOR_MM = 1e-4


def strip_pattern(
    scale: float,
    *,
    base_mm: tuple[float, ...],
    mixing: tuple[tuple[float, ...], ...],
    prior_mm: tuple[float, ...],
    cover: Callable[[FloatArray], FloatArray],
    turning: tuple[float, ...] | None = None,
) -> EdgePattern:
    """Turn a pattern in millimetres across into one in pixels.

    Parameters
    ----------
    scale : float
        Pixels per millimetre across the strip.
    base_mm, mixing, prior_mm, cover, turning
        As in ``EdgePattern``; the search starts from nine places of the first shift.

    Returns
    -------
    EdgePattern
        In pixels.
    """
    prior = np.array(prior_mm) * scale
    starts = np.zeros((9, len(prior)))
    starts[:, 0] = np.linspace(-2, 2, 9) * prior[0]
    return EdgePattern(
        base_px=np.array(base_mm) * scale,
        mixing=np.array(mixing),
        prior_sd_px=prior,
        turning=np.array(turning or (1.0,) * len(base_mm)),
        starts_px=starts,
        cover=cover,
    )


def cover_past(rise: FloatArray) -> FloatArray:
    """Edges one past another: the strip, what lies between them, and the rest.

    Of a foot these are its end wall, solder past it and the land.
    """
    steps = np.hstack([np.ones((len(rise), 1)), rise, np.zeros((len(rise), 1))])
    return np.asarray(steps[:, :-1] - steps[:, 1:])


def cover_land(rise: FloatArray) -> FloatArray:
    """Two edges: land and mask."""
    land = rise[:, 0] - rise[:, 1]
    return np.column_stack([land, 1 - land])


def foot_on_land(
    scale: float,
    *,
    land_mm: tuple[float, float],
    foot_mm: float,
    wall_mm: float,
    prior_mm: tuple[float, float, float, float],
    is_soldered: bool,
) -> EdgePattern:
    """Give the pattern across a foot, seen from above, upon its land.

    Parameters
    ----------
    scale : float
        Pixels per millimetre across the strip.
    land_mm : (float, float)
        The land's edges, from the middle of the foot's upper face.
    foot_mm : float
        Width of the foot.
    wall_mm : float
        How far the foot's base is seen beside its upper face.
    prior_mm : (float, float, float, float)
        Standard deviations: foot, its width, land, its width.
    is_soldered : bool
        Whether solder beside the base has edges of its own.

    Returns
    -------
    EdgePattern
        Shifts: foot, its width, land, its width, wall, and solder to both sides.
    """
    half, facing = foot_mm / 2, 1.0 if wall_mm >= 0 else -1.0
    base = (
        *land_mm,
        -half,
        half,
        facing * half + wall_mm,
        wall_mm - half - SOLDER_BESIDE_MM,
        wall_mm + half + SOLDER_BESIDE_MM,
    )
    mixing = (
        (0.0, 0.0, 1.0, -0.5, 0.0, 0.0, 0.0),
        (0.0, 0.0, 1.0, 0.5, 0.0, 0.0, 0.0),
        (1.0, -0.5, 0.0, 0.0, 0.0, 0.0, 0.0),
        (1.0, 0.5, 0.0, 0.0, 0.0, 0.0, 0.0),
        (1.0, 0.5 * facing, 0.0, 0.0, 1.0, 0.0, 0.0),
        (1.0, -0.5, 0.0, 0.0, 1.0, -1.0, 0.0),
        (1.0, 0.5, 0.0, 0.0, 1.0, 0.0, 1.0),
    )
    wall_sd = 0.12 * abs(wall_mm) + LEAST_PRIOR_MM
    prior = (*prior_mm, wall_sd, SOLDER_BESIDE_SD_MM, SOLDER_BESIDE_SD_MM)
    edges = len(base) if is_soldered else FOOT_EDGES
    return strip_pattern(
        scale,
        base_mm=base[:edges],
        mixing=tuple(row[:edges] for row in mixing[:edges]),
        prior_mm=tuple(max(sd, LEAST_PRIOR_MM) for sd in prior[:edges]),
        turning=(0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0)[:edges],
        cover=cover_right if facing > 0 else cover_left,
    )


def cover_right(rise: FloatArray) -> FloatArray:
    """Land, land, foot, foot, wall to the right, and solder: see ``_cover_foot``."""
    return _cover_foot(rise, rise[:, 2], rise[:, 4], rise[:, 3] - rise[:, 4])


def cover_left(rise: FloatArray) -> FloatArray:
    """Land, land, foot, foot, wall to the left, and solder: see ``_cover_foot``."""
    return _cover_foot(rise, rise[:, 4], rise[:, 3], rise[:, 4] - rise[:, 2])


def _cover_foot(
    rise: FloatArray, first: FloatArray, last: FloatArray, wall: FloatArray
) -> FloatArray:
    """Foot, wall, land, mask and, where it has edges, solder.

    Foot and wall hide what lies between ``first`` and ``last``, solder the land.
    """
    before, after = rise[:, 0], rise[:, 1]
    foot, solder, start, end = rise[:, 2] - rise[:, 3], [], first, last
    if rise.shape[1] > FOOT_EDGES:
        start, end = np.maximum(rise[:, 5], first), np.minimum(rise[:, 6], last)
        solder = [start - first + last - end]
    land = before - after
    land = land - np.clip(start, after, before) + np.clip(end, after, before)
    mask = 1 - foot - wall - land - sum(solder)
    return np.column_stack([foot, wall, land, mask, *solder])
