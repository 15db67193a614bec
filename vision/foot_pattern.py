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


def cover_right(rise: FloatArray) -> FloatArray:
    """Land, land, foot, foot, wall to the right: foot, wall, land, mask."""
    return _cover_foot(rise, rise[:, 2], rise[:, 4], rise[:, 3] - rise[:, 4])


def cover_left(rise: FloatArray) -> FloatArray:
    """Land, land, foot, foot, wall to the left: foot, wall, land, mask."""
    return _cover_foot(rise, rise[:, 4], rise[:, 3], rise[:, 4] - rise[:, 2])


def _cover_foot(
    rise: FloatArray, first: FloatArray, last: FloatArray, wall: FloatArray
) -> FloatArray:
    """Foot and wall hide the land between ``first`` and ``last``."""
    before, after = rise[:, 0], rise[:, 1]
    hidden = np.clip(first, after, before) - np.clip(last, after, before)
    foot, land = rise[:, 2] - rise[:, 3], before - after - hidden
    return np.column_stack([foot, wall, land, 1 - foot - wall - land])
