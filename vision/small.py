"""A photo made small once, for every step that needs no more of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

MOST_ENLARGED = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Small:
    """A photo made smaller; ``scale``: its pixels over the photo's, (x, y)."""

    pixels: ByteImage = field(compare=False, repr=False)
    scale: tuple[float, float]

    def from_photo(self) -> FloatArray:
        """Give the map from photo px to the small picture's, shape (3, 3)."""
        x, y = self.scale
        return np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1]])


def make_small(pixels: ByteImage, long_px: int) -> Small:
    """Make a photo small.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The whole upright photo, BGR.
    long_px : int
        Its longer side afterwards; a smaller photo is enlarged by half at the most.

    Returns
    -------
    Small
    """
    small = shrunk(pixels, long_px)
    rows, cols = (a / b for a, b in zip(small.shape[:2], pixels.shape[:2], strict=True))
    return Small(pixels=small, scale=(cols, rows))


def shrunk(pixels: ByteImage, long_px: int) -> ByteImage:
    """Bring the longer side of a picture to a length; enlarge by half at the most.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
    long_px : int

    Returns
    -------
    ndarray of uint8
    """
    scale = min(long_px / max(pixels.shape[:2]), MOST_ENLARGED)
    rows, cols = pixels.shape[:2]
    size = (max(8, round(cols * scale)), max(8, round(rows * scale)))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    return cv2.resize(pixels, size, interpolation=way).astype(np.uint8, copy=False)
