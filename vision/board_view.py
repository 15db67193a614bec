"""Where the camera stood over the lands, and where it saw a body above them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from vision.drawn_feet import LAND_PLACE_SD_MM, LAND_SD_MM, turn_rad
from vision.geometry import apply_homography, body_corners_mm
from vision.packages import PARTING_FRAC, PARTING_SD_FRAC
from vision.planes import View, estimate_view, parallax
from vision.results import NotFound
from vision.tables import land_positions

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.bare_lands import BareLands
    from vision.packages import Variant
    from vision.results import Package, Photo, Registration

    FloatArray = npt.NDArray[np.float64]

OUTLINE_SD_FRAC = 0.01
"""Of the body's long side: the mean of four corners of 2 % each (bench_look)."""
VIEW_POINT_SD_PX = 0.4
LEAST_LANDS = 4
"""Points of a plane that tell how it is seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardView:
    """A photo of a chip over its lands.

    ``to_photo`` (3, 3) carries the lands' frame, mm, to photo px; ``px_per_mm`` is the
    photo's scale; ``registration_mm`` the standard uncertainty, per axis, of laying
    the lands' photo over this one.
    """

    to_photo: FloatArray = field(compare=False, repr=False)
    px_per_mm: float
    view: View
    registration_mm: float


def view_board(
    photo: Photo, package: Package, lands: BareLands, registration: Registration
) -> BoardView | NotFound:
    """Find where the camera stood, from where the lands are seen.

    Parameters
    ----------
    photo : Photo
        Upright photo with the chip.
    package : Package
        The chip; gives the scale where it is known.
    lands : BareLands
        The lands as seen bare.
    registration : Registration
        The board, bare-lands photo to this one.

    Returns
    -------
    BoardView or NotFound
        NotFound where too few lands were measured.

    Notes
    -----
    Places of the lands are those of their drawing: the frame of the lands is laid
    through the bare photo and leans with it, the drawing does not.
    """
    if len(lands.lands) < LEAST_LANDS:
        return NotFound(
            reason=f"{len(lands.lands)} lands were measured; {LEAST_LANDS} are needed "
            "to tell where the camera stood. Compare without the photo of the lands, "
            "and look at the feet under magnification"
        )
    to_photo = np.asarray(registration.before_to_after) @ np.asarray(lands.to_photo)
    scale = float(package.px_per_mm or lands.px_per_mm)
    drawn = {p.number: p.centre_mm for p in land_positions(lands.variant)}
    land_sd_px = math.hypot(LAND_PLACE_SD_MM, LAND_SD_MM) * scale
    residual_mm = registration.residual_px / scale
    return BoardView(
        to_photo=to_photo,
        px_per_mm=scale,
        view=estimate_view(
            [drawn[land.number] for land in lands.lands],
            apply_homography(to_photo, [land.centre_mm for land in lands.lands]),
            (photo.width_px, photo.height_px),
            point_sd_px=math.hypot(VIEW_POINT_SD_PX, land_sd_px),
        ),
        registration_mm=math.hypot(
            residual_mm * math.sqrt(4 / registration.inliers), 0.005
        ),
    )


def outline_pose(package: Package, variant: Variant, board: BoardView) -> FloatArray:
    """Lay a package by its outline.

    Parameters
    ----------
    package : Package
        Its outline.
    variant : Variant
        Its size.
    board : BoardView
        The photo.

    Returns
    -------
    ndarray of shape (3, 3)
        Rigid, from the package's frame to the lands' frame; at the outline's height,
        its parallax still in.
    """
    corners = body_corners_mm(variant.body_x_mm[1], variant.body_y_mm[1])
    seen = apply_homography(np.linalg.inv(board.to_photo), package.outline_px)
    turn = turn_rad(corners, seen)
    cos, sin = math.cos(turn), math.sin(turn)
    x, y = seen.mean(axis=0)
    return np.array([[cos, -sin, x], [sin, cos, y], [0.0, 0.0, 1.0]])


def lowered(
    pose: FloatArray,
    view: View,
    variant: Variant,
    *,
    height_frac: float = PARTING_FRAC,
    to_mm: float = 0.0,
) -> tuple[FloatArray, float]:
    """Bring a pose from the outline's height down to another.

    Parameters
    ----------
    pose : ndarray of shape (3, 3)
        From ``outline_pose``.
    view : View
        Where the camera stood.
    variant : Variant
        The package's size.
    height_frac : float
        Height of the outline, of the package's.
    to_mm : float
        Height to which it is brought.

    Returns
    -------
    (ndarray of shape (3, 3), float)
        The pose, and the standard deviation of its place per axis, mm.
    """
    height = height_frac * variant.height_mm[1]
    at = float(pose[0, 2]), float(pose[1, 2])
    seen = parallax(view, at, height, height_sd_mm=PARTING_SD_FRAC * height)
    below = parallax(view, at, to_mm)
    brought = pose.copy()
    brought[:2, 2] += [below.dx_mm - seen.dx_mm, below.dy_mm - seen.dy_mm]
    long_mm = max(variant.body_x_mm[1], variant.body_y_mm[1])
    return brought, math.hypot(OUTLINE_SD_FRAC * long_mm, seen.sd_mm)
