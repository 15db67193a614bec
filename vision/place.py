"""Which way and how far to move a chip that is being set on its lands.

The first frame is measured in full elsewhere (outline and registration against the
before photo).  From then on the points of the board and of the chip are followed by
sparse optical flow from frame to frame, some tens of milliseconds each.  When following
fails, and every few dozen frames (small errors add up), the caller measures in full.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.angles import rotation_between_deg, wrap_deg
from vision.geometry import apply_homography, derivative, side_lengths
from vision.results import NotFound

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

WORK_PX = 1100
"""Longest side of the picture that is followed in."""
BOARD_POINTS, CHIP_POINTS = 220, 90
MIN_BOARD_POINTS, MIN_CHIP_POINTS = 14, 8
BACK_PX = 0.6
"""A point must return this near to where it started when followed back."""
FIT_PX = 1.2
CHIP_MARGIN_FRAC = 0.35
"""Left out round the body when choosing board points: leads, and room to move."""
CHIP_INSET_FRAC = -0.08
"""Points on the body's rim see the board beside it and are pulled by it."""
TRACK_FLOOR_PX = 0.1
TURN_FLOOR_DEG = 0.08
"""What following leaves besides scatter (benchmark bench_place)."""
BODY_TOP_MM = 1.75
WINDOW = (21, 21)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """What the chip still needs, in the axes of the live picture (x right, y down).

    ``dx_mm``, ``dy_mm``: how far to push it; ``turn_deg``: how far to turn it,
    counter-clockwise positive as seen.  ``u_*`` expanded uncertainties, k = 2.
    """

    dx_mm: float
    dy_mm: float
    turn_deg: float
    u_mm: float
    u_deg: float


@dataclass(slots=True, kw_only=True)
class Follower:
    """The state between frames; made by ``start``, moved on by ``follow``."""

    scale: float
    px_per_mm: float
    wanted_px: FloatArray = field(repr=False)
    chip_px: FloatArray = field(repr=False)
    board_from: FloatArray = field(repr=False)
    board_now: FloatArray = field(repr=False)
    chip_from: FloatArray = field(repr=False)
    chip_now: FloatArray = field(repr=False)
    last: np.ndarray = field(repr=False)


def start(
    frame: np.ndarray,
    chip_px: npt.ArrayLike,
    wanted_px: npt.ArrayLike,
    px_per_mm: float,
) -> Follower | NotFound:
    """Begin with a frame that was measured in full.

    Parameters
    ----------
    frame : ndarray of shape (rows, cols, 3) or (rows, cols), uint8
        The first live frame.
    chip_px : array_like of shape (4, 2)
        Body corners of the chip in it, pin-1 corner first.
    wanted_px : array_like of shape (4, 2)
        The same corners as they were before, carried into this frame by the
        registration.
    px_per_mm : float
        Scale of this frame at the chip.

    Returns
    -------
    Follower or NotFound
        NotFound when board or chip have too few points to follow.
    """
    chip, wanted = _quad(chip_px), _quad(wanted_px)
    scale = min(1.0, WORK_PX / max(frame.shape[:2]))
    gray = _small(frame, scale)
    here = _scaled(chip, scale)
    body = np.zeros(gray.shape, np.uint8)
    cv2.fillConvexPoly(
        body, np.round(_grown(here, CHIP_INSET_FRAC)).astype(np.int32), 255
    )
    away = np.full(gray.shape, 255, np.uint8)
    for quad in (here, _scaled(wanted, scale)):
        grown = np.round(_grown(quad, CHIP_MARGIN_FRAC)).astype(np.int32)
        cv2.fillConvexPoly(away, grown, 0)
    board_points = _corners(gray, away, BOARD_POINTS)
    chip_points = _corners(gray, body, CHIP_POINTS)
    if len(board_points) < MIN_BOARD_POINTS:
        return NotFound(
            reason=f"{len(board_points)} points of the board to follow; "
            f"{MIN_BOARD_POINTS} are needed. Show more board round the chip."
        )
    if len(chip_points) < MIN_CHIP_POINTS:
        return NotFound(
            reason=f"{len(chip_points)} points of the chip to follow; "
            f"{MIN_CHIP_POINTS} are needed. Light the marking from the side."
        )
    return Follower(
        scale=scale,
        px_per_mm=px_per_mm,
        wanted_px=wanted,
        chip_px=chip,
        board_from=board_points,
        board_now=board_points.copy(),
        chip_from=chip_points,
        chip_now=chip_points.copy(),
        last=gray,
    )


def follow(state: Follower, frame: np.ndarray) -> Move | NotFound:
    """Follow board and chip into the next frame.

    Parameters
    ----------
    state : Follower
        Moved on in place.
    frame : ndarray of shape (rows, cols, 3) or (rows, cols), uint8
        The next frame, of the same size.

    Returns
    -------
    Move or NotFound
        NotFound when too few points came along (a hand in the way, a jump): measure
        the frame in full and ``start`` again.

    Notes
    -----
    Pyramidal Lucas-Kanade with a return check.  The board moves by a homography, the
    chip by a similarity, both from the first frame.  u: scatter of the followed
    points, a floor, and the parallax of the body's top for the tilt that changed.
    """
    gray = _small(frame, state.scale)
    if gray.shape != state.last.shape:
        return NotFound(reason="the frame has another size; measure it in full")
    board = _flow(state.last, gray, state.board_now)
    chip = _flow(state.last, gray, state.chip_now)
    state.last = gray
    state.board_from, state.board_now = state.board_from[board[1]], board[0][board[1]]
    state.chip_from, state.chip_now = state.chip_from[chip[1]], chip[0][chip[1]]
    if len(state.board_now) < MIN_BOARD_POINTS or len(state.chip_now) < MIN_CHIP_POINTS:
        return NotFound(reason="lost sight of the board or chip; hold still")
    board_map, fits = cv2.findHomography(
        state.board_from, state.board_now, cv2.USAC_MAGSAC, FIT_PX
    )
    chip_map, chip_fits = cv2.estimateAffinePartial2D(
        state.chip_from, state.chip_now, method=cv2.RANSAC, ransacReprojThreshold=FIT_PX
    )
    if board_map is None or chip_map is None:
        return NotFound(reason="lost sight of the board or chip; hold still")
    keep, chip_keep = np.ravel(fits) > 0, np.ravel(chip_fits) > 0
    if keep.sum() < MIN_BOARD_POINTS or chip_keep.sum() < MIN_CHIP_POINTS:
        return NotFound(reason="lost sight of the board or chip; hold still")
    state.board_from, state.board_now = state.board_from[keep], state.board_now[keep]
    state.chip_from, state.chip_now = (
        state.chip_from[chip_keep],
        state.chip_now[chip_keep],
    )
    to_chip = np.vstack([np.asarray(chip_map), [0, 0, 1]])
    return _move(state, np.asarray(board_map, dtype=np.float64), to_chip)


def _move(state: Follower, board_map: FloatArray, chip_map: FloatArray) -> Move:
    """Compare where the chip is with where it shall be, in this frame."""
    wanted_first = _scaled(state.wanted_px, state.scale)
    wanted = apply_homography(board_map, wanted_first)
    chip = apply_homography(chip_map, _scaled(state.chip_px, state.scale))
    jacobian = derivative(board_map, wanted_first.mean(axis=0))
    zoom = math.sqrt(abs(float(np.linalg.det(jacobian))))
    work_px_per_mm = state.px_per_mm * state.scale * zoom
    push = (wanted.mean(axis=0) - chip.mean(axis=0)) / work_px_per_mm
    turn = wrap_deg(rotation_between_deg(chip, wanted))
    board_px = _scatter(state.board_from, state.board_now, board_map)
    chip_px = _scatter(state.chip_from, state.chip_now, chip_map)
    sizes = np.linalg.svd(jacobian, compute_uv=False)
    tilt = math.acos(min(1.0, float(sizes[1] / sizes[0])))
    u_px = math.hypot(
        board_px / math.sqrt(len(state.board_now) / 4),
        chip_px / math.sqrt(len(state.chip_now) / 4),
        TRACK_FLOOR_PX,
    )
    side = float(side_lengths(chip).mean())
    return Move(
        dx_mm=float(push[0]),
        dy_mm=float(push[1]),
        turn_deg=turn,
        u_mm=2 * math.hypot(u_px / work_px_per_mm, BODY_TOP_MM * tilt / math.sqrt(3)),
        u_deg=2 * math.hypot(math.degrees(u_px / side * 2), TURN_FLOOR_DEG),
    )


def _flow(
    before: np.ndarray, after: np.ndarray, points: FloatArray
) -> tuple[FloatArray, np.ndarray]:
    """Follow points and back again; where they went and which are trusted."""
    start_at = points.astype(np.float32).reshape(-1, 1, 2)
    blank = np.empty_like(start_at)
    ahead, seen, _ = cv2.calcOpticalFlowPyrLK(
        before, after, start_at, blank, winSize=WINDOW, maxLevel=4
    )
    back, seen_back, _ = cv2.calcOpticalFlowPyrLK(
        after, before, ahead, blank.copy(), winSize=WINDOW, maxLevel=4
    )
    off = np.linalg.norm((np.asarray(back) - start_at).reshape(-1, 2), axis=1)
    good = (np.ravel(seen) > 0) & (np.ravel(seen_back) > 0) & (off < BACK_PX)
    return np.asarray(ahead, dtype=np.float64).reshape(-1, 2), good


def _corners(gray: np.ndarray, mask: np.ndarray, count: int) -> FloatArray:
    found = cv2.goodFeaturesToTrack(gray, count, 0.01, 7, mask=mask)
    if found is None:
        return np.empty((0, 2))
    return np.asarray(found, dtype=np.float64).reshape(-1, 2)


def _scatter(first: FloatArray, now: FloatArray, matrix: FloatArray) -> float:
    off = apply_homography(matrix, first) - now
    return float(np.sqrt(np.mean(off**2)))


def _small(frame: np.ndarray, scale: float) -> np.ndarray:
    gray = frame if frame.ndim == 2 else cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY)
    if scale == 1.0:
        return gray
    size = (round(gray.shape[1] * scale), round(gray.shape[0] * scale))
    return cv2.resize(gray, size, interpolation=cv2.INTER_AREA)


def _scaled(points: FloatArray, scale: float) -> FloatArray:
    """Photo pixels to working pixels; pixel centres at whole numbers in both."""
    scaled: FloatArray = (points + 0.5) * scale - 0.5
    return scaled


def _grown(quad: FloatArray, frac: float) -> FloatArray:
    centre = quad.mean(axis=0)
    grown: FloatArray = centre + (quad - centre) * (1 + 2 * frac)
    return grown


def _quad(points: npt.ArrayLike) -> FloatArray:
    quad = np.asarray(points, dtype=np.float64)
    if quad.shape != (4, 2):
        msg = f"outline has shape {quad.shape}; (4, 2) is needed"
        raise ValueError(msg)
    return quad
