"""The feet of a chip on the board, in the frame of its lands.

The outline stands above the board; where the camera stood says how far beside the feet
it is seen; how the feet look helps to settle from which side that was.  There they are
looked for all together by their edges, then each is measured upon its land.  One
that could not be measured is placed where the others tell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from vision.board_view import lowered, outline_pose, view_board
from vision.drawn_feet import (
    SCALE_SD_FRAC,
    as_wide,
    like_measured,
    moved_strip,
    numbered,
    off_drawn,
    opening_sd_mm,
    sites_of,
    strips_at,
)
from vision.feet import BoardPhoto, KnownFoot, measure_feet, slope_by_feet
from vision.foot_places import find_feet
from vision.lands import strips_of
from vision.lead_motion import fit_rigid
from vision.lead_patches import ROOM_MM, SAMPLE_PX_PER_MM
from vision.overhang import Doubt
from vision.packages import PARTING_FRAC
from vision.patches import cut
from vision.planes import View, parallax, stand_at
from vision.results import NotFound
from vision.settled_view import SlopeTold, fused_view, settled_view
from vision.tables import land_positions

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from vision.bare_lands import BareLands
    from vision.board_view import BoardView
    from vision.lead_patches import Site
    from vision.overhang import Strip
    from vision.packages import Variant
    from vision.patches import Patch
    from vision.results import Package, Photo, Point, Registration

    FloatArray = npt.NDArray[np.float64]

FOOT_MM, FOOT_SD_MM = 0.22, 0.025
"""Upper face of a foot: leads are 0.17 to 0.25 mm thick (JEDEC), and solder."""
EDGES_MM = 0.18
"""Where the edges of a foot are seen: upper face or its wall."""
LIGHT_SHARED_SD_MM = 0.005
"""What all feet share, as light falls on all their solder alike (bench_alignment)."""
OUTLINE_SD_DEG = 1.0
"""The same of its turn: corners of 2 %, 0.6 of the long side from its middle."""
OUTLINE_SPREADS = 1.5
"""Room given to the outline's place, of its standard deviation."""
MOST_OFF = 3.0
"""Feet that lie further off the outline, in its standard deviations, are none.  Of ten
drawn scenes between 2 and 3 nine were read within U, the tenth 0.06 mm off."""
MOST_PLANE_MM = 0.075
"""Doubt about the parallax that leaves a U of half the limit of a 1.27 mm pitch."""
MOST_MISSING_FRAC, MOST_APART_FRAC = 0.2, 0.4
"""Feet not made out, and how far those seen may lie from their edges, lead widths
(median): of 1,671 drawn scenes these refuse ten of fourteen that were read 0.06 mm and
more off and beyond U, among them all of 0.2 mm and more, and ten of the others."""
ROW_SHARED_PX = 0.2
"""What the edges of one row's feet share: light and blur fall on all of them alike
(bench_alignment: the skew lay within U in 86 % of 135 cases without it)."""
MIN_WIDTH_PX = 6.0
"""Across a lead before it is measured (common practice)."""
LEAST_MEASURED = 3
"""Feet that tell where the others are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedFeet:
    """Feet and their lands in the lands' frame, and what they share.

    ``unseen`` are the leads whose feet were not made out, placed by the others.
    """

    feet: tuple[Strip, ...]
    lands: tuple[Strip, ...]
    doubt: Doubt
    unseen: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class _Scene:
    """The photo over the lands, and the piece of it round the chip."""

    photo: BoardPhoto
    board: BoardView
    piece: Patch
    to_piece: FloatArray
    px_per_mm: float


@dataclass(frozen=True, slots=True)
class _Found:
    """Feet by their edges where a view puts them, and their lands.

    ``pose`` carries the package's frame to the lands'; ``drawn`` are the feet as the
    outline alone puts them, known to ``sd_mm`` per axis.
    """

    pose: FloatArray
    view: View
    feet: tuple[Strip, ...]
    lands: tuple[Strip, ...]
    drawn: tuple[Strip, ...]
    sd_mm: float


def place_feet(
    photo: Photo,
    package: Package,
    variant: Variant,
    lands: BareLands,
    registration: Registration,
) -> PlacedFeet | NotFound:
    """Find the feet of a chip on its lands.

    Parameters
    ----------
    photo : Photo
        Upright photo with the chip.
    package : Package
        The chip; its outline says where to look.
    variant : Variant
        The chip's size.
    lands : BareLands
        The lands as seen bare.
    registration : Registration
        The board, bare-lands photo to this one.

    Returns
    -------
    PlacedFeet or NotFound
        NotFound for packages without feet that reach out of the body, and where they
        are too small in the photo or too few lands are known.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    sites = sites_of(variant)
    if isinstance(sites, NotFound):
        return sites
    board = view_board(photo, package, lands, registration)
    if isinstance(board, NotFound):
        return board
    scene = _scene(photo, package, sites, board)
    if isinstance(scene, NotFound):
        return scene
    known = KnownFoot(
        top_mm=FOOT_MM,
        body_half_mm=(variant.body_x_mm[1] / 2, variant.body_y_mm[1] / 2),
        body_top_mm=PARTING_FRAC * variant.height_mm[1],
    )
    start = outline_pose(package, variant, board)
    look = partial(_find, scene, start, sites, variant, lands)
    found = look(_settled(scene, look, known))
    measured = _measured_all(scene, found, sites, variant, known)
    if isinstance(measured, NotFound):
        return measured
    seen, unseen = measured
    plane_mm = _plane_mm(found.view, seen)
    if board.view.mirror_mm is not None and max(plane_mm) > MOST_PLANE_MM:
        return NotFound(
            reason="the feet's edges are too faint, and to which side the camera "
            "leaned cannot be told. Take the photo square on"
        )
    return PlacedFeet(
        feet=seen,
        lands=found.lands,
        doubt=Doubt(
            registration_mm=scene.board.registration_mm,
            scale_frac=SCALE_SD_FRAC,
            plane_mm=plane_mm,
            row_mm=ROW_SHARED_PX / scene.px_per_mm,
            opening_mm=opening_sd_mm(
                lands.lands, strips_of(land_positions(lands.variant))
            ),
        ),
        unseen=unseen,
    )


def _settled(
    scene: _Scene,
    look: Callable[[View], _Found],
    known: KnownFoot,
) -> View:
    """Settle by the outline and by how the feet look from where they were seen.

    How clear the feet's edges are does not tell: of 300 drawn six-lead SOTs nine were
    read 0.1 to 0.5 mm off by edges twice as clear as those of the true view.
    """
    view = scene.board.view
    here = look(replace(view, mirror_mm=None))
    told = slope_by_feet(scene.photo, here.feet, here.lands, here.view, known)
    if view.mirror_mm is None:
        return fused_view(view, told + _slope_by_outline(here, known))
    there = look(replace(here.view, camera_mm=view.mirror_mm))
    told += slope_by_feet(scene.photo, there.feet, there.lands, there.view, known)
    outline = [
        np.divide(off_drawn(end.feet, end.drawn)[0], end.sd_mm) for end in (here, there)
    ]
    return settled_view(view, told.halved(), np.array(outline))


def _slope_by_outline(found: _Found, known: KnownFoot) -> SlopeTold:
    """Tell the slope by how far the outline is seen beside the feet."""
    higher = (known.body_top_mm - known.top_mm) / found.sd_mm
    off = np.array(off_drawn(found.feet, found.drawn)[0]) / found.sd_mm
    slope = found.view.slope + off / higher
    information = higher**2 * np.eye(2)
    return SlopeTold(information=information, weighed=information @ slope)


def _measured_all(
    scene: _Scene,
    found: _Found,
    sites: Sequence[Site],
    variant: Variant,
    known: KnownFoot,
) -> tuple[tuple[Strip, ...], frozenset[int]] | NotFound:
    """Measure each foot, then all as wide as they are and where the others tell.

    With the numbers of those that were not made out.
    """

    def measured(feet: Sequence[Strip]) -> dict[int, Strip]:
        return measure_feet(scene.photo, feet, found.lands, found.view, known)

    feet = list(found.feet)
    seen = measured(feet)
    if len(seen) >= LEAST_MEASURED:
        feet = like_measured(seen, sites, found.pose, variant)
        seen |= measured(as_wide(feet, seen))
    missing = len(found.lands) - len(seen)
    if not seen or missing > max(1, MOST_MISSING_FRAC * len(found.lands)):
        return NotFound(
            reason=f"{len(seen)} of {len(found.lands)} feet could be made out. "
            "Take the photo square on, from closer"
        )
    edges = {foot.number: foot for foot in found.feet}
    apart = [
        np.hypot(*np.subtract(foot.centre_mm, edges[n].centre_mm)) / foot.width_mm
        for n, foot in seen.items()
    ]
    if np.median(apart) > MOST_APART_FRAC:
        return NotFound(
            reason="the feet's edges do not lie where the feet are seen: lands may "
            "have been taken for feet. Take the photo square on, from closer"
        )
    placed = tuple(seen.get(foot.number, foot) for foot in feet)
    off_mm, off_deg = off_drawn(placed, found.drawn)
    if (
        np.hypot(*off_mm) > MOST_OFF * found.sd_mm
        or abs(off_deg) > MOST_OFF * OUTLINE_SD_DEG
    ):
        return NotFound(
            reason="the feet are not where the body's outline puts them: lands may "
            "have been taken for feet. Take the photo square on, from closer"
        )
    return placed, frozenset(foot.number for foot in feet) - seen.keys()


def _scene(
    photo: Photo, package: Package, sites: Sequence[Site], board: BoardView
) -> _Scene | NotFound:
    least_px = min(site.width_mm for site in sites) * board.px_per_mm
    if least_px < MIN_WIDTH_PX:
        return NotFound(
            reason=f"{least_px:.1f} px across a lead; {MIN_WIDTH_PX:.0f} px are "
            "needed. Move the camera closer"
        )
    px_per_mm = min(SAMPLE_PX_PER_MM, board.px_per_mm)
    reach = max(float(np.abs(site.toe_mm).max()) for site in sites) + ROOM_MM
    middle = np.mean(package.outline_px, axis=0)
    around_px = 1.5 * reach * board.px_per_mm
    piece = cut(photo, middle, around_px, px_per_mm / board.px_per_mm)
    if not piece.gray.size:
        return NotFound(reason="the chip lies at the edge of the after photo")
    return _Scene(
        photo=BoardPhoto(pixels=photo.pixels, to_photo=board.to_photo),
        board=board,
        piece=piece,
        to_piece=np.linalg.inv(piece.to_photo) @ board.to_photo,
        px_per_mm=px_per_mm,
    )


def _find(
    scene: _Scene,
    start: FloatArray,
    sites: Sequence[Site],
    variant: Variant,
    lands: BareLands,
    view: View,
) -> _Found:
    """Look for the feet by their edges where a view puts them."""
    pose, sd_mm = lowered(start, view, variant, to_mm=FOOT_MM)
    place = find_feet(
        scene.piece,
        scene.to_piece @ pose,
        sites,
        scene.px_per_mm,
        place_sd_mm=OUTLINE_SPREADS * sd_mm,
    )
    feet, drawn = (
        tuple(
            _stood(moved_strip(foot, pose), view)
            for foot in strips_at(sites, fit_rigid(sites, steps), steps, variant)
        )
        for steps in (place.steps_mm, np.zeros_like(place.steps_mm))
    )
    pattern = strips_of(land_positions(lands.variant))
    under = numbered(feet, lands.lands, pattern)
    return _Found(pose, view, feet, under, drawn, sd_mm)


def _stood(foot: Strip, view: View) -> Strip:
    """Take the parallax off a foot that was found by its edges."""
    x, y = stand_at(view, [foot.centre_mm], EDGES_MM)[0]
    return replace(foot, centre_mm=(float(x), float(y)))


def _plane_mm(view: View, feet: Sequence[Strip]) -> Point:
    """Doubt about the parallax that was taken off: x and y."""
    x, y = np.mean([foot.centre_mm for foot in feet], axis=0)
    shift = parallax(view, (x, y), FOOT_MM, height_sd_mm=FOOT_SD_MM)
    shared = LIGHT_SHARED_SD_MM
    return math.hypot(shift.dx_sd_mm, shared), math.hypot(shift.dy_sd_mm, shared)
