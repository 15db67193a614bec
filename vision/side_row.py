"""Finds one row of feet in a photo taken nearly along the board.

The shoulders of the leads stand bright before the dark body: as many pulses as the
row has leads, all of one width and one distance.  That pattern is looked for at every
turn and distance that a hand-held photo of one row may have.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.results import NotFound

if TYPE_CHECKING:
    from vision.results import Point

    Floats = np.ndarray

SEARCH_WIDTH_PX = 360
TURNS_DEG = np.arange(-20.0, 20.1, 2.5)
ROW_SHARES = np.geomspace(0.25, 0.92, 14)
"""How much of the photo's width the row may take."""
FINE_TURNS_DEG = (-1.25, 0.0, 1.25)
FINE_SHARES = (0.96, 0.98, 1.0, 1.02, 1.04)
SHOULDER_FRAC = 0.5
"""Height of the band in which pulses are looked for, in pitches."""
LEAST_MATCH = 0.70
"""Found rows of path-traced side views match by 0.79 to 0.88."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideRow:
    """Where a row of leads lies: pulses of brightness, seen from the side.

    ``origin_px`` is half a pitch left of the leftmost shoulder; ``along`` and ``down``
    are unit vectors of the photo, along the row to the right and from shoulder to foot.
    """

    origin_px: Point
    along: Point
    down: Point
    pitch_px: float
    lead_count: int


def find_row(
    light: np.ndarray, lead_count: int, *, width_frac: float
) -> SideRow | NotFound:
    """Find the row of shoulders that fits a package best.

    Parameters
    ----------
    light : ndarray of shape (rows, cols), uint8
        Brightness of the upright photo.
    lead_count : int
        Leads in the row, at least 3.
    width_frac : float
        Width of a lead over the pitch.

    Returns
    -------
    SideRow or NotFound
    """
    shrink = SEARCH_WIDTH_PX / light.shape[1]
    small = cv2.resize(
        light, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA
    ).astype(np.float32)
    pitches = ROW_SHARES * SEARCH_WIDTH_PX / lead_count
    best = _best_match(small, TURNS_DEG, pitches, lead_count, width_frac)
    turns = [best[1] + step for step in FINE_TURNS_DEG]
    fine = np.array(FINE_SHARES) * best[2]
    match, turn_deg, pitch, corner = _best_match(
        small, np.array(turns), fine, lead_count, width_frac
    )
    if match < LEAST_MATCH:
        return NotFound(
            reason=f"no row of {lead_count} bright leads before a dark body: the best "
            f"place fits by {match:.2f}; {LEAST_MATCH:.2f} needed"
        )
    back = cv2.invertAffineTransform(_turning(small, turn_deg))
    band = max(3, int(SHOULDER_FRAC * pitch))
    origin = back @ np.array([corner[0], corner[1] + band / 2, 1.0]) / shrink
    return SideRow(
        origin_px=(float(origin[0]), float(origin[1])),
        along=(float(back[0, 0]), float(back[1, 0])),
        down=(float(back[0, 1]), float(back[1, 1])),
        pitch_px=pitch / shrink,
        lead_count=lead_count,
    )


def place_px(row: SideRow, along_pitches: Floats, down_pitches: Floats) -> Floats:
    """Say where places of a row lie in the photo.

    Parameters
    ----------
    row : SideRow
    along_pitches, down_pitches : ndarray of any one shape
        From the origin, in pitches.

    Returns
    -------
    ndarray of that shape and 2 more: x and y, px
    """
    origin, along, down = map(np.array, (row.origin_px, row.along, row.down))
    places: Floats = origin + row.pitch_px * (
        along * np.asarray(along_pitches)[..., None]
        + down * np.asarray(down_pitches)[..., None]
    )
    return places


def _best_match(
    small: np.ndarray,
    turns_deg: Floats,
    pitches_px: Floats,
    lead_count: int,
    width_frac: float,
) -> tuple[float, float, float, tuple[int, int]]:
    """Give the best correlation, its turn, pitch and upper left corner."""
    rows, cols = small.shape
    best = (-1.0, 0.0, float(pitches_px[0]), (0, 0))
    for turn in turns_deg:
        turned = cv2.warpAffine(
            small, _turning(small, turn), (cols, rows), borderMode=cv2.BORDER_REPLICATE
        )
        for pitch in pitches_px:
            pulses = _pulses(lead_count, pitch, width_frac)
            if pulses.shape[1] >= cols or pulses.shape[0] >= rows:
                continue
            fit = cv2.matchTemplate(turned, pulses, cv2.TM_CCOEFF_NORMED)
            fit[~np.isfinite(fit)] = -1.0
            _, value, _, corner = cv2.minMaxLoc(fit)
            if value > best[0]:
                best = (
                    float(value),
                    float(turn),
                    float(pitch),
                    (int(corner[0]), int(corner[1])),
                )
    return best


def _turning(small: np.ndarray, turn_deg: float) -> Floats:
    rows, cols = small.shape
    matrix: Floats = cv2.getRotationMatrix2D((cols / 2, rows / 2), turn_deg, 1.0)
    return matrix


def _pulses(lead_count: int, pitch_px: float, width_frac: float) -> np.ndarray:
    """Draw bright leads before a dark body, half a pitch high."""
    along = (np.arange(round(pitch_px * lead_count)) + 0.5) / pitch_px
    aside = np.abs(along % 1 - 0.5)
    pulse = 1 / (1 + np.exp((aside - width_frac / 2) * 25))
    height = max(3, int(SHOULDER_FRAC * pitch_px))
    return np.tile(pulse.astype(np.float32), (height, 1))
