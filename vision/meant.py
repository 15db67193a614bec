"""Says which of the packages in a photo may be meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import Package, Photo, Point

REACH = 2.0
"""The middle of the photo may lie outside the body meant by half a body's size."""


def choose_meant(
    photo: Photo, packages: Sequence[Package], at_px: Point | None = None
) -> tuple[Package, ...] | NotFound:
    """Choose the package that a person means, or those that it may be.

    Parameters
    ----------
    photo : Photo
        Upright photo.
    packages : sequence of Package
        Every package found in it, best first; of two bodies drawn over one another
        only the better is real.
    at_px : (float, float) or None
        A place on the body meant, photo px; None where nobody pointed.

    Returns
    -------
    tuple of Package or NotFound
        The package under the place pointed at, else the one under the middle of the
        photo, else all beside the middle.  NotFound where there is none: a package
        elsewhere must never be judged in its place.
    """
    if at_px is not None:
        under = [p for p in packages if _holds(p, at_px, 1.0)]
        if under:
            return (under[0],)
        x, y = at_px
        return NotFound(
            reason=f"no package was made out at {x:.0f}, {y:.0f} in the before photo. "
            "Point at the middle of its body, or take a photo closer to it."
        )
    middle = ((photo.width_px - 1) / 2, (photo.height_px - 1) / 2)
    under = [p for p in packages if _holds(p, middle, 1.0)]
    near = under[:1] or [p for p in packages if _holds(p, middle, REACH)]
    if near:
        return tuple(near)
    return NotFound(
        reason="no package was made out in the middle of the before photo. Centre the "
        "one that is meant and come closer, or point at it with --at X,Y."
    )


def _holds(package: Package, at_px: Point, reach: float) -> bool:
    """Tell whether a place lies on the body, grown about its middle by ``reach``."""
    outline = np.array(package.outline_px)
    grown = outline.mean(0) + (outline - outline.mean(0)) * reach
    return cv2.pointPolygonTest(grown.astype(np.float32), at_px, measureDist=False) >= 0
