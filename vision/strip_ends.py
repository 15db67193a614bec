"""A strip in the photo: the frame across it, and where its outer end lies."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vision.edge_pattern import fit_pattern
from vision.foot_pattern import cover_past, strip_pattern
from vision.geometry import apply_homography
from vision.overhang import Strip
from vision.results import NotFound

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.edge_pattern import EdgePattern, PatternFit
    from vision.results import Point

    FloatArray = npt.NDArray[np.float64]

INSET_FRAC = 0.15
"""Of a strip's length left out at each end: corners are rounded."""
EDGE_MODEL_PX = 0.08
"""What texture and rounded edges leave besides noise; benchmark bench_alignment."""
END_SPREAD = 1.2
"""An end is a short edge beside two corners: its fit is that much worse than it says
(bench_alignment: 89.8 % of 1,673 toes within U without it)."""
END_WALL_SHARE = 0.5
"""Spread of a toe, as a share of its end wall seen: which of the two edges was it."""
SOLDER_PAST_MM, SOLDER_PAST_SD_MM = 0.12, 0.10
"""Solder that shows past a toe (assumed: from none to 0.2 mm)."""
LEAST_WALL_PX = 0.3
"""Below this the wall's edge is not told from the toe's."""
SOLDERED_NOISE = 0.9
"""Solder is seen past a toe where a fit with it leaves so much less unexplained."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """One photo laid out on the board: the map and how well it is known there.

    ``registration_sd_mm``: standard uncertainty per axis of the map at the chip.
    """

    gray: np.ndarray
    board_to_image: np.ndarray
    registration_sd_mm: float


class Across:
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
        self.segment: tuple[Point, Point] = (point(image[0]), point(image[1]))
        self.scale = float(run[0] * step[1] - run[1] * step[0])


def fit_end(
    board: Board, strip: Strip, *, beyond_mm: float | None, wall_mm: float = 0.0
) -> tuple[float, float] | NotFound:
    """Find the outer end of a strip.

    Parameters
    ----------
    board : Board
        The photo.
    strip : Strip
        A land or a foot, its end where it is expected.
    beyond_mm : float or None
        How far the land's end lies past a foot's; None for a bare land.
    wall_mm : float
        How much of the end's wall is seen past it.

    Returns
    -------
    (float, float) or NotFound
        Shift of the end outward and its standard uncertainty, mm.

    Notes
    -----
    Solder past a toe has an edge of its own; it counts where a fit with it leaves
    clearly less unexplained, as without solder it leaves the toe's place open.
    """
    out, side = np.array(strip.outward), np.array([-strip.outward[1], strip.outward[0]])
    end = np.array(strip.centre_mm) + out * strip.length_mm / 2
    half = strip.width_mm / 2 * (1 - 2 * INSET_FRAC)
    cross = Strip(
        number=strip.number,
        centre_mm=point(end),
        length_mm=2 * half / (1 - 2 * INSET_FRAC),
        width_mm=strip.length_mm,
        outward=point(-side),
    )
    across = Across(board, cross)
    reach = min(0.35 * strip.length_mm, 0.35)
    if beyond_mm is not None and beyond_mm > 0.1:
        reach = min(reach, 0.75 * beyond_mm)
    prior = 0.25 * strip.width_mm
    ends = (-reach * across.scale, (reach + max(wall_mm, 0.0)) * across.scale)

    def fitted(*, is_soldered: bool) -> PatternFit | NotFound:
        pattern = _end_pattern(across.scale, prior, wall_mm, is_soldered=is_soldered)
        return fit_pattern(board.gray, *across.segment, pattern, reach_px=ends)

    fit = fitted(is_soldered=False)
    if isinstance(fit, NotFound):
        return fit
    if beyond_mm is not None:
        soldered = fitted(is_soldered=True)
        if soldered and soldered.noise < SOLDERED_NOISE * fit.noise:
            fit = soldered
    sd = math.hypot(math.sqrt(float(fit.covariance[0, 0])), EDGE_MODEL_PX)
    sd_mm = math.hypot(
        END_SPREAD * sd / across.scale, END_WALL_SHARE * max(wall_mm, 0.0)
    )
    return float(fit.shifts_px[0]) / across.scale, sd_mm


def _end_pattern(
    scale: float, prior_mm: float, wall_mm: float, *, is_soldered: bool
) -> EdgePattern:
    """Edges past an end: the end's own, that of its wall if seen, that of solder."""
    is_wall_seen = wall_mm * scale > LEAST_WALL_PX
    edges, mixing = [0.0], [(1.0, 0.0, 0.0)]
    if is_wall_seen:
        edges.append(wall_mm)
        mixing.append((1.0, 1.0, 0.0))
    if is_soldered:
        edges.append(max(wall_mm, 0.0) + SOLDER_PAST_MM)
        mixing.append((1.0, float(is_wall_seen), 1.0))
    return strip_pattern(
        scale,
        base_mm=tuple(edges),
        mixing=tuple(mixing),
        prior_mm=(prior_mm, 0.12 * abs(wall_mm) + 1e-4, SOLDER_PAST_SD_MM),
        cover=cover_past,
    )


def point(place: FloatArray) -> Point:
    """Give an array of two numbers as a point."""
    return float(place[0]), float(place[1])
