"""From shifts seen at several heights of a chip to its shift on the board.

What stands above the board is seen beside its place when the view tilts, by its height
times the slope of the view.  Two photos tilt differently, so each height of the chip
seems to have moved by another length; on the board itself it moved by the one that is
left at height zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

LEAN_SD = 0.12
"""How far the slopes of two hand-held views differ, per axis: 7 degrees (our estimate;
the demo's views differ by up to 12)."""
CONTRADICTS = 2.2
"""Residual from which one reading contradicts the rest, in its own spreads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenShift:
    """The shift of one height of the chip, as seen against the board.

    ``sd_mm`` are its standard uncertainties along x and y, without the height's own.
    """

    name: str
    height_mm: float
    height_sd_mm: float
    shift_mm: tuple[float, float]
    sd_mm: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneShift:
    """The shift on the board.

    ``lean`` is how much the slopes of the two views differ, x and y (mm of shift a mm
    of height); ``fit_sd_mm`` comes from the readings, ``lean_sd_mm`` from the parallax
    that they leave open; both per axis.  ``misfit`` is how much the readings disagree,
    in their own spreads (1 is as expected, never below); where one contradicts the
    rest, ``doubt_mm`` is the standard uncertainty of which of them is wrong.
    """

    shift_mm: tuple[float, float]
    lean: tuple[float, float]
    fit_sd_mm: float
    lean_sd_mm: float
    misfit: float
    doubt_mm: float

    @property
    def sd_mm(self) -> float:
        """Standard uncertainty per axis."""
        return math.hypot(self.fit_sd_mm, self.lean_sd_mm, self.doubt_mm)


def shift_on_board(
    seen: Sequence[SeenShift], *, lean_sd: float = LEAN_SD
) -> PlaneShift:
    """Carry shifts seen at several heights down to the board.

    Parameters
    ----------
    seen : sequence of SeenShift
        At least one.
    lean_sd : float
        How far the slopes of the two views may differ, per axis.

    Returns
    -------
    PlaneShift
        With one height alone its parallax stays open and counts in full.

    Raises
    ------
    ValueError
        Nothing was seen.

    Notes
    -----
    Weighted least squares per axis for the shift at height zero and the lean, with a
    prior on the lean; heights are themselves unsure, which counts by the lean found.
    Spreads grow with the misfit (R. T. Birge, Phys. Rev. 40, 207 (1932)).  Where a
    reading lies further off than ``CONTRADICTS`` of its spreads, the answer without
    each reading in turn bounds the truth, rectangular.
    """
    if not seen:
        msg = "no shift was seen; at least one is needed"
        raise ValueError(msg)
    whole, worst = _fit(seen, lean_sd)
    if worst <= CONTRADICTS or len(seen) < 3:
        return whole
    without = [
        _fit([s for s in seen if s is not left], lean_sd)[0].shift_mm for left in seen
    ]
    apart = np.hypot(*(np.array(without) - whole.shift_mm).T)
    return replace(whole, doubt_mm=float(apart.max()) / math.sqrt(3))


def _fit(seen: Sequence[SeenShift], lean_sd: float) -> tuple[PlaneShift, float]:
    """Fit shift and lean; also the largest residual, in its own spread."""
    heights = np.array([s.height_mm for s in seen])
    shifts = np.array([s.shift_mm for s in seen], dtype=np.float64)
    own = np.array([s.sd_mm for s in seen])
    unsure = np.array([s.height_sd_mm for s in seen])
    design = np.column_stack([np.ones(len(seen)), heights])
    prior = np.diag([0.0, 1 / lean_sd**2])
    lean, start = np.zeros(2), np.zeros(2)
    for _ in range(3):
        tilt = unsure * float(np.hypot(*lean)) / math.sqrt(2)
        sd = np.hypot(own, tilt[:, None])
        inverses = [np.linalg.inv((design.T / v**2) @ design + prior) for v in sd.T]
        solved = [
            inverse @ (design.T @ (values / v**2))
            for inverse, values, v in zip(inverses, shifts.T, sd.T, strict=True)
        ]
        start, lean = np.array(solved).T
    off = (shifts - start - heights[:, None] * lean) / sd
    chi2 = float(np.sum(off**2) + np.sum((lean / lean_sd) ** 2))
    misfit = max(1.0, math.sqrt(chi2 / (2 * len(seen))))
    total = float(np.mean([inverse[0, 0] for inverse in inverses])) * misfit**2
    fitted = float(np.mean(1 / np.sum(1 / sd**2, axis=0))) * misfit**2
    plane = PlaneShift(
        shift_mm=(float(start[0]), float(start[1])),
        lean=(float(lean[0]), float(lean[1])),
        fit_sd_mm=math.sqrt(min(fitted, total)),
        lean_sd_mm=math.sqrt(max(total - fitted, 0.0)),
        misfit=misfit,
        doubt_mm=0.0,
    )
    return plane, float(np.abs(off).max())
