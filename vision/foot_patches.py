"""Feet measured from above by a network: each toe, and both sides of each foot.

A patch of the photo is laid along every foot, always ``PX_PER_WIDTH`` pixels a lead
width, rows outward, the expected toe at ``TOE_ROW`` of the middle column.  Beside the
colours the network is told where the land lies and how far the foot's walls show.  Its
answers are profiles: how likely the toe is at every row, and each side at every column,
taken where row ``EDGE_ROW`` crosses it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision import networks
from vision.geometry import apply_homography
from vision.overhang import end_and_axes

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.overhang import Strip

    FloatArray = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

PX_PER_WIDTH = 20
ROWS, COLS = 96, 64
TOE_ROW, EDGE_ROW = 52, 36
CHANNELS = 6
"""Blue, green, red, the land, and how far the walls show outward and across."""
STEP_PX, SOFT_PX = 2, 1.4
"""Cells of the profiles, and how blurred they were taught; training says the same."""
FINE = 2
"""Patches are sampled so much finer, or as fine as the photo, and averaged."""
LEAST_SD_PX = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class FootMarks:
    """Where feet are, lead widths from the expected toes: outward and across.

    ``toe`` (n,), ``sides`` (n, 2) where they cross ``EDGE_ROW``; ``lean`` (n, 2) how
    far upper faces are seen off the walls below them, outward and across; each with its
    standard deviations.
    """

    toe: FloatArray = field(compare=False, repr=False)
    sides: FloatArray = field(compare=False, repr=False)
    toe_sd: FloatArray = field(compare=False, repr=False)
    sides_sd: FloatArray = field(compare=False, repr=False)
    lean: FloatArray = field(compare=False, repr=False)
    lean_sd: FloatArray = field(compare=False, repr=False)


def read_feet(
    pixels: ByteImage,
    to_photo: FloatArray,
    feet: Sequence[Strip],
    lands: Sequence[Strip],
    walls_mm: FloatArray | None = None,
) -> FootMarks:
    """Find toes and sides of feet.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        Upright photo, BGR.
    to_photo : ndarray of shape (3, 3)
        From the board, mm, to photo pixels.
    feet : sequence of Strip
        Upper faces where they are expected to be seen, laid along their lands; at least
        one.
    lands : sequence of Strip
        The land of each.
    walls_mm : ndarray of shape (n, 2) or None
        How far each upper face is seen off its place on the board; None where the
        camera looked straight down.

    Returns
    -------
    FootMarks

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    if walls_mm is None:
        walls_mm = np.zeros((len(feet), 2))
    patches = np.stack(
        [
            _patch(pixels, to_photo, foot, land, wall)
            for foot, land, wall in zip(feet, lands, walls_mm, strict=True)
        ]
    )
    toe, sides, lean = networks.run("feet", patches)
    toe_px, toe_sd = _told(toe)
    sides_px, sides_sd = _told(sides)
    return FootMarks(
        toe=(toe_px - TOE_ROW) / PX_PER_WIDTH,
        sides=(sides_px - (COLS - 1) / 2) / PX_PER_WIDTH,
        toe_sd=toe_sd / PX_PER_WIDTH,
        sides_sd=sides_sd / PX_PER_WIDTH,
        lean=lean[:, :2].astype(float),
        lean_sd=np.exp(np.clip(lean[:, 2:].astype(float), -4, 2)),
    )


def _patch(
    pixels: ByteImage, to_photo: FloatArray, foot: Strip, land: Strip, wall: FloatArray
) -> ByteImage:
    toe, axes = end_and_axes(foot)
    unit_mm = foot.width_mm
    inside = (np.array(land.centre_mm) - toe) @ axes.T / unit_mm
    half = np.array([land.length_mm, land.width_mm]) / 2 / unit_mm
    rows = (np.arange(ROWS) - TOE_ROW) / PX_PER_WIDTH - inside[0]
    cols = (np.arange(COLS) - (COLS - 1) / 2) / PX_PER_WIDTH - inside[1]
    away = np.minimum.outer(half[0] - np.abs(rows), half[1] - np.abs(cols))
    known = np.empty((ROWS, COLS, 3), np.uint8)
    known[..., 0] = np.round(255 * np.clip(0.5 + away * PX_PER_WIDTH / 2, 0, 1))
    shows = 0.5 + 0.5 * (wall @ axes.T) / unit_mm
    known[..., 1:] = np.round(255 * np.clip(shows, 0, 1))
    colour = _laid(pixels, to_photo, toe, axes * unit_mm / PX_PER_WIDTH)
    return np.concatenate([colour, known], axis=2)


def _laid(
    pixels: ByteImage, to_photo: FloatArray, toe: FloatArray, step_mm: FloatArray
) -> ByteImage:
    """Lay the photo along a foot; ``step_mm`` (2, 2): to the next row and column."""
    ends = apply_homography(to_photo, [toe, toe + step_mm[0], toe + step_mm[1]])
    step_px = float(np.linalg.norm(ends[1:] - ends[0], axis=1).max())
    fine = max(FINE, math.ceil(step_px))
    patch = np.eye(3)
    patch[:2, 0], patch[:2, 1] = step_mm[1] / fine, step_mm[0] / fine
    middle = (fine - 1) / 2
    patch[:2, 2] = (
        toe
        - step_mm[0] * (TOE_ROW + middle / fine)
        - step_mm[1] * ((COLS - 1) / 2 + middle / fine)
    )
    fine_picture = cv2.warpPerspective(
        pixels,
        to_photo @ patch,
        (COLS * fine, ROWS * fine),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    small = cv2.resize(fine_picture, (COLS, ROWS), interpolation=cv2.INTER_AREA)
    return small.astype(np.uint8, copy=False)


def _told(logits: npt.NDArray[np.float32]) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of profiles (..., cells), px."""
    share = np.exp(logits.astype(float) - logits.max(-1, keepdims=True))
    share /= share.sum(-1, keepdims=True)
    px = np.arange(logits.shape[-1]) * STEP_PX + (STEP_PX - 1) / 2
    mean = share @ px
    spread = np.einsum("...k,...k->...", share, (px - mean[..., None]) ** 2)
    return mean, np.sqrt(np.maximum(spread - SOFT_PX**2, LEAST_SD_PX**2))
