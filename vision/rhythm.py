"""Holds the rhythm of the leads in a close look against a size's drawing."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import apply_homography, homography

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.packages import Variant

    FloatArray = npt.NDArray[np.float64]

ALONG = np.arange(-0.04, 1.04, 1 / 240)
"""Places along a side, as shares of it; past the corners where outlines are off."""
OUTWARD = (np.arange(14) + 0.5) * 0.025
"""Places outward of a side, as shares of the body across it."""
LEAST_REACH_FRAC = 0.03
"""Leadless packages: their lands and fillets show this far out."""
BAND = (0.1, 0.9)
"""Of the lead's reach, what is read; shoulder and toe are uncertain."""
SCALES = (0.985, 1.0, 1.015)
SHIFTS = (-0.2, -0.1, 0.0, 0.1, 0.2)
"""Errors of the outline that are allowed for: of the side, and of the pitch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadStrips:
    """Brightness and lead map beside the four sides: (4, outward, along) each.

    Side k runs from corner k to the next, in the order in which leads are counted.
    """

    brightness: FloatArray = field(compare=False, repr=False)
    leads: FloatArray = field(compare=False, repr=False)


def cut_lead_strips(
    crop: npt.NDArray[np.uint8],
    lead_map: npt.NDArray[np.float32],
    corners_px: FloatArray,
) -> LeadStrips:
    """Cut the strips beside a body's four sides.

    Parameters
    ----------
    crop : ndarray of shape (n, n, 3), uint8
        The close look's picture, BGR.
    lead_map : ndarray of shape (n // 2, n // 2)
        Share of belief that a cell is lead, 0..1.
    corners_px : ndarray of shape (4, 2)
        Body corners, crop px, counter-clockwise, the likeliest pin 1 first.

    Returns
    -------
    LeadStrips
    """
    light = cv2.cvtColor(crop, cv2.COLOR_BGR2LAB)[..., 0].astype(np.float32)
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    across, along = np.meshgrid(-OUTWARD, ALONG, indexing="ij")
    grid = np.stack([along.ravel(), across.ravel()], 1)
    pairs = []
    for side in range(4):
        to_crop = homography(square, np.roll(corners_px, -side, axis=0))
        at = apply_homography(to_crop, grid)
        pairs.append([_read(light, at), _read(lead_map, at / 2 - 0.25)])
    strips = np.array(pairs, float)
    return LeadStrips(brightness=strips[:, 0], leads=strips[:, 1])


def rhythm_share(strips: LeadStrips, variant: Variant) -> float:
    """Correlate what lies beside the body with where a size's leads would be.

    Parameters
    ----------
    strips : LeadStrips
        From ``cut_lead_strips``.
    variant : Variant
        The size that is tried.

    Returns
    -------
    float
        Mean over the sides with leads of the correlation, -1..1; of brightness or
        of the lead map, whichever shows the leads better.

    Notes
    -----
    Pulses at the drawing's places, of the drawing's widths, allowed to be off by the
    outline's error; brightness is taken relative to its surroundings of one pitch, so
    that shadows and glare do not count.
    """
    both = []
    for strip, is_light in ((strips.brightness, True), (strips.leads, False)):
        shares = []
        for side in range(4):
            if variant.leads_per_side[side] == 0:
                continue
            pulses = _pulses(variant, side)
            first, last = _band(variant, side)
            profile = strip[side, first:last].mean(0)
            if is_light:
                sigma = max(2.0, 0.8 * _pitch_frac(variant, side) * 240)
                profile = profile - _smoothed(profile, sigma)
            profile = profile - profile.mean()
            size = np.sqrt((profile**2).sum()) + 1e-6
            shares.append(float((pulses @ profile).max() / size))
        both.append(np.mean(shares))
    return float(max(both))


def _read(picture: npt.NDArray[np.float32], at: FloatArray) -> FloatArray:
    shape = (len(OUTWARD), len(ALONG))
    x, y = (at[:, k].reshape(shape).astype(np.float32) for k in (0, 1))
    values = cv2.remap(
        np.asarray(picture, np.float32), x, y, cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return values.astype(float)


def _side_mm(variant: Variant, side: int) -> tuple[float, float, float]:
    """Body along the side, body across it, and how far the leads reach out, mm."""
    x, y = variant.body_x_mm[1], variant.body_y_mm[1]
    if side % 2 == 0:
        return y, x, (variant.span_x_mm[1] - x) / 2
    return x, y, (variant.span_y_mm[1] - y) / 2


def _pitch_frac(variant: Variant, side: int) -> float:
    return variant.pitch_mm / _side_mm(variant, side)[0]


def _band(variant: Variant, side: int) -> tuple[int, int]:
    """Rows of a strip between shoulder and toe."""
    _, across, reach = _side_mm(variant, side)
    reach_frac = max(reach / across, LEAST_REACH_FRAC)
    step = OUTWARD[1] - OUTWARD[0]
    first = int(BAND[0] * reach_frac / step)
    last = max(first + 1, round(BAND[1] * reach_frac / step))
    return first, min(last, len(OUTWARD))


@lru_cache(maxsize=2000)
def _pulses(variant: Variant, side: int) -> FloatArray:
    """Patterns of pulses (tries, along), each of mean nought and length one."""
    along = _side_mm(variant, side)[0]
    sign = 1.0 if side < 2 else -1.0
    half = variant.lead_width_mm[1] / along / 2
    tries = []
    for scale in SCALES:
        for shift in SHIFTS:
            pulse = np.zeros(len(ALONG))
            for offset in variant.side_offsets_mm[side]:
                middle = (
                    0.5
                    + sign * offset / along * scale
                    + shift * _pitch_frac(variant, side)
                )
                rise = 0.5 + 0.75 * (half - np.abs(ALONG - middle)) / half
                pulse = np.maximum(pulse, rise.clip(0, 1))
            pulse -= pulse.mean()
            tries.append(pulse / (np.sqrt((pulse**2).sum()) + 1e-9))
    return np.array(tries)


def _smoothed(profile: FloatArray, sigma: float) -> FloatArray:
    row = profile.reshape(1, -1).astype(np.float32)
    blurred = cv2.GaussianBlur(row, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)
    smooth: FloatArray = blurred[0].astype(float)
    return smooth
