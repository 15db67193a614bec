"""Feet upon their lands, measured in the photo, in the board frame.

The upper face of a foot stands above the board: where the camera stood says how far
beside its place it is seen, and that is taken off (``planes``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from vision.foot_patches import read_feet
from vision.overhang import end_and_axes
from vision.planes import FOCAL_SD_LOG, parallax
from vision.settled_view import SlopeTold

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.overhang import Strip
    from vision.planes import View

    FloatArray = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

MIN_SEEN_MM = 0.2
"""Foot that the body leaves in sight."""
BODY_MARGIN_MM = 0.05
MOST_SD_FRAC = 0.3
"""A toe or a side less sure than this share of the width was not made out."""
TURN_SD_RAD = 0.01
"""How far a foot's direction may be from that of its land."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFoot:
    """What is known of a foot before it is measured, mm.

    ``top_mm``: upper face, lead thickness plus solder (JEDEC drawings: 0.17 to 0.25 mm
    for SOIC).  ``body_half_mm``: from the chip's middle to the body's sides along x and
    along y, and ``body_top_mm`` their height: in a tilted view the body hides heels.
    """

    top_mm: float
    body_half_mm: tuple[float, float] = (0.0, 0.0)
    body_top_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPhoto:
    """The photo, BGR, and the homography from the board, mm, to its pixels."""

    pixels: ByteImage = field(compare=False, repr=False)
    to_photo: FloatArray = field(compare=False, repr=False)


def measure_feet(
    photo: BoardPhoto,
    feet: Sequence[Strip],
    lands: Sequence[Strip],
    view: View,
    known: KnownFoot,
) -> dict[int, Strip]:
    """Measure feet upon their lands.

    Parameters
    ----------
    photo : BoardPhoto
        The photo with the chip.
    feet : sequence of Strip
        Where they are expected, within about a third of their width across and half of
        it outward; the frame's origin is near the chip's middle.
    lands : sequence of Strip
        As measured on the bare board, or from the pattern.
    view : View
        Where the camera stood.
    known : KnownFoot
        Height of the upper face, and what hides the feet.

    Returns
    -------
    dict of int to Strip
        By number, in the lands' frame, parallax taken off, laid along their lands.
        Feet without a land, behind the body or not made out are left out.

    Raises
    ------
    ModelError
        The network file is missing or altered.

    Notes
    -----
    Upper faces are seen spread outwards, the more the nearer the camera stood, which
    the photo hardly tells: that is in the place's doubt.
    """
    pairs = [
        (foot, land)
        for foot, land in _on_lands(feet, lands)
        if _seen_mm(foot, view, known) >= MIN_SEEN_MM
    ]
    if not pairs:
        return {}
    walls = walls_mm([foot for foot, _ in pairs], view, known)
    seen = [_shown(foot, wall) for (foot, _), wall in zip(pairs, walls, strict=True)]
    marks = read_feet(
        photo.pixels, photo.to_photo, seen, [land for _, land in pairs], walls
    )
    spread = FOCAL_SD_LOG * known.top_mm / view.camera_mm[2]
    found = {}
    for k, (foot, _) in enumerate(pairs):
        _, axes = end_and_axes(foot)
        left, right = marks.sides[k]
        steps = foot.width_mm * np.array([marks.toe[k], (left + right) / 2])
        side_sd = float(np.hypot(*marks.sides_sd[k]))
        if max(float(marks.toe_sd[k]), side_sd) > MOST_SD_FRAC:
            continue
        x, y = np.array(foot.centre_mm) + steps @ axes
        ahead, aside = np.abs(axes @ np.array(foot.centre_mm))
        found[foot.number] = replace(
            foot,
            centre_mm=(float(x), float(y)),
            width_mm=foot.width_mm * float(right - left),
            across_sd_mm=math.hypot(foot.width_mm * side_sd / 2, spread * aside),
            end_sd_mm=math.hypot(foot.width_mm * marks.toe_sd[k], spread * ahead),
            width_sd_mm=foot.width_mm * side_sd,
            turn_sd_rad=TURN_SD_RAD,
        )
    return found


def slope_by_feet(
    photo: BoardPhoto,
    feet: Sequence[Strip],
    lands: Sequence[Strip],
    laid: View,
    known: KnownFoot,
) -> SlopeTold:
    """Tell from how the feet look from which side they were seen.

    Parameters
    ----------
    photo, feet, lands
        As for ``measure_feet``.
    laid : View
        By which the feet were found.
    known : KnownFoot
        Height of the upper face.

    Returns
    -------
    SlopeTold
        Of all feet together; they err alike, so that they count as about two.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    pairs = _on_lands(feet, lands)
    if not pairs:
        return SlopeTold(information=np.zeros((2, 2)), weighed=np.zeros(2))
    along = [foot for foot, _ in pairs]
    shown = [
        _shown(foot, wall)
        for foot, wall in zip(along, walls_mm(along, laid, known), strict=True)
    ]
    marks = read_feet(photo.pixels, photo.to_photo, shown, [land for _, land in pairs])
    unit = np.array([foot.width_mm for foot in along])[:, None, None] / known.top_mm
    axes = np.array([end_and_axes(foot)[1] for foot in along])
    spread = np.array([foot.centre_mm for foot in along]) / laid.camera_mm[2]
    # A wall shows by -top * (slope - place / height), in lead widths along both axes.
    rows = axes / unit
    sure = 1 / marks.lean_sd**2 / len(along)
    seen = sure * (np.einsum("nai,ni->na", rows, spread) - marks.lean)
    return SlopeTold(
        information=np.einsum("na,nai,naj->ij", sure, rows, rows),
        weighed=np.einsum("nai,na->i", rows, seen),
    )


def walls_mm(feet: Sequence[Strip], view: View, known: KnownFoot) -> FloatArray:
    """How far upper faces are seen off their places, (n, 2), board frame."""
    shifts = [parallax(view, foot.centre_mm, known.top_mm) for foot in feet]
    return np.array([(shift.dx_mm, shift.dy_mm) for shift in shifts])


def _on_lands(
    feet: Sequence[Strip], lands: Sequence[Strip]
) -> list[tuple[Strip, Strip]]:
    """Feet that have a land, laid along it, each with its land."""
    under = {land.number: land for land in lands}
    return [
        (replace(foot, outward=under[foot.number].outward), under[foot.number])
        for foot in feet
        if foot.number in under
    ]


def _shown(foot: Strip, wall: FloatArray) -> Strip:
    x, y = np.array(foot.centre_mm) + wall
    return replace(foot, centre_mm=(float(x), float(y)))


def _seen_mm(foot: Strip, view: View, known: KnownFoot) -> float:
    """How much of a foot the body leaves in sight."""
    if known.body_top_mm <= 0:
        return foot.length_mm
    out = np.array(foot.outward)
    lifted = parallax(view, foot.centre_mm, known.body_top_mm)
    half_mm = known.body_half_mm[int(np.abs(out).argmax())]
    edge = half_mm + float(out @ [lifted.dx_mm, lifted.dy_mm])
    edge += BODY_MARGIN_MM + 2 * lifted.sd_mm
    low = parallax(view, foot.centre_mm, known.top_mm)
    middle = np.add(foot.centre_mm, [low.dx_mm, low.dy_mm])
    toe = float(middle @ out) + foot.length_mm / 2
    return min(foot.length_mm, toe - edge)
