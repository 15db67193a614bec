"""Finds every package body on a whole photo."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision import networks
from vision.geometry import longest_side
from vision.overlap import middle_of, quad_holds, quad_iou_frac
from vision.results import Outline
from vision.small import make_small, shrunk

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Photo, Quad
    from vision.small import Small

    FloatArray = npt.NDArray[np.float64]
    Scored = tuple[float, FloatArray]

LEVELS_PX = (448, 1152)
"""Longer side of the photo as the network sees it: a coarse look, then a fine one."""
STEP_PX = 64
MAP_STEP_PX = 4
MIN_SCORE = 0.15
FAINT_SCORE = 0.03
"""Enough where the middle of the photo lies on the body: there one is likely."""
MAX_IOU_FRAC = 0.3
LOG_SIZE = 3.5
LARGE_FRAC = 0.45
"""A body longer than this share of the photo is left to the coarse look."""
CLOSE_UP_FRAC, CLOSE_UP_SCORE = 0.2, 0.85
"""Where the coarse look is this sure of a body this long, the fine one is left out."""
WHOLE_BOARD_PX, WHOLE_BOARD_FRAC, WHOLE_BOARD_SCORE = 1728, 0.15, 0.5
"""Where neither look is this sure of a body this long, the photo is of a whole board,
and a third look, finer still, is taken for the small ones."""


def find_outlines(
    photo: Photo,
    small: Small | None = None,
    *,
    most: int = 24,
    is_thorough: bool = False,
) -> tuple[Outline, ...]:
    """Find the bodies of all packages.

    Parameters
    ----------
    photo : Photo
        Upright photo.
    small : Small or None
        The photo made small, where that was done already.
    most : int
        How many to return at the most; those on the middle of the photo come on top.
    is_thorough : bool
        Look finer even where a coarser look is sure of a large body.

    Returns
    -------
    tuple of Outline
        Best first.  The outlines are parallelogram-like and good to about a tenth
        of the body; ``refine`` makes them exact.

    Notes
    -----
    A centre map with a shape description a cell (size, second moment of the sides,
    fourfold angle), at one to three scales.
    """
    longer = max(photo.width_px, photo.height_px)
    fine = (small or make_small(photo.pixels, LEVELS_PX[1])).pixels
    found = _look(shrunk(fine, LEVELS_PX[0]), photo)
    if longer >= LEVELS_PX[0] and (
        is_thorough or not _shows(found, CLOSE_UP_SCORE, CLOSE_UP_FRAC * longer)
    ):
        found += _smaller(_look(fine, photo), LARGE_FRAC * longer)
        if longer > LEVELS_PX[1] and (
            is_thorough
            or not _shows(found, WHOLE_BOARD_SCORE, WHOLE_BOARD_FRAC * longer)
        ):
            finest = shrunk(photo.pixels, WHOLE_BOARD_PX)
            found += _smaller(_look(finest, photo), LARGE_FRAC * longer)
    middle = middle_of(photo.width_px, photo.height_px)
    kept: list[Scored] = []
    for score, corners in sorted(found, key=lambda pair: -pair[0]):
        is_among = score > MIN_SCORE and len(kept) < most
        if (is_among or quad_holds(corners, middle)) and all(
            quad_iou_frac(corners, other) < MAX_IOU_FRAC for _, other in kept
        ):
            kept.append((score, corners))
    return tuple(Outline(corners_px=_as_quad(c), score=s) for s, c in kept)


def _shows(found: list[Scored], score: float, long_px: float) -> bool:
    """Tell whether there is a body so long that is so sure."""
    return any(s > score and longest_side(corners) > long_px for s, corners in found)


def _smaller(found: list[Scored], long_px: float) -> list[Scored]:
    return [(s, corners) for s, corners in found if longest_side(corners) <= long_px]


def padded(small: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Add black to the right and below, up to the steps that the network needs."""
    high, wide = (-(-n // STEP_PX) * STEP_PX for n in small.shape[:2])
    picture = np.zeros((high, wide, 3), np.uint8)
    picture[: small.shape[0], : small.shape[1]] = small
    return picture


def _look(small: npt.NDArray[np.uint8], photo: Photo) -> list[Scored]:
    maps = networks.run("board", padded(small)[None])[0][0]
    heat = 1 / (1 + np.exp(-maps[0]))
    peak = (heat == cv2.dilate(heat, np.ones((3, 3), np.uint8))) & (heat > FAINT_SCORE)
    factor = np.array(
        [photo.width_px / small.shape[1], photo.height_px / small.shape[0]]
    )
    found = []
    for row, col in zip(*np.nonzero(peak), strict=True):
        corners = _corners(
            maps[1:6, row, col], np.array([col, row]) * float(MAP_STEP_PX)
        )
        found.append((float(heat[row, col]), (corners + 0.5) * factor - 0.5))
    return found


def _corners(shape: npt.NDArray[np.float32], centre_px: FloatArray) -> FloatArray:
    """Corners, counter-clockwise as seen, from a cell's shape description."""
    log_size, a, b, cos4, sin4 = (float(v) for v in shape)
    trace = np.exp(2 * (log_size + LOG_SIZE))
    moment = trace / 2 * np.array([[1 + a, b], [b, 1 - a]])
    theta = np.arctan2(sin4, cos4) / 4
    along = np.array([np.cos(theta), np.sin(theta)])
    across = np.array([-along[1], along[0]])
    u = along * np.sqrt(max(along @ moment @ along, 1.0))
    v = across * np.sqrt(max(across @ moment @ across, 1.0))
    return np.stack(
        [centre_px - u - v, centre_px - u + v, centre_px + u + v, centre_px + u - v]
    )


def _as_quad(corners: FloatArray) -> Quad:
    a, b, c, d = ((float(x), float(y)) for x, y in corners)
    return (a, b, c, d)
