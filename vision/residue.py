"""Tells whether the board beside a chip got darker or browner: flux, charring.

A note, never a fault: shadows and another light do the same, so the board farther out
is the measure of what the light did.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import apply_homography, longest_side
from vision.small import shrunk_part

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Package, Photo, Registration

    ByteImage = npt.NDArray[np.uint8]
    FloatArray = npt.NDArray[np.float64]

BODY_PX = 80.0
"""Longest side of the body in the working picture."""
REACH = 1.6
"""Half the working picture, body lengths."""
LEADS_FRAC, NEAR_FRAC, FAR_FRAC = 0.06, 0.30, 0.45
"""From leads and body: left out, looked at, and where the board is the measure, body
lengths; without known leads their reach is taken to be a quarter."""
UNKNOWN_REACH_FRAC = 0.25
ALIKE, BLUER = np.full(3, 1 / 3), np.array([1, -0.5, -0.5])
"""Shares of blue, green and red: brightness, and blue over the rest."""
SMOOTH_PX, MOST_EDGE = 1.5, 0.10
"""Blur, and change of the logarithm of light from pixel to pixel above which a place
is no plain board: the two photos lie over one another to about a pixel."""
BLACK = 12.0
DARKER, BROWNER = 0.45, 0.35
"""Natural logarithm of light lost, and of blue against red and green lost."""
LEAST_SHARE, TIMES_FAR = 0.04, 3.0
"""Share of the board beside the chip from which it is said, and times that of the
board farther out."""
FEWEST_PX = 150


@dataclass(frozen=True, slots=True, kw_only=True)
class Residue:
    """Share of the plain board that got darker or browner: beside the chip, and far."""

    near_frac: float
    far_frac: float

    @property
    def sentence(self) -> str:
        """What is said of it; empty where there is nothing to say."""
        if self.near_frac < max(LEAST_SHARE, TIMES_FAR * self.far_frac):
            return ""
        return (
            f"{100 * self.near_frac:.0f} % of the board beside the chip is darker or "
            f"browner than before ({100 * self.far_frac:.0f} % farther out): flux, "
            "charring or a shadow. Clean it gently and look again"
        )


def find_residue(
    before_photo: Photo,
    before: Package,
    after_photo: Photo,
    after: Package,
    registration: Registration,
) -> Residue | None:
    """Compare the plain board beside a chip in both photos.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before : Package
        The chip in it.
    after_photo : Photo
        Upright photo.
    after : Package
        The chip in it.
    registration : Registration
        The board, before to after.

    Returns
    -------
    Residue or None
        None where too little plain board is seen.
    """
    board = np.asarray(registration.before_to_after, float)
    outline = np.asarray(before.outline_px, float)
    scale = BODY_PX / longest_side(outline)
    half = REACH * BODY_PX
    x, y = half - scale * outline.mean(axis=0)
    to_small = np.array([[scale, 0, x], [0, scale, y], [0, 0, 1]])
    then, seen_then = _small(before_photo.pixels, np.linalg.inv(to_small), half)
    now, seen_now = _small(after_photo.pixels, board @ np.linalg.inv(to_small), half)
    chip = _chip(before, to_small)
    chip |= _chip(after, to_small @ np.linalg.inv(board))
    free = np.where(chip, 0, 255).astype(np.uint8)
    away = cv2.distanceTransform(free, cv2.DIST_L2, 5) / BODY_PX
    plain = seen_then & seen_now & _is_plain(then) & _is_plain(now)
    near = plain & (away > LEADS_FRAC) & (away < NEAR_FRAC)
    far = plain & (away > FAR_FRAC)
    if near.sum() < FEWEST_PX or far.sum() < FEWEST_PX:
        return None
    change = now - then
    change = change - _light(change, far)
    lost = change @ ALIKE < -DARKER
    lost |= change @ BLUER < -BROWNER
    return Residue(near_frac=float(lost[near].mean()), far_frac=float(lost[far].mean()))


def _small(
    pixels: ByteImage, to_photo: FloatArray, half: float
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Logarithm of the light round the chip, BGR, and where the photo reaches."""
    side = round(2 * half)
    ends = np.array([[0, 0], [side, 0], [side, side], [0, side]], float)
    density = max(1.0, longest_side(apply_homography(to_photo, ends)) / side)
    # Every second pixel or so is enough, and far quicker than the mean of all.
    step = max(1, int(density / 2))
    to_few = np.diag([1 / step, 1 / step, 1.0]) @ to_photo
    few = pixels[::step, ::step]
    part, to_part = shrunk_part(few, apply_homography(to_few, ends), density / step)
    matrix = to_part @ to_few
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    seen = cv2.warpPerspective(
        np.full(part.shape[:2], 255, np.uint8), matrix, (side, side), flags=flags
    )
    light = cv2.warpPerspective(part, matrix, (side, side), flags=flags)
    smooth = cv2.GaussianBlur(light, (0, 0), SMOOTH_PX)
    inside = cv2.erode(seen, np.ones((9, 9), np.uint8)) == 255
    return np.log(smooth.astype(np.float64) + BLACK), np.asarray(inside)


def _chip(package: Package, to_small: FloatArray) -> npt.NDArray[np.bool_]:
    """Mark body and leads in the small picture."""
    side = round(2 * REACH * BODY_PX)
    mask = np.zeros((side, side), np.uint8)
    points = np.array([*package.outline_px, *(lead.toe_px for lead in package.leads)])
    placed = apply_homography(to_small, points).astype(np.float32)
    cv2.fillConvexPoly(mask, np.round(cv2.convexHull(placed)).astype(np.int32), 255)
    if not package.leads:
        grow = 2 * round(UNKNOWN_REACH_FRAC * BODY_PX) + 1
        mask = cv2.dilate(mask, np.ones((grow, grow), np.uint8)).astype(np.uint8)
    return np.asarray(mask > 0)


def _is_plain(light: FloatArray) -> npt.NDArray[np.bool_]:
    """Places without edges: board under its mask, not parts, print or solder."""
    gray = light @ ALIKE
    down, right = np.gradient(gray)
    return np.asarray(np.hypot(down, right) < MOST_EDGE)


def _light(change: FloatArray, far: npt.NDArray[np.bool_]) -> FloatArray:
    """Fit what another light did: per channel even, and a slope over the picture."""
    rows, cols = np.indices(far.shape)
    ramps = np.stack([np.ones(far.shape), cols / far.shape[1], rows / far.shape[0]], -1)
    known, wanted = ramps[far], change[far]
    weight = np.ones((len(known), 1))
    solved = np.zeros((3, change.shape[2]))
    for _ in range(3):
        weighted = known * weight
        # Places in one line leave the slope across it open; it is then taken to be 0.
        solved, *_ = np.linalg.lstsq(weighted.T @ known, weighted.T @ wanted)
        blue, green, red = np.abs(wanted - known @ solved).T
        off = np.maximum(np.maximum(blue, green), red)
        weight = 1 / np.maximum(off, 0.1)[:, None]
    return np.asarray(ramps @ solved)
