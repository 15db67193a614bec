"""Where the camera stood, from the lands and from what stands above them.

Lands alone hardly tell from which side a board was seen, and nearly square on not even
how far it leaned: a view and its mirror image fit, and what lies between not much
worse.  How the feet look and where the outline lies over them tells it from the other
side; here both are put together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.planes import View

    FloatArray = npt.NDArray[np.float64]

STEPS = np.linspace(-1.4, 1.4, 57)
"""Places looked at between a view, 1, and its mirror image, -1."""
LEAST_WIDTH = 0.05
"""Of the two wells, in halves of the way between them: the steps are no finer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeTold:
    """What tells the slope of the camera's ray, x and y per unit of height.

    Minus the logarithm of its likelihood is ``s @ information @ s - 2 * weighed @ s``,
    up to a constant.
    """

    information: FloatArray = field(compare=False)
    weighed: FloatArray = field(compare=False)

    def __add__(self, other: SlopeTold) -> SlopeTold:
        return SlopeTold(
            information=self.information + other.information,
            weighed=self.weighed + other.weighed,
        )

    def halved(self) -> SlopeTold:
        """Give the same with half its weight."""
        return SlopeTold(information=self.information / 2, weighed=self.weighed / 2)


def fused_view(view: View, told: SlopeTold) -> View:
    """Put what the lands and what else tells of the slope together.

    Parameters
    ----------
    view : View
        By the lands, without a mirrored place.
    told : SlopeTold
        What else tells it.

    Returns
    -------
    View
        The mean of Gaussian laws and its covariance.
    """
    by_lands = np.linalg.inv(view.slope_cov)
    covariance = np.asarray(np.linalg.inv(by_lands + 2 * told.information), float)
    mean = covariance @ (by_lands @ view.slope + 2 * told.weighed)
    return _leaning(view, mean, covariance)


def settled_view(view: View, told: SlopeTold, outline: FloatArray) -> View:
    """Settle where between a view and its mirror image the camera stood.

    Parameters
    ----------
    view : View
        By the lands, with a mirrored place.
    told : SlopeTold
        What the feet tell.
    outline : ndarray of shape (2, 2)
        How far the outline lies off the feet by the view, and by its mirror image, in
        its standard deviations.

    Returns
    -------
    View
        The mean and its covariance, without a mirrored place.

    Notes
    -----
    Lands tell the square of the slope: with t from -1 to 1 between both, t * t is 1
    within twice the slope's relative spread.
    """
    mirror = replace(view, camera_mm=view.mirror_mm or view.camera_mm).slope
    middle, half = (view.slope + mirror) / 2, (view.slope - mirror) / 2
    size = float(np.linalg.norm(half))
    way = half / size
    spread = math.sqrt(float(way @ view.slope_cov @ way))
    width = max(2 * spread / size, LEAST_WIDTH)
    places = middle + STEPS[:, None] * half
    cost = ((STEPS**2 - 1) / width) ** 2 / 2 + view.mirror_chi2 * (1 - STEPS) / 4
    cost += np.einsum("ni,ij,nj->n", places, told.information, places)
    cost -= 2 * places @ told.weighed
    ends = np.stack([1 + STEPS, 1 - STEPS], axis=1) / 2
    cost += np.sum((ends @ outline) ** 2, axis=1)
    share = np.exp(cost.min() - cost)
    share /= share.sum()
    mean = float(share @ STEPS)
    variance = float(share @ (STEPS - mean) ** 2)
    beside = np.eye(2) - np.outer(way, way)
    covariance = beside @ view.slope_cov @ beside + variance * np.outer(half, half)
    return _leaning(view, middle + mean * half, covariance)


def _leaning(view: View, slope: FloatArray, covariance: FloatArray) -> View:
    height = view.camera_mm[2]
    return replace(
        view,
        camera_mm=(float(slope[0] * height), float(slope[1] * height), height),
        tilt_deg=math.degrees(math.atan(float(np.hypot(*slope)))),
        mirror_mm=None,
        slope_cov=covariance,
    )
