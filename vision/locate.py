"""Finds every package body on a whole photo."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision import networks
from vision.overlap import quad_iou_frac
from vision.results import Outline
from vision.small import make_small, shrunk

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Photo, Quad
    from vision.small import Small

    FloatArray = npt.NDArray[np.float64]

LEVELS_PX = (448, 1152)
"""Longer side of the photo as the network sees it: a coarse look, then a fine one."""
STEP_PX = 64
MAP_STEP_PX = 4
MIN_SCORE = 0.15
MAX_IOU_FRAC = 0.3
LOG_SIZE = 3.5
LARGE_FRAC = 0.45
"""A body longer than this share of the photo is left to the coarse look."""
CLOSE_UP_FRAC, CLOSE_UP_SCORE = 0.3, 0.9
"""Where the coarse look is this sure of a body this long, the fine one is left out."""


def find_outlines(
    photo: Photo, small: Small | None = None, *, most: int = 24
) -> tuple[Outline, ...]:
    """Find the bodies of all packages.

    Parameters
    ----------
    photo : Photo
        Upright photo.
    small : Small or None
        The photo made small, where that was done already.
    most : int
        How many to return at the most.

    Returns
    -------
    tuple of Outline
        Best first.  The outlines are parallelogram-like and good to about a tenth
        of the body; ``refine`` makes them exact.

    Notes
    -----
    A centre map with a shape description a cell (size, second moment of the sides,
    fourfold angle), at two scales.
    """
    found: list[tuple[float, FloatArray]] = []
    is_small = max(photo.width_px, photo.height_px) < LEVELS_PX[0]
    fine = (small or make_small(photo.pixels, LEVELS_PX[1])).pixels
    for level_px in LEVELS_PX:
        if level_px == LEVELS_PX[1] and (is_small or _is_close_up(found, photo)):
            continue
        for score, corners in _look(shrunk(fine, level_px), photo):
            long_frac = _long_px(corners) / max(photo.width_px, photo.height_px)
            if level_px == LEVELS_PX[0] or long_frac <= LARGE_FRAC:
                found.append((score, corners))
    found.sort(key=lambda pair: -pair[0])
    kept: list[tuple[float, FloatArray]] = []
    for score, corners in found:
        if len(kept) < most and all(
            quad_iou_frac(corners, other) < MAX_IOU_FRAC for _, other in kept
        ):
            kept.append((score, corners))
    return tuple(Outline(corners_px=_as_quad(c), score=s) for s, c in kept)


def _is_close_up(found: list[tuple[float, FloatArray]], photo: Photo) -> bool:
    """Tell whether the coarse look shows a body so large that the photo is of it."""
    longer = max(photo.width_px, photo.height_px)
    return any(
        score > CLOSE_UP_SCORE and _long_px(corners) > CLOSE_UP_FRAC * longer
        for score, corners in found
    )


def _long_px(corners: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(corners, axis=0), axis=1).max())


def padded(small: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Add black to the right and below, up to the steps that the network needs."""
    high, wide = (-(-n // STEP_PX) * STEP_PX for n in small.shape[:2])
    picture = np.zeros((high, wide, 3), np.uint8)
    picture[: small.shape[0], : small.shape[1]] = small
    return picture


def _look(small: npt.NDArray[np.uint8], photo: Photo) -> list[tuple[float, FloatArray]]:
    maps = networks.run("board", padded(small)[None])[0][0]
    heat = 1 / (1 + np.exp(-maps[0]))
    peak = (heat == cv2.dilate(heat, np.ones((3, 3), np.uint8))) & (heat > MIN_SCORE)
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
