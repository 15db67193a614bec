"""Tells a photo from a copy of another: in one picture nothing can have changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.errors import PhotoError
from vision.small import shrunk
from vision.spare import each

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    from vision.results import Photo

    ByteImage = npt.NDArray[np.uint8]
    FloatImage = npt.NDArray[np.float32]

LONG_SIDE_PX, GLIMPSE_PX = 800, 96
SOFT_PX = 1.0
SHAPE_FRAC = 0.01
GLIMPSE_LEVELS = 10.0
"""Grey levels by which tiny pictures of copies differ on average at the most."""
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
    turns = [quarters for quarters in range(4) if _has_shape(before, after, quarters)]
    if not turns or not before.pixels.size or not after.pixels.size:
        return False

    def are_alike(picture: Callable[[Photo], FloatImage], *levels: float) -> bool:
        one, other = each(picture, (before, after))
        return any(_are_alike(one, np.rot90(other, k), *levels) for k in turns)

    return are_alike(_glimpse, GLIMPSE_LEVELS) and are_alike(
        _small, MEAN_LEVELS, PATCH_LEVELS
    )


def _has_shape(before: Photo, after: Photo, quarters: int) -> bool:
    """Tell whether one photo, turned by quarter turns, has the other's shape."""
    wide, high = after.width_px, after.height_px
    if quarters % 2:
        wide, high = high, wide
    return abs(before.width_px * high / (before.height_px * wide) - 1) <= SHAPE_FRAC


def _glimpse(photo: Photo) -> FloatImage:
    """Give a tiny picture, made of few pixels: enough to tell most photos apart."""
    skip = max(1, max(photo.width_px, photo.height_px) // LONG_SIDE_PX)
    return _grey(photo.pixels[::skip, ::skip], GLIMPSE_PX)


def _small(photo: Photo) -> FloatImage:
    return np.asarray(
        cv2.GaussianBlur(_grey(photo.pixels, LONG_SIDE_PX), (0, 0), SOFT_PX)
    )


def _grey(pixels: ByteImage, long_px: int) -> FloatImage:
    small = cv2.cvtColor(shrunk(pixels, long_px), cv2.COLOR_BGR2GRAY)
    return small.astype(np.float32)


def _are_alike(
    one: FloatImage, other: FloatImage, mean: float, most: float = np.inf
) -> bool:
    fitted = cv2.resize(np.ascontiguousarray(other), one.shape[::-1])
    apart = np.abs(one - fitted)
    patches = cv2.blur(apart, (PATCH_PX, PATCH_PX))
    return bool(apart.mean() <= mean and patches.max() <= most)
