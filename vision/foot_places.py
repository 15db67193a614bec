"""Where the feet are in one photo, all together, by their edges.

The drawing of the leads is laid on the body's outline, which stands above the board; in
a tilted view the feet are therefore seen beside it.  How far beside is found from the
edges of all feet at once: two long ones a lead's width apart, and the toe.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import vertex
from vision.lead_patches import Site, cut_leads, in_frame

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.patches import Patch

    FloatArray = npt.NDArray[np.float64]
    FloatImage = npt.NDArray[np.float32]

SEARCH_MM = 0.32
"""The parting line of a SOIC is 0.7 mm above a foot: 25 degrees of tilt."""
WIDTHS_FRAC = (0.88, 1.0, 1.12)
"""Lead widths tried, of the drawing's: 0.36, 0.41 and 0.46 mm of a SOIC."""
FOOT_FRAC = (0.55, 0.08)
"""From where to where a foot is flat and free of the toe, of the reach from the toe."""
TOE_WEIGHT, DARKER, EVEN = 0.7, 0.3, 0.8
"""What the toe counts beside the sides; a foot that is darker than what lies beside it;
how much an uneven foot loses."""
TOE_MOST = 1.5
"""An end counts no more than this much of the sides: a land's end has none there."""
SOFT_MM = 0.02
LEAST_SPREAD = 4.0
PLAY_MM, NEAR_MM = 0.05, 0.09
"""Play of each foot while all are looked for, and then how far it is looked for."""
USUAL_MM = 0.35
"""A place this far off needs half as much edge again as one that is not off.  All
weights from path-traced views (rendered_views)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeetPlace:
    """How far each foot is seen from where the drawing puts it.

    ``steps_mm`` (leads, 2) in the chip's frame.
    """

    steps_mm: FloatArray = field(compare=False, repr=False)


def find_feet(
    piece: Patch,
    mm_to_piece: FloatArray,
    sites: Sequence[Site],
    px_per_mm: float,
    *,
    place_sd_mm: float | None = None,
) -> FeetPlace:
    """Find the feet of a chip in one photo.

    Parameters
    ----------
    piece : Patch
        Round the chip.
    mm_to_piece : ndarray of shape (3, 3)
        From the chip's frame to the piece.
    sites : sequence of Site
        The leads as the drawing puts them.
    px_per_mm : float
        Scale at which to look.
    place_sd_mm : float or None
        Standard deviation, per axis, of where the drawing was laid, where it is known.

    Returns
    -------
    FeetPlace
        In the chip's frame.

    Notes
    -----
    A side of a foot counts only as much as the weaker of its two edges: solder and
    lands have edges too, but not a lead's width apart at every lead.  First all feet
    together, each with a little play, then each by itself nearby.
    """
    reach = round(SEARCH_MM * px_per_mm)
    room = reach / px_per_mm
    rows = [
        (-FOOT_FRAC[0] * site.reach_mm - room, room + 2 / px_per_mm) for site in sites
    ]
    half = max(site.width_mm for site in sites) * WIDTHS_FRAC[-1] / 2 + room
    half += 3 / px_per_mm
    cuts = cut_leads(piece, mm_to_piece, sites, px_per_mm, rows_mm=rows, half_mm=half)
    maps = [
        in_frame(site, _edges(cut, site, -low * px_per_mm, px_per_mm, reach))
        for site, cut, (low, _) in zip(sites, cuts, rows, strict=True)
    ]
    play = np.ones((2 * round(PLAY_MM * px_per_mm) + 1,) * 2, np.uint8)
    total = np.mean([cv2.dilate(m, play) for m in maps], axis=0)
    total = cv2.GaussianBlur(total, (0, 0), 1.0)
    steps = np.arange(-reach, reach + 1) / px_per_mm
    away = np.hypot(steps[:, None], steps[None, :])
    if place_sd_mm is None:
        total = total * (1 - 0.33 * np.minimum(away / USUAL_MM, 1.5) ** 2)
    else:
        total = total * np.exp(-0.5 * (away / place_sd_mm) ** 2)
    row, col = np.unravel_index(int(total.argmax()), total.shape)
    near = round(NEAR_MM * px_per_mm)
    own = [summit(m, np.array([col - reach, row - reach]), near) for m in maps]
    return FeetPlace(steps_mm=np.array(own) / px_per_mm)


def summit(values: FloatArray, at: FloatArray, near: int) -> FloatArray:
    """Give the sub-pixel place of the highest value near a place.

    Parameters
    ----------
    values : ndarray of shape (n, n)
        By step down (rows) and to the right (columns), zero in the middle.
    at : ndarray of shape (2,)
        Where to look, steps (x, y).
    near : int
        How many steps round it.

    Returns
    -------
    ndarray of shape (2,)
        Steps (x, y).
    """
    middle = (values.shape[0] - 1) // 2
    x, y = (int(v) + middle for v in np.round(at))
    low_y, low_x = max(y - near, 0), max(x - near, 0)
    part = values[low_y : y + near + 1, low_x : x + near + 1]
    row, col = np.unravel_index(int(part.argmax()), part.shape)
    return np.array(
        [
            low_x + col + vertex(part[row, :], int(col)) - middle,
            low_y + row + vertex(part[:, col], int(row)) - middle,
        ]
    )


def _edges(
    cut: FloatImage, site: Site, toe_row: float, px_per_mm: float, reach: int
) -> FloatArray:
    """Edge strength of one foot by step outward (rows) and across (columns)."""
    soft = cv2.GaussianBlur(cut, (0, 0), max(SOFT_MM * px_per_mm, 0.6))
    soft = (soft - soft.mean()) / (float(soft.std()) + LEAST_SPREAD)
    gx, gy = np.gradient(soft, axis=1), np.gradient(soft, axis=0)
    down = np.vstack([np.zeros((1, gx.shape[1])), np.cumsum(gx, axis=0)])
    right = np.hstack([np.zeros((gy.shape[0], 1)), np.cumsum(gy, axis=1)])
    steps = np.arange(-reach, reach + 1)
    first, last = (
        max(round(toe_row - frac * site.reach_mm * px_per_mm), reach)
        for frac in FOOT_FRAC
    )
    rows = first + steps, last + steps
    sides = (down[rows[1]] - down[rows[0]]) / max(last - first, 1)
    middle = (soft.shape[1] - 1) / 2
    best = np.zeros((len(steps), len(steps)))
    for share in WIDTHS_FRAC:
        half = share * site.width_mm * px_per_mm / 2
        left, far = round(middle - half) + steps, round(middle + half) + steps
        rise, fall = sides[:, left], -sides[:, far]
        pair = np.minimum(rise, fall)
        pair = np.where(pair > 0, pair, DARKER * np.minimum(np.abs(rise), np.abs(fall)))
        ends = right[round(toe_row) + steps]
        toe = np.abs(ends[:, far - 1] - ends[:, left + 1])
        toe /= np.maximum(far - left - 2, 1)
        toe = np.minimum(toe, TOE_MOST * pair)
        even = 1 - EVEN * np.minimum(_spread(soft, rows, (left + 1, far)), 1.0)
        best = np.maximum(best, (pair + TOE_WEIGHT * toe) * even)
    return best


def _spread(
    soft: FloatImage,
    rows: tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]],
    cols: tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]],
) -> FloatArray:
    """Give the standard deviation of brightness in each box of rows by columns."""
    sums = [np.asarray(cv2.integral(v.astype(np.float32))) for v in (soft, soft**2)]
    area = (rows[1] - rows[0])[:, None] * np.maximum(cols[1] - cols[0], 1)[None, :]
    mean, square = (
        (
            s[np.ix_(rows[1], cols[1])]
            - s[np.ix_(rows[1], cols[0])]
            - s[np.ix_(rows[0], cols[1])]
            + s[np.ix_(rows[0], cols[0])]
        )
        / area
        for s in sums
    )
    spread: FloatArray = np.sqrt(np.maximum(square - mean**2, 0.0))
    return spread
