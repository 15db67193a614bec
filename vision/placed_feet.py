"""The feet of a chip on the board, in the frame of its lands.

The outline stands above the board; where the camera stood says how far beside the feet
it is seen, or one of two ways where the view fits as well mirrored.  There the feet are
looked for all together by their edges, then each is measured together with its land.
What could not be measured keeps the place that all edges together gave it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from vision.board_view import OUTLINE_HEIGHT_FRAC, lowered, outline_pose, view_board
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
from vision.feet import KnownFoot, measure_foot
from vision.foot_places import find_feet
from vision.lands import least_gap_mm, strips_of
from vision.lead_motion import fit_rigid
from vision.lead_patches import ROOM_MM, SAMPLE_PX_PER_MM
from vision.overhang import Doubt
from vision.patches import cut
from vision.planes import View, parallax, stand_at
from vision.results import NotFound
from vision.strip_ends import Board
from vision.tables import land_positions

if TYPE_CHECKING:
    from collections.abc import Sequence

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
EDGES_MM, EDGES_SD_MM = 0.18, 0.08
"""Where the edges of a foot are seen that was not measured: upper face or its wall."""
EDGES_SHARED_SD_MM, LIGHT_SHARED_SD_MM = 0.03, 0.010
"""What all feet share that were found by edges alone (path-traced: 0.03 to 0.08), and
measured ones, as light falls on all their solder alike (bench_rendered_feet)."""
OUTLINE_SD_DEG = 1.0
"""The same of its turn: corners of 2 %, 0.6 of the long side from its middle."""
OUTLINE_SPREADS = 1.5
"""Room given to the outline's place, of its standard deviation."""
SETTLED_CHI2, TRIED_FEET, UNSEEN_GREY = 10.0, 4, 30.0
"""Difference that settles which of two mirrored views it was; feet to try it on;
what one that cannot be measured counts, grey levels."""
COST_SCALE = 8.0
"""Difference that makes one of two views e times as likely as the other: the feet of
one photo err alike, so that it is more than the 2 of independent ones."""
MOST_OFF = 2.0
"""Feet that lie further off the outline, in its standard deviations, are none: of 600
drawn scenes that refused four more than 3.0, each of them read 0.16 to 0.47 mm off."""
MOST_PLANE_MM = 0.075
"""Doubt about the parallax that leaves a U of half the limit of a 1.27 mm pitch; half
of what two mirrored views put the feet apart counts like it."""
ROW_SHARED_PX = 0.2
"""What the edges of one row's feet share: light and blur fall on all of them alike
(bench_alignment: the skew lay within U in 86 % of 135 cases without it)."""
SOLDER_SD_MM, SOLDER_END_SD_MM = 0.020, 0.02
"""Solder beside a foot and past its toe is taken for its edge (path-traced views:
bench_rendered_feet)."""
MIN_WIDTH_PX = 6.0
"""Across a lead before it is measured (common practice)."""
LEAST_MEASURED = 3
"""Feet that tell where the others are."""
TOLD_SD_MM = 0.04
"""How well they tell it: true places scatter by 0.02 mm, and so does what they tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedFeet:
    """Feet and their lands in the lands' frame, and what they share.

    ``measured`` are the leads whose foot was measured together with its land.
    """

    feet: tuple[Strip, ...]
    lands: tuple[Strip, ...]
    doubt: Doubt
    measured: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Scene:
    """The piece of photo round the chip, and the photo over the lands."""

    board: BoardView
    piece: Patch
    to_piece: FloatArray
    px_per_mm: float


@dataclass(frozen=True, slots=True)
class _Found:
    """Feet by their edges where a view puts them, their lands, and how clear they are.

    ``pose`` carries the package's frame to the lands'; ``drawn`` are the feet as the
    outline alone puts them, known to ``sd_mm`` per axis.
    """

    pose: FloatArray
    view: View
    edge: float
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
        are too small in the photo.
    """
    sites = sites_of(variant)
    if isinstance(sites, NotFound):
        return sites
    board = view_board(photo, package, lands, registration)
    scene = _scene(photo, package, sites, board)
    if isinstance(scene, NotFound):
        return scene
    known = KnownFoot(
        top_mm=FOOT_MM,
        body_half_mm=variant.body_x_mm[1] / 2,
        body_top_mm=OUTLINE_HEIGHT_FRAC * variant.height_mm[1],
    )
    start = outline_pose(package, variant, board)
    tried = _find(scene, start, sites, variant, lands)
    ways = _likely(scene, tried, known)
    found = ways[0][0]
    seen = [_measured_all(scene, way, sites, variant, known) for way, _ in ways]
    placed, measured = seen[0]
    off_mm, off_deg = off_drawn(placed, found.drawn)
    if off_mm > MOST_OFF * found.sd_mm or abs(off_deg) > MOST_OFF * OUTLINE_SD_DEG:
        return NotFound(
            reason="the feet are not where the body's outline puts them: lands may "
            "have been taken for feet. Take the photo square on, from closer"
        )
    twice = 2 * len(measured)
    plane_mm = _plane_mm(found.view, placed, is_by_edges=twice < len(placed))
    torn_mm = max(*plane_mm, _apart_mm(tried) / 2)
    is_torn = found.view.mirror_mm is not None and torn_mm > MOST_PLANE_MM
    if is_torn or (len(tried) > 1 and twice <= len(placed)):
        return NotFound(
            reason="the feet's edges are too faint, and to which side the camera "
            "leaned cannot be told. Take the photo square on"
        )
    return PlacedFeet(
        feet=_between([feet for feet, _ in seen], [share for _, share in ways]),
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
        measured=measured,
    )


def _measured_all(
    scene: _Scene,
    found: _Found,
    sites: Sequence[Site],
    variant: Variant,
    known: KnownFoot,
) -> tuple[tuple[Strip, ...], tuple[int, ...]]:
    """Measure each foot, those that fail where the others put them, then all as told.

    All feet, and the numbers of those that were measured.
    """
    feet = list(found.feet)
    measured = _measured(scene, found.view, feet, found.lands, known)
    if LEAST_MEASURED <= len(measured) < len(feet):
        feet = like_measured(measured, sites, found.pose, variant)
        left = [foot for foot in feet if foot.number not in measured]
        measured |= _measured(scene, found.view, left, found.lands, known)
    if len(measured) >= LEAST_MEASURED:
        feet = like_measured(measured, sites, found.pose, variant)
        told = replace(known, place_sd_mm=TOLD_SD_MM)
        wide = as_wide(feet, measured)
        measured |= _measured(scene, found.view, wide, found.lands, told)
    placed = tuple(measured.get(foot.number, foot) for foot in feet)
    return placed, tuple(sorted(measured))


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
) -> list[_Found]:
    """Look for the feet where each of two mirrored views puts them."""
    views = [replace(scene.board.view, mirror_mm=None)]
    if scene.board.view.mirror_mm is not None:
        views.append(replace(views[0], camera_mm=scene.board.view.mirror_mm))
    pattern = strips_of(land_positions(lands.variant))
    tried = []
    for view in views:
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
        under = numbered(feet, lands.lands, pattern)
        tried.append(_Found(pose, view, place.edge, feet, under, drawn, sd_mm))
    return tried


def _likely(
    scene: _Scene, tried: Sequence[_Found], known: KnownFoot
) -> list[tuple[_Found, float]]:
    """Weigh two views by the outline and by how well the feet fit, the likelier first.

    Where that does not tell, both count by their shares, and the other stays as a
    doubt.  How clear the edges are does not tell: of 300 drawn six-lead SOTs nine were
    read 0.1 to 0.5 mm off by edges twice as clear as those of the true view.
    """
    if len(tried) < 2:
        return [(tried[0], 1.0)]
    costs = []
    for found in tried:
        few = found.feet[:: max(1, len(found.feet) // TRIED_FEET)]
        seen = _measured(scene, found.view, few, found.lands, known)
        missing = [UNSEEN_GREY] * (len(few) - len(seen))
        left = [*(foot.left_over for foot in seen.values()), *missing]
        placed = [seen.get(foot.number, foot) for foot in few]
        fit = 2 * len(few) * math.log(float(np.mean(left)) / (found.edge + 1e-6))
        off_mm, _ = off_drawn(placed, found.drawn)
        costs.append((off_mm / found.sd_mm) ** 2 + fit)
    first = int(np.argmin(costs))
    best, other = tried[first], tried[1 - first]
    worse = abs(costs[0] - costs[1])
    if worse >= SETTLED_CHI2:
        return [(best, 1.0)]
    share = 1 / (1 + math.exp(-worse / COST_SCALE))
    torn = replace(best, view=replace(best.view, mirror_mm=other.view.camera_mm))
    return [(torn, share), (other, 1 - share)]


def _between(
    ways: Sequence[Sequence[Strip]], shares: Sequence[float]
) -> tuple[Strip, ...]:
    """Lay the feet of the first way between those of all, by their shares."""
    places = [{foot.number: foot.centre_mm for foot in feet} for feet in ways]
    out = []
    for foot in ways[0]:
        seen = [place.get(foot.number, foot.centre_mm) for place in places]
        x, y = np.average(seen, axis=0, weights=shares)
        out.append(replace(foot, centre_mm=(float(x), float(y))))
    return tuple(out)


def _apart_mm(tried: Sequence[_Found]) -> float:
    """How far apart the ways of looking put the feet."""
    middles = [np.mean([f.centre_mm for f in found.feet], axis=0) for found in tried]
    return float(np.linalg.norm(middles[-1] - middles[0]))


def _stood(foot: Strip, view: View) -> Strip:
    """Take the parallax off a foot that was found by its edges."""
    x, y = stand_at(view, [foot.centre_mm], EDGES_MM)[0]
    return replace(foot, centre_mm=(float(x), float(y)))


def _measured(
    scene: _Scene,
    view: View,
    feet: Sequence[Strip],
    lands: Sequence[Strip],
    known: KnownFoot,
) -> dict[int, Strip]:
    """Measure feet together with their lands; those that can be, by number."""
    under = {land.number: land for land in lands}
    board = Board(
        gray=scene.piece.gray,
        board_to_image=scene.to_piece,
        registration_sd_mm=scene.board.registration_mm,
    )
    gap_mm = least_gap_mm(lands)
    found = {}
    for foot in feet:
        land = under.get(foot.number)
        if land is None:
            continue
        square = replace(foot, outward=land.outward)
        seen = measure_foot(board, square, land, view, gap_mm=gap_mm, known=known)
        if seen:
            found[foot.number] = replace(
                seen,
                across_sd_mm=math.hypot(seen.across_sd_mm, SOLDER_SD_MM),
                end_sd_mm=math.hypot(seen.end_sd_mm, SOLDER_END_SD_MM),
            )
    return found


def _plane_mm(view: View, feet: Sequence[Strip], *, is_by_edges: bool) -> Point:
    """Doubt about the parallax that was taken off, and about edges alone: x and y."""
    x, y = np.mean([foot.centre_mm for foot in feet], axis=0)
    height, sd = (EDGES_MM, EDGES_SD_MM) if is_by_edges else (FOOT_MM, FOOT_SD_MM)
    shift = parallax(view, (x, y), height, height_sd_mm=sd)
    shared = EDGES_SHARED_SD_MM if is_by_edges else LIGHT_SHARED_SD_MM
    return math.hypot(shift.dx_sd_mm, shared), math.hypot(shift.dy_sd_mm, shared)
