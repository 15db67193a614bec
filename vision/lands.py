"""The bare-lands check: what is left on the board when the chip is off.

Looks for the package's land pattern in a square-on picture of the board, measures
every land, and says which are missing, torn, moved, bridged, badly tinned or dirty.
Classical: metal differs from the board's own colour; no network is asked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import apply_homography
from vision.land_edges import Board, measure_land
from vision.land_faults import judge_lands
from vision.overhang import Strip
from vision.results import Finding, NotFound, worst_state

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.land_faults import LandSeen
    from vision.packages import LandPlace
    from vision.results import Point

    FloatArray = npt.NDArray[np.float64]

SEARCH_PX_PER_MM = 14.0
RIM_MM = 0.35
"""Board round the pattern that belongs to the template."""
COARSE_STEP_DEG = 3.0
FINE_STEP_DEG = 0.5
MIN_SCORE = 0.45
"""Correlation of pattern and picture below which the pattern is not there; drawn
boards without it stay under 0.3 (tests)."""
LIGHTNESS_WEIGHT = 0.35
COLOURED = 12.0
"""CIE chroma from which a board has a colour of its own, not white or black."""
SHADES = (0.35, 1.2)
"""Mask is this much darker over bare laminate and lighter over copper."""
MIN_LAND_PX = 5.0
"""Pixels across a land or a gap before anything is said of it (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LandsReport:
    """The answer: the lands as seen, and one finding for all of them.

    ``pattern_to_image`` carries the pattern's frame (mm) to the picture; ``score`` is
    the correlation 0..1.
    """

    lands: tuple[LandSeen, ...]
    finding: Finding
    pattern_to_image: tuple[tuple[float, float, float], ...]
    score: float


def strips_of(places: Sequence[LandPlace]) -> tuple[Strip, ...]:
    """Turn the land places of a package into strips.

    Parameters
    ----------
    places : sequence of LandPlace
        From ``packages.land_positions``.

    Returns
    -------
    tuple of Strip
        Package frame, mm.
    """
    outward = {
        "left": (-1.0, 0.0),
        "right": (1.0, 0.0),
        "top": (0.0, -1.0),
        "bottom": (0.0, 1.0),
    }
    found = []
    for place in places:
        x, y = place.size_mm
        is_row = place.side in ("left", "right")
        found.append(
            Strip(
                number=place.number,
                centre_mm=place.centre_mm,
                length_mm=x if is_row else y,
                width_mm=y if is_row else x,
                outward=outward[place.side],
            )
        )
    return tuple(found)


def read_lands(
    pixels: np.ndarray,
    pattern: Sequence[Strip],
    px_per_mm: float,
    *,
    turn_deg: float = 0.0,
    turn_reach_deg: float = 45.0,
    pad_mm: tuple[float, float] | None = None,
) -> LandsReport | NotFound:
    """Check the bare lands in a square-on picture of the board.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The picture, BGR, one scale all over (rectified).
    pattern : sequence of Strip
        The land pattern, mm.
    px_per_mm : float
        Scale of the picture, within about 3 %.
    turn_deg, turn_reach_deg : float
        How the pattern is expected to lie (counter-clockwise as seen), and how far it
        may be turned from that.  Most patterns look the same after half a turn: keep
        the reach under 90.
    pad_mm : (float, float) or None
        Sides of a pad under the body's middle, which is metal by design.

    Returns
    -------
    LandsReport or NotFound
        NotFound when the lands are too small in the picture or the pattern is not in
        it.
    """
    gap_mm = least_gap_mm(pattern)
    least_mm = min([gap_mm, *(land.width_mm for land in pattern)])
    if least_mm * px_per_mm < MIN_LAND_PX:
        return NotFound(
            reason=f"{least_mm * px_per_mm:.1f} px across a land or gap; "
            f"{MIN_LAND_PX:.0f} px are needed. Move the camera closer."
        )
    metal = metal_likeness(pixels)
    pose, score = _find_pattern(metal, pattern, px_per_mm, (turn_deg, turn_reach_deg))
    if score < MIN_SCORE:
        return NotFound(
            reason=f"the land pattern is not in the picture (likeness {score:.2f}, "
            f"{MIN_SCORE} is needed). Check the package, and that the chip is off."
        )
    to_image, seen = _settle(metal, pattern, pose, gap_mm)
    lands = judge_lands(pixels, metal, pattern, seen, to_image, pad_mm=pad_mm)
    return LandsReport(
        lands=lands,
        finding=sum_lands(lands),
        pattern_to_image=tuple(tuple(float(x) for x in row) for row in to_image),  # type: ignore[misc]
        score=score,
    )


def sum_lands(lands: Sequence[LandSeen]) -> Finding:
    """Sum up what was found of every land.

    Parameters
    ----------
    lands : sequence of LandSeen

    Returns
    -------
    Finding
    """
    reasons = tuple(reason for land in lands for reason in land.findings)
    good = f"all {len(lands)} lands are there, in place and free of bridges"
    worst = worst_state(land.state for land in lands)
    return Finding(state=worst, reasons=reasons or (good,))


def metal_likeness(pixels: np.ndarray) -> FloatArray:
    """Say how far each pixel is from the board's own colour.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        BGR.

    Returns
    -------
    ndarray of shape (rows, cols), float64
        Distance in CIE L*a*b* from the most common colour and its own shades, about 0
        to 100; lightness counts less than colour.
    """
    lab = cv2.cvtColor(pixels.astype(np.float32) / 255, cv2.COLOR_BGR2LAB)
    coarse = cv2.resize(lab, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    bins = np.round(coarse.reshape(-1, 3) / 8).astype(int)
    values, counts = np.unique(bins, axis=0, return_counts=True)
    common = values[np.argmax(counts)]
    near = np.all(np.abs(bins - common) <= 1, axis=1)
    board = np.median(coarse.reshape(-1, 3)[near], axis=0)
    shade = np.ones(lab.shape[:2])
    if np.hypot(board[1], board[2]) > COLOURED:
        shade = np.clip(lab @ board / (board @ board), *SHADES)
    apart = (lab - shade[:, :, None] * board) * [LIGHTNESS_WEIGHT, 1.0, 1.0]
    distance: FloatArray = np.linalg.norm(apart, axis=2).astype(np.float64)
    return distance


def least_gap_mm(pattern: Sequence[Strip]) -> float:
    """Find the least clear distance between neighbours of one row."""
    gaps = [1.0]
    for i, first in enumerate(pattern):
        for second in pattern[i + 1 :]:
            if np.dot(first.outward, second.outward) > 0.9:
                apart = math.dist(first.centre_mm, second.centre_mm)
                gaps.append(apart - (first.width_mm + second.width_mm) / 2)
    return min(gaps)


def _find_pattern(
    metal: FloatArray,
    pattern: Sequence[Strip],
    px_per_mm: float,
    turns: tuple[float, float],
) -> tuple[FloatArray, float]:
    """Best similarity from pattern to picture by correlation, coarse then fine."""
    shrink = min(1.0, SEARCH_PX_PER_MM / px_per_mm)
    small = cv2.resize(
        np.minimum(metal, 60).astype(np.float32),
        None,
        fx=shrink,
        fy=shrink,
        interpolation=cv2.INTER_AREA,
    )
    scale = px_per_mm * shrink
    middle, reach = turns
    best = (-1.0, middle, 1.0, (0.0, 0.0))
    for turn in np.arange(middle - reach, middle + reach + 0.1, COARSE_STEP_DEG):
        best = max(best, _match(small, pattern, scale, (float(turn), 1.0)))
    fine = np.arange(-COARSE_STEP_DEG, COARSE_STEP_DEG + 0.1, FINE_STEP_DEG)
    turn = best[1]
    for stretch in (0.97, 1.0, 1.03):
        for change in fine:
            best = max(best, _match(small, pattern, scale, (turn + change, stretch)))
    score, turn, stretch, centre = best
    full = ((np.array(centre) + 0.5) / shrink) - 0.5
    return _similarity(turn, px_per_mm * stretch, full), score


def match_pattern(
    metal: np.ndarray, pattern: Sequence[Strip], px_per_mm: float, turn_deg: float
) -> tuple[float, float, Point]:
    """Look for the land pattern at one turn and scale.

    Parameters
    ----------
    metal : ndarray of shape (rows, cols), float32
        ``metal_likeness``, small enough that a land is a few pixels wide.
    pattern : sequence of Strip
        The land pattern, mm.
    px_per_mm : float
        Scale of the picture.
    turn_deg : float
        How the pattern lies, counter-clockwise as seen.

    Returns
    -------
    (float, float, Point)
        Correlation, the turn, and where the pattern's middle lies, px.
    """
    score, turn, _, centre = _match(metal, pattern, px_per_mm, (turn_deg, 1.0))
    return score, turn, centre


def _match(
    small: np.ndarray,
    pattern: Sequence[Strip],
    scale: float,
    guess: tuple[float, float],
) -> tuple[float, float, float, Point]:
    """Correlate one turn and stretch: score, turn, stretch, centre in small pixels."""
    turn, stretch = guess
    corners = np.vstack([corners_mm(land) for land in pattern])
    local = apply_homography(_similarity(turn, scale * stretch, np.zeros(2)), corners)
    rim = RIM_MM * scale
    low, high = local.min(axis=0) - rim, local.max(axis=0) + rim
    size = np.ceil(high - low).astype(int)
    if np.any(size >= small.shape[::-1]):
        return -1.0, turn, stretch, (0.0, 0.0)
    template = np.zeros((size[1], size[0]), np.float32)
    for quad in (local - low).reshape(-1, 4, 2):
        cv2.fillConvexPoly(
            template,
            np.round(quad * 16).astype(np.int32),
            1.0,
            lineType=cv2.LINE_AA,
            shift=4,
        )
    care = cv2.dilate(template, np.ones((3, 3), np.float32), iterations=round(rim))
    score = cv2.matchTemplate(
        small, template, cv2.TM_CCOEFF_NORMED, mask=(care > 0).astype(np.float32)
    )
    score[~np.isfinite(score)] = -1
    _, value, _, place = cv2.minMaxLoc(score)
    centre = np.array(place) - low
    return float(value), turn, stretch, (float(centre[0]), float(centre[1]))


def _settle(
    metal: FloatArray, pattern: Sequence[Strip], pose: FloatArray, gap_mm: float
) -> tuple[FloatArray, dict[int, Strip]]:
    """Measure each land, lay the pattern on them anew, and measure again."""
    seen: dict[int, Strip] = {}
    for doubt_mm in (0.08, 0.03):
        board = Board(gray=metal, board_to_image=pose, registration_sd_mm=doubt_mm)
        found = {land.number: measure_land(board, land, gap_mm) for land in pattern}
        seen = {number: land for number, land in found.items() if land}
        good = [land for land in pattern if land.number in seen]
        if len(good) < 3:
            break
        wanted = np.array([land.centre_mm for land in good])
        places = np.array([seen[land.number].centre_mm for land in good])
        correction, _ = cv2.estimateAffinePartial2D(
            wanted, places, method=cv2.LMEDS if len(good) > 4 else cv2.RANSAC
        )
        if correction is None:
            break
        pose = pose @ np.vstack([correction, [0, 0, 1]])
        back = np.linalg.inv(np.vstack([correction, [0, 0, 1]]))
        seen = {number: _carried(land, back) for number, land in seen.items()}
    return pose, seen


def _carried(strip: Strip, matrix: FloatArray) -> Strip:
    x, y = apply_homography(matrix, [strip.centre_mm])[0]
    return replace(strip, centre_mm=(float(x), float(y)))


def _similarity(turn_deg: float, scale: float, centre: np.ndarray) -> FloatArray:
    """Pattern to picture; counter-clockwise as seen with y down."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return np.array(
        [
            [scale * c, scale * s, centre[0]],
            [-scale * s, scale * c, centre[1]],
            [0, 0, 1],
        ]
    )


def corners_mm(strip: Strip) -> FloatArray:
    """Give the four corners of a strip, in order round it."""
    out = np.array(strip.outward)
    side = np.array([-out[1], out[0]]) * strip.width_mm / 2
    half = out * strip.length_mm / 2
    centre = np.array(strip.centre_mm)
    return np.array(
        [
            centre - half - side,
            centre + half - side,
            centre + half + side,
            centre - half + side,
        ]
    )
