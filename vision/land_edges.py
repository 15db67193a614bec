"""Where a bare land is: its two sides and its outer end, by the edges of its metal."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from vision.edge_pattern import EdgePattern, fit_pattern
from vision.geometry import apply_homography
from vision.overhang import Strip
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    from vision.results import Point

    FloatArray = npt.NDArray[np.float64]

INSET_FRAC = 0.15
"""Of a strip's length left out at each end: corners are rounded."""
EDGE_MODEL_PX, EDGE_MODEL_MM = 0.08, 0.001
"""What texture and rounded edges leave besides noise."""
END_SPREAD = 1.2
"""An end is a short edge beside two corners: its fit is that much worse than it says
(1,673 drawn ends: 89.8 % within U without it)."""
GUESS_FRAC = 0.2
"""Prior spread of a first place, as a share of the width."""
WIDTH_FRAC = 0.08
"""Prior spread of a width."""
END_REACH_MM, END_REACH_FRAC = 0.35, 0.35
"""How far from an end pixels count, also as a share of the length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """One photo laid out on the board: the map and how well it is known there.

    ``registration_sd_mm``: standard uncertainty per axis of the map.
    """

    gray: np.ndarray
    board_to_image: np.ndarray
    registration_sd_mm: float


def measure_land(board: Board, land: Strip, gap_mm: float) -> Strip | NotFound:
    """Measure a bare land.

    Parameters
    ----------
    board : Board
        The bare-lands photo.
    land : Strip
        Where the land pattern puts it.
    gap_mm : float
        Clear distance to the next land of the row.

    Returns
    -------
    Strip or NotFound
        The land as seen, with standard uncertainties.
    """
    guess = max(GUESS_FRAC * land.width_mm, 2 * board.registration_sd_mm)
    across = _Across(board, land)
    pattern = _pattern(
        across.scale,
        base_mm=(-land.width_mm / 2, land.width_mm / 2),
        mixing=((1.0, -0.5), (1.0, 0.5)),
        prior_mm=(guess, WIDTH_FRAC * land.width_mm),
        cover=_cover_land,
    )
    reach = (land.width_mm / 2 + min(0.6 * gap_mm, land.width_mm)) * across.scale
    fit = fit_pattern(board.gray, *across.segment, pattern, reach_px=(-reach, reach))
    if isinstance(fit, NotFound):
        return fit
    end = _fit_end(board, land)
    if isinstance(end, NotFound):
        return end
    shift, width = fit.shifts_px / across.scale
    sd = np.sqrt(np.diag(fit.covariance)) / across.scale
    moved = _moved(land, float(shift), end[0], float(width))
    return replace(
        moved,
        across_sd_mm=math.hypot(
            float(sd[0]), EDGE_MODEL_PX / across.scale, EDGE_MODEL_MM
        ),
        width_sd_mm=float(sd[1]),
        end_sd_mm=end[1],
    )


class _Across:
    """A strip's middle line in the photo and the scale across it, px/mm."""

    def __init__(self, board: Board, strip: Strip) -> None:
        out = np.array(strip.outward)
        centre = np.array(strip.centre_mm)
        half = strip.length_mm / 2 * (1 - 2 * INSET_FRAC)
        ends = np.array([centre - out * half, centre + out * half])
        image = apply_homography(board.board_to_image, ends)
        side = np.array([-out[1], out[0]])
        near = np.array([centre - 0.01 * side, centre + 0.01 * side])
        step = np.diff(apply_homography(board.board_to_image, near), axis=0)[0] / 0.02
        run = (image[1] - image[0]) / np.hypot(*(image[1] - image[0]))
        self.segment: tuple[Point, Point] = (_point(image[0]), _point(image[1]))
        self.scale = float(run[0] * step[1] - run[1] * step[0])


def _fit_end(board: Board, strip: Strip) -> tuple[float, float] | NotFound:
    """Shift of the outer end outward and its standard uncertainty, mm."""
    out, side = np.array(strip.outward), np.array([-strip.outward[1], strip.outward[0]])
    end = np.array(strip.centre_mm) + out * strip.length_mm / 2
    cross = Strip(
        number=strip.number,
        centre_mm=_point(end),
        length_mm=strip.width_mm,
        width_mm=strip.length_mm,
        outward=_point(-side),
    )
    across = _Across(board, cross)
    reach = min(END_REACH_FRAC * strip.length_mm, END_REACH_MM) * across.scale
    pattern = _pattern(
        across.scale,
        base_mm=(0.0,),
        mixing=((1.0,),),
        prior_mm=(0.25 * strip.width_mm,),
        cover=_cover_end,
    )
    fit = fit_pattern(board.gray, *across.segment, pattern, reach_px=(-reach, reach))
    if isinstance(fit, NotFound):
        return fit
    sd = math.hypot(math.sqrt(float(fit.covariance[0, 0])), EDGE_MODEL_PX)
    return float(fit.shifts_px[0]) / across.scale, END_SPREAD * sd / across.scale


def _pattern(
    scale: float,
    *,
    base_mm: tuple[float, ...],
    mixing: tuple[tuple[float, ...], ...],
    prior_mm: tuple[float, ...],
    cover: Callable[[FloatArray], FloatArray],
) -> EdgePattern:
    """Turn a pattern in mm across into px; searched from nine places of its shift."""
    prior = np.array(prior_mm) * scale
    starts = np.zeros((9, len(prior)))
    starts[:, 0] = np.linspace(-2, 2, 9) * prior[0]
    return EdgePattern(
        base_px=np.array(base_mm) * scale,
        mixing=np.array(mixing),
        prior_sd_px=prior,
        starts_px=starts,
        cover=cover,
    )


def _cover_land(rise: FloatArray) -> FloatArray:
    """Two edges: land and mask."""
    land = rise[:, 0] - rise[:, 1]
    return np.column_stack([land, 1 - land])


def _cover_end(rise: FloatArray) -> FloatArray:
    """One edge: land and mask."""
    return np.column_stack([1 - rise[:, 0], rise[:, 0]])


def _moved(strip: Strip, across_mm: float, end_mm: float, width_mm: float) -> Strip:
    """Give the strip moved across, its outer end moved outwards, its width changed."""
    out, side = np.array(strip.outward), np.array([-strip.outward[1], strip.outward[0]])
    centre = np.array(strip.centre_mm) + across_mm * side + end_mm * out
    return replace(strip, centre_mm=_point(centre), width_mm=strip.width_mm + width_mm)


def _point(place: FloatArray) -> Point:
    return float(place[0]), float(place[1])
