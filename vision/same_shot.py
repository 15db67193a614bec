"""Tells a photo from a copy of another: in one picture nothing can have changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.errors import PhotoError

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Photo

    FloatImage = npt.NDArray[np.float32]

LONG_SIDE_PX = 800
SOFT_PX = 1.0
SHAPE_FRAC = 0.01
PATCH_PX = 7
MEAN_LEVELS, PATCH_LEVELS = 2.0, 8.0
"""Grey levels by which copies differ on average, and in the patch in which they differ
most: up to 1.3 and 4.3 after turning or saving at a JPEG quality of 30, mostly up to 8
when made smaller.  The nearest of 262 made pairs and of the sample photos differ by 27
on average; under a camera that stands still any patch may have changed."""


def refuse_same_shot(before: Photo, after: Photo) -> None:
    """Refuse a photo that is the other one once more.

    Parameters
    ----------
    before, after : Photo
        Upright photos with pixels.

    Raises
    ------
    PhotoError
        They are one file, or one is the other saved anew, made smaller or turned by
        quarter turns.
    """
    is_same = bool(before.sha256) and before.sha256 == after.sha256
    if is_same or _is_copy(before, after):
        copy = "" if is_same else "or a copy of it, "
        message = (
            f"{after.path}: this is the photo before once more, {copy}so nothing can "
            "have changed. Name the one taken later"
        )
        raise PhotoError(message)


def _is_copy(before: Photo, after: Photo) -> bool:
    if not before.pixels.size or not after.pixels.size:
        return False
    one, other = _small(before), _small(after)
    return any(_are_alike(one, np.rot90(other, quarter)) for quarter in range(4))


def _small(photo: Photo) -> FloatImage:
    scale = LONG_SIDE_PX / max(photo.width_px, photo.height_px)
    size = tuple(max(1, round(n * scale)) for n in (photo.width_px, photo.height_px))
    small = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA)
    grey = cv2.cvtColor(small, cv2.COLOR_BGR2GRAY).astype(np.float32)
    return np.asarray(cv2.GaussianBlur(grey, (0, 0), SOFT_PX))


def _are_alike(one: FloatImage, other: FloatImage) -> bool:
    shapes = np.array([one.shape, other.shape], float)
    if np.abs(shapes[0] / shapes[1] - 1).max() > SHAPE_FRAC:
        return False
    fitted = cv2.resize(np.ascontiguousarray(other), one.shape[::-1])
    apart = np.abs(one - fitted)
    patches = cv2.blur(apart, (PATCH_PX, PATCH_PX))
    return bool(apart.mean() <= MEAN_LEVELS and patches.max() <= PATCH_LEVELS)
