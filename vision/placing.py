"""Setting a chip by live pictures: the first is measured in full, the rest followed."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from vision.errors import PhotoError
from vision.geometry import derivative
from vision.load import load_photo
from vision.meant import choose_meant
from vision.pipeline import compare_looks, look
from vision.place import Follower, Move, follow, start
from vision.results import NotFound, WrongWay

if TYPE_CHECKING:
    from pathlib import Path

    import numpy.typing as npt

    from vision.results import PairReport, PhotoReport

    FloatArray = npt.NDArray[np.float64]

NO_SIZE = (
    "the chip's size is not known, so its way cannot be given in mm. Take the photo "
    "before closer, from straight above"
)
FRAMES_FOLLOWED = 60
"""Frames after which the chip is measured in full again: small errors add up."""


@dataclass(slots=True, kw_only=True)
class Placing:
    """What is kept between frames; made by ``begin_placing``, changed in place."""

    before: PhotoReport
    follower: Follower | None = None
    frames: int = 0
    u_mm: float = 0.0
    u_deg: float = 0.0


def begin_placing(before: Path) -> Placing:
    """Look at the photo before, to which the chip shall be set.

    Parameters
    ----------
    before : Path
        Photo of the place with the chip as it sat.

    Returns
    -------
    Placing

    Raises
    ------
    PhotoError
        The file cannot be used as a photo, or which chip is meant cannot be told.
    ModelError
        A network file is missing or altered.
    """
    report = look(before, reads_joints=False)
    meant = choose_meant(report)
    if isinstance(meant, NotFound):
        message = f"{before}: {meant.reason}"
        raise PhotoError(message)
    return Placing(before=report)


def place_frame(state: Placing, frame: Path) -> Move | WrongWay | NotFound:
    """Say which way and how far the chip of one frame still has to move.

    Parameters
    ----------
    state : Placing
        Moved on in place.
    frame : Path
        The next picture.

    Returns
    -------
    Move, WrongWay or NotFound
        In the axes of the frame; NotFound says what stands in the way.

    Raises
    ------
    PhotoError
        The file cannot be used as a photo.
    ModelError
        A network file is missing or altered.
    """
    state.frames += 1
    if state.follower is not None and state.frames <= FRAMES_FOLLOWED:
        move = follow(state.follower, load_photo(frame).pixels)
        if move:
            return _with_first(move, state)
    state.follower, state.frames = None, 0
    return _measure(state, look(frame, reads_joints=False))


def _measure(state: Placing, live: PhotoReport) -> Move | WrongWay | NotFound:
    """Measure a frame in full and begin to follow from it."""
    found = compare_looks(state.before, live)
    turn = found.orientation.turn_deg
    if found.registration and turn:
        return WrongWay(-turn % 360)
    doubt = _doubt(found)
    if doubt:
        return NotFound(reason=doubt)
    before, chip = found.before_package, found.after_package
    assert before is not None
    assert chip is not None
    assert not isinstance(found.registration, NotFound)
    alignment = found.alignment
    board = np.asarray(found.registration.before_to_after)
    scale = alignment.px_per_mm
    if scale is None:
        return NotFound(reason=NO_SIZE)
    shift_px = np.array([alignment.dx_mm, alignment.dy_mm], dtype=np.float64) * scale
    local = derivative(board, np.asarray(before.outline_px).mean(axis=0))
    corners = np.asarray(chip.outline_px, dtype=np.float64)
    middle = corners.mean(axis=0)
    wanted = _turned(corners - middle, -(alignment.skew_deg or 0.0)) + middle
    wanted = wanted - local @ shift_px
    zoom = math.sqrt(abs(float(np.linalg.det(local))))
    follower = start(live.photo.pixels, corners, wanted, scale * zoom)
    if isinstance(follower, NotFound):
        return follower
    state.follower = follower
    state.u_mm, state.u_deg = alignment.u_mm or 0.0, alignment.u_deg or 0.0
    here = follow(follower, live.photo.pixels)
    return _with_first(here, state) if here else here


def _with_first(move: Move, state: Placing) -> Move:
    """Add the uncertainty of the frame that was measured in full."""
    return replace(
        move,
        u_mm=math.hypot(move.u_mm, state.u_mm),
        u_deg=math.hypot(move.u_deg, state.u_deg),
    )


def _doubt(found: PairReport) -> str:
    """Say what keeps a frame from being measured; empty where nothing does."""
    if isinstance(found.registration, NotFound):
        return found.registration.reason
    if found.orientation.turn_deg is None:
        said = "; ".join(found.orientation.reasons)
        return f"which way round the chip lies cannot be told: {said}"
    if found.alignment.dx_mm is None:
        return "; ".join(found.alignment.reasons)
    return ""


def _turned(points: FloatArray, angle_deg: float) -> FloatArray:
    """Turn counter-clockwise as seen, y down."""
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    turned: FloatArray = points @ np.array([[cos, -sin], [sin, cos]])
    return turned
