"""A photo made small once, for every step that needs no more of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import apply_homography, side_lengths

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

MOST_ENLARGED = 1.5
LEAST_REST = 1.3
"""What is left to shrink after a picture was halved; at 1.0 to 1.25 five of 262 pairs
made of real photos were lost (a chip no longer found, a shift of 0.4 mm)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Small:
    """A photo made smaller; ``scale``: its pixels over the photo's, (x, y)."""

    pixels: ByteImage = field(compare=False, repr=False)
    scale: tuple[float, float]

    def from_photo(self) -> FloatArray:
        """Give the map from photo px to the small picture's, shape (3, 3)."""
        x, y = self.scale
        return np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1]])


def picture_for(
    pixels: ByteImage, small: Small | None, corners_px: npt.ArrayLike, long_px: float
) -> tuple[ByteImage, FloatArray]:
    """Choose the small picture where it is fine enough: a tenth of the time.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The whole photo.
    small : Small or None
        The photo made small.
    corners_px : array_like of shape (4, 2)
        A body, photo px.
    long_px : float
        Pixels that its longer side has to have.

    Returns
    -------
    (ndarray of uint8, ndarray of shape (3, 3))
        A picture, and the map from photo px to its own.
    """
    if small is not None and max(small.scale) < 1:
        from_photo = small.from_photo()
        inside = apply_homography(from_photo, corners_px)
        if side_lengths(inside).max() >= long_px:
            return small.pixels, from_photo
    return pixels, np.eye(3)


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
    if scale < 1:
        return averaged(pixels, size)
    large = cv2.resize(pixels, size, interpolation=cv2.INTER_LINEAR)
    return large.astype(np.uint8, copy=False)


def averaged(
    pixels: ByteImage, size: tuple[int, int], *, least_rest: float = LEAST_REST
) -> ByteImage:
    """Shrink a picture to a size, every pixel of it counting.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, ...), uint8
    size : (int, int)
        Columns and rows afterwards, no more than before.
    least_rest : float
        How many times smaller the last step must still make it.

    Returns
    -------
    ndarray of uint8

    Notes
    -----
    Whole halves go first where the sides are even, ten times faster than the same mean
    in one step, as long as enough is left to shrink: the last step blurs most near 1.
    """
    cols, rows = pixels.shape[1], pixels.shape[0]
    wide, high = 2 * least_rest * size[0], 2 * least_rest * size[1]
    while cols >= wide and rows >= high and not (cols | rows) & 1:
        cols, rows = cols // 2, rows // 2
        pixels = np.asarray(
            cv2.resize(pixels, (cols, rows), interpolation=cv2.INTER_AREA)
        )
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    return small.astype(np.uint8, copy=False)


def shrunk_part(
    pixels: ByteImage, points_px: npt.ArrayLike, density: float
) -> tuple[ByteImage, FloatArray]:
    """Cut out the part of a picture that holds some places, and shrink it.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
    points_px : array_like of shape (n, 2)
        The places, px of the picture.
    density : float
        Pixels of the picture for one of the part; 1 leaves them as they are.

    Returns
    -------
    (ndarray of uint8, ndarray of shape (3, 3))
        The part, and the map from the picture's px to its own.
    """
    points = np.asarray(points_px, float)
    height, width = pixels.shape[:2]
    halves = 2 ** int(np.log2(max(density, 1)))
    low = np.clip(np.floor(points.min(axis=0)) - 2, 0, [width - 1, height - 1])
    high = np.clip(np.ceil(points.max(axis=0)) + 2 + halves, low + 1, [width, height])
    high -= np.where(high - low > halves, (high - low) % halves, 0)
    x0, y0, x1, y1 = (int(v) for v in (*low, *high))
    part: ByteImage = pixels[y0:y1, x0:x1]
    step = np.array([[1.0, 0, -x0], [0, 1.0, -y0], [0, 0, 1]])
    if density > 1:
        size = max(1, round((x1 - x0) / density)), max(1, round((y1 - y0) / density))
        part = averaged(part, size)
        fx, fy = part.shape[1] / (x1 - x0), part.shape[0] / (y1 - y0)
        half = np.array([[fx, 0, fx / 2 - 0.5], [0, fy, fy / 2 - 0.5], [0, 0, 1]])
        step = half @ step
    return part, step
