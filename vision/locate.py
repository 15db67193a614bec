"""Finds every package body on a whole photo."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision import networks
from vision.geometry import side_lengths
from vision.overlap import middle_of, quad_iou_frac, quads_hold
from vision.results import Outline
from vision.small import make_small, shrunk

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Photo, Point, Quad
    from vision.small import Small

    FloatArray = npt.NDArray[np.float64]

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
        found = _with(found, _smaller(_look(fine, photo), LARGE_FRAC * longer))
        if longer > LEVELS_PX[1] and (
            is_thorough
            or not _shows(found, WHOLE_BOARD_SCORE, WHOLE_BOARD_FRAC * longer)
        ):
            finest = shrunk(photo.pixels, WHOLE_BOARD_PX)
            found = _with(found, _smaller(_look(finest, photo), LARGE_FRAC * longer))
    return _best_apart(found, middle_of(photo.width_px, photo.height_px), most)


@dataclass(frozen=True, slots=True)
class _Found:
    """Bodies with their scores, (n,), and corners, (n, 4, 2), photo px."""

    scores: FloatArray
    corners: FloatArray


def _with(found: _Found, others: _Found) -> _Found:
    return _Found(
        np.concatenate([found.scores, others.scores]),
        np.concatenate([found.corners, others.corners]),
    )


def _shows(found: _Found, score: float, long_px: float) -> bool:
    """Tell whether there is a body so long that is so sure."""
    return bool(((found.scores > score) & (_long_px(found) > long_px)).any())


def _smaller(found: _Found, long_px: float) -> _Found:
    is_small = _long_px(found) <= long_px
    return _Found(found.scores[is_small], found.corners[is_small])


def _long_px(found: _Found) -> FloatArray:
    return np.asarray(side_lengths(found.corners).max(axis=-1))


def _best_apart(found: _Found, middle: Point, most: int) -> tuple[Outline, ...]:
    """Keep the best of bodies that overlap; faint ones where they hold the middle."""
    kept: list[Outline] = []
    on_middle = quads_hold(found.corners, middle)
    likely = np.flatnonzero(on_middle | (found.scores > MIN_SCORE))
    for k in likely[np.argsort(-found.scores[likely], kind="stable")]:
        score, corners = float(found.scores[k]), found.corners[k]
        is_among = score > MIN_SCORE and len(kept) < most
        if (is_among or on_middle[k]) and all(
            quad_iou_frac(corners, other.corners_px) < MAX_IOU_FRAC for other in kept
        ):
            kept.append(Outline(corners_px=_as_quad(corners), score=score))
    return tuple(kept)


def padded(small: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Add black to the right and below, up to the steps that the network needs."""
    high, wide = (-(-n // STEP_PX) * STEP_PX for n in small.shape[:2])
    picture = np.zeros((high, wide, 3), np.uint8)
    picture[: small.shape[0], : small.shape[1]] = small
    return picture


def _look(small: npt.NDArray[np.uint8], photo: Photo) -> _Found:
    maps = networks.run("board", padded(small)[None])[0][0]
    heat = 1 / (1 + np.exp(-maps[0]))
    peak = (heat == cv2.dilate(heat, np.ones((3, 3), np.uint8))) & (heat > FAINT_SCORE)
    rows, cols = np.nonzero(peak)
    centres = MAP_STEP_PX * np.stack([cols, rows], axis=-1).astype(float)
    corners = _corners(maps[1:6, rows, cols], np.asarray(centres))
    factor = np.array(
        [photo.width_px / small.shape[1], photo.height_px / small.shape[0]]
    )
    return _Found(heat[rows, cols].astype(float), (corners + 0.5) * factor - 0.5)


def _corners(shape: npt.NDArray[np.float32], centre_px: FloatArray) -> FloatArray:
    """Corners (..., 4, 2), counter-clockwise as seen, from what cells (5, ...) say."""
    log_size, a, b, cos4, sin4 = shape.astype(float)
    trace = np.exp(2 * (log_size + LOG_SIZE))
    theta = np.arctan2(sin4, cos4) / 4
    cos, sin = np.cos(theta), np.sin(theta)
    # Second moment along and across the body: along @ [[1 + a, b], [b, 1 - a]] @ along.
    lean = a * (cos**2 - sin**2) + 2 * b * cos * sin
    half_u, half_v = (
        np.sqrt(np.maximum(trace / 2 * (1 + sign * lean), 1.0)) for sign in (1, -1)
    )
    u = half_u[..., None] * np.stack([cos, sin], axis=-1)
    v = half_v[..., None] * np.stack([-sin, cos], axis=-1)
    return np.stack(
        [centre_px - u - v, centre_px - u + v, centre_px + u + v, centre_px + u - v],
        axis=-2,
    )


def _as_quad(corners: FloatArray) -> Quad:
    a, b, c, d = ((float(x), float(y)) for x, y in corners)
    return (a, b, c, d)
