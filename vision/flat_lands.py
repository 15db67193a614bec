"""Bare lands laid flat: the perspective of their photo taken out of their frame.

Lands are found by an affine map.  In a photo taken at an angle from close by, those far
from the camera then measure shorter than those near it, and so does all that is held
against them: of a gap of 0.5 mm before the toes 0.02 mm and more at 15 degrees.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares

from vision.drawn_feet import LAND_PLACE_SD_MM, LAND_SD_MM
from vision.geometry import apply_homography
from vision.lands import strips_of
from vision.overhang import end_and_axes
from vision.tables import land_positions

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.bare_lands import BareLands
    from vision.overhang import Strip

    FloatArray = npt.NDArray[np.float64]

LEAST_LANDS = 6
"""Eight numbers of a homography from two of each land, with some to spare."""
PLACE_SD_MM = float(np.hypot(LAND_PLACE_SD_MM, LAND_SD_MM))
PERSPECTIVE_SD = 0.004
"""Per mm: a phone leaning 15 degrees at 70 mm."""


def laid_flat(lands: BareLands) -> BareLands:
    """Carry lands into a frame in which they lie as their drawing has them.

    Parameters
    ----------
    lands : BareLands
        As found, their frame laid through the photo by an affine map.

    Returns
    -------
    BareLands
        The same lands, their frame a homography from the photo; unchanged with fewer
        than six lands.  Lands off their places hardly count.
    """
    drawn = {
        s.number: end_and_axes(s)[0] for s in strips_of(land_positions(lands.variant))
    }
    if len(lands.lands) < LEAST_LANDS:
        return lands
    places = np.array([drawn[land.number] for land in lands.lands])
    seen = np.array([end_and_axes(land)[0] for land in lands.lands])

    def off(params: FloatArray) -> FloatArray:
        residual = (apply_homography(_matrix(params), places) - seen) / PLACE_SD_MM
        return np.concatenate([residual.ravel(), params[6:] / PERSPECTIVE_SD])

    start = np.array([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0])
    found = least_squares(off, start, loss="soft_l1", x_scale="jac")
    to_frame = _matrix(found.x)
    back: FloatArray = np.asarray(np.linalg.inv(to_frame), float)
    one, two, three = (
        (float(x), float(y), float(z))
        for x, y, z in np.array(lands.to_photo) @ to_frame
    )
    return replace(
        lands,
        to_photo=(one, two, three),
        lands=tuple(_carried(land, back) for land in lands.lands),
    )


def _matrix(params: FloatArray) -> FloatArray:
    return np.append(params, 1.0).reshape(3, 3)


def _carried(land: Strip, matrix: FloatArray) -> Strip:
    """Carry a land by its outer end and its sides."""
    end, (out, across) = end_and_axes(land)
    side, centre = across * land.width_mm / 2, np.array(land.centre_mm)
    toe, heel, left, right = apply_homography(
        matrix,
        [
            end,
            centre - out * land.length_mm / 2,
            centre - side,
            centre + side,
        ],
    )
    way = (toe - heel) / np.linalg.norm(toe - heel)
    x, y = toe - way * land.length_mm / 2
    return replace(
        land,
        centre_mm=(float(x), float(y)),
        width_mm=float(np.linalg.norm(right - left)),
        outward=(float(way[0]), float(way[1])),
    )
