"""The chip on its lands: each lead against the land under it, judged by shop limits.

With a photo of the bare lands the feet are measured against the lands seen there.
Without one the lands are taken to lie where the chip sat before, as well as a chip is
usually placed; that is a wider doubt, and it is said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from vision.foot_places import find_feet
from vision.geometry import apply_homography, body_corners_mm, homography
from vision.lands import strips_of
from vision.lead_findings import judge_leads, worst_finding
from vision.lead_motion import fit_rigid
from vision.lead_patches import MIN_REACH_MM, ROOM_MM, SAMPLE_PX_PER_MM, Site
from vision.limits import read_limits
from vision.overhang import Doubt, Strip, read_leads
from vision.patches import cut
from vision.planes import estimate_view, parallax, stand_at
from vision.results import Finding, NotFound
from vision.seat import name_situation, read_seat
from vision.tables import land_positions, lead_positions

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.bare_lands import BareLands
    from vision.lead_motion import LayerMotion
    from vision.limits import Limit
    from vision.packages import Variant
    from vision.results import Alignment, Overhang, Package, Photo, Registration
    from vision.seat import Situation
    from vision.uncertainty import Budget

    FloatArray = npt.NDArray[np.float64]

FOOT_MM, FOOT_SD_MM = 0.18, 0.08
LEAD_PLACE_SD_MM = 0.02
"""True position of a lead in the package: drawings allow 0.10 mm profile."""
WIDTH_SD_FRAC = 0.08
LAND_SD_MM = 0.02
"""Place of a land's edges: copper, mask opening and tin do not end together."""
FEET_SD_MM = (0.015, 0.05)
"""Feet by their edges, across and along (path-traced views)."""
PLACED_SD_MM = 0.06
"""How far a machine-placed, reflowed chip lies off its lands: 0.10 mm, rectangular
(common practice; IPC-7351 land patterns count 0.05 mm for placing)."""
SCALE_SD_FRAC = 0.01
VIEW_POINT_SD_PX = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Seated:
    """How the leads sit on their lands; ``finding`` sums all of it up."""

    overhang: tuple[Overhang, ...]
    finding: Finding
    situation: Situation
    budgets: tuple[Budget, ...]


def seat_on_bare_lands(
    after_photo: Photo,
    after: Package,
    variant: Variant,
    lands: BareLands,
    registration: Registration,
) -> Seated | NotFound:
    """Measure the feet in the after photo against the lands in the bare-lands photo.

    Parameters
    ----------
    after_photo : Photo
        Upright photo.
    after : Package
        The chip; its outline says where to look.
    variant : Variant
        The chip's size.
    lands : BareLands
        The lands as seen bare.
    registration : Registration
        The board, bare-lands photo to after photo.

    Returns
    -------
    Seated or NotFound
        NotFound for packages without feet that reach out of the body.
    """
    sites = _sites(variant)
    if isinstance(sites, NotFound):
        return sites
    to_after = np.asarray(registration.before_to_after) @ np.asarray(lands.to_photo)
    pose = _pose(after, variant, to_after)
    scale = float(after.px_per_mm or lands.px_per_mm)
    px_per_mm = min(SAMPLE_PX_PER_MM, scale)
    reach = max(float(np.abs(site.toe_mm).max()) for site in sites) + ROOM_MM
    middle = apply_homography(to_after @ pose, [[0.0, 0.0]])[0]
    piece = cut(after_photo, middle, 1.5 * reach * scale, px_per_mm / scale)
    if not piece.gray.size:
        return NotFound(reason="the chip lies at the edge of the after photo")
    to_piece = np.linalg.inv(piece.to_photo) @ to_after @ pose
    found = find_feet(piece, to_piece, sites, px_per_mm)
    rigid = fit_rigid(sites, found.steps_mm)
    size = (after_photo.width_px, after_photo.height_px)
    points = np.array([land.centre_mm for land in lands.lands])
    view = estimate_view(
        points,
        apply_homography(to_after, points),
        size,
        point_sd_px=VIEW_POINT_SD_PX + LAND_SD_MM * scale,
    )
    at = apply_homography(pose, [rigid.shift_mm])[0]
    lift = parallax(view, (at[0], at[1]), FOOT_MM, height_sd_mm=FOOT_SD_MM)
    feet = _feet(sites, rigid, found.steps_mm, variant)
    placed = tuple(_carried(foot, pose, view) for foot in feet)
    under = _numbered(placed, lands.lands, strips_of(land_positions(lands.variant)))
    residual_mm = registration.residual_px / scale
    doubt = Doubt(
        registration_mm=residual_mm * math.sqrt(4 / registration.inliers) + 0.005,
        scale_frac=SCALE_SD_FRAC,
        plane_mm=max(lift.dx_sd_mm, lift.dy_sd_mm),
    )
    return _judged(placed, under, doubt, variant, ())


def seat_as_before(
    before: Package, variant: Variant, alignment: Alignment
) -> Seated | NotFound:
    """Judge the leads as if the chip before had sat on its lands as chips usually do.

    Parameters
    ----------
    before : Package
        The chip before; its outline gives the directions of its rows.
    variant : Variant
        The chip's size.
    alignment : Alignment
        How it moved since.

    Returns
    -------
    Seated or NotFound
        NotFound where the shift is not known or the package has no feet.
    """
    sites = _sites(variant)
    if isinstance(sites, NotFound):
        return sites
    dx, dy, u_mm = alignment.dx_mm, alignment.dy_mm, alignment.u_mm
    if dx is None or dy is None or u_mm is None:
        return NotFound(reason="the chip's shift is not known")
    size = variant.body_x_mm[1], variant.body_y_mm[1]
    to_photo = homography(body_corners_mm(*size), np.asarray(before.outline_px))
    ends = apply_homography(to_photo, [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    axes = [(end - ends[0]) / np.linalg.norm(end - ends[0]) for end in ends[1:]]
    shift = np.array([float(axis @ [dx, dy]) for axis in axes])
    skew = math.radians(alignment.skew_deg or 0.0)
    cos, sin = math.cos(skew), math.sin(skew)
    pose = np.array([[cos, sin, shift[0]], [-sin, cos, shift[1]], [0.0, 0.0, 1.0]])
    still = np.zeros((len(sites), 2))
    feet = [
        _moved_strip(
            replace(foot, across_sd_mm=PLACED_SD_MM, end_sd_mm=PLACED_SD_MM), pose
        )
        for foot in _feet(sites, fit_rigid(sites, still), still, variant)
    ]
    drawn = strips_of(land_positions(variant))
    lands = tuple(_as_drawn(land, land) for land in drawn)
    doubt = Doubt(registration_mm=u_mm / 2, scale_frac=SCALE_SD_FRAC)
    assumed = (
        "the lands were not photographed bare: they are taken to lie where the chip "
        "sat before, to ± 0.12 mm",
    )
    return _judged(tuple(feet), lands, doubt, variant, assumed)


def _judged(
    feet: Sequence[Strip],
    lands: Sequence[Strip],
    doubt: Doubt,
    variant: Variant,
    assumed: tuple[str, ...],
) -> Seated | NotFound:
    limits: tuple[Limit, ...] = read_limits()
    numbers = {land.number for land in lands}
    if len([foot for foot in feet if foot.number in numbers]) < 2:
        return NotFound(reason="fewer than two leads lie beside a land")
    seat, _ = read_seat(feet, lands, doubt)
    readings = read_leads(feet, lands, doubt)
    judged = judge_leads(readings, limits, lead_style=variant.lead_style)
    if isinstance(judged, NotFound):
        return judged
    situation, said = name_situation(seat, readings, variant.pitch_mm)
    findings = [f for lead in judged for f in (lead.side, lead.toe, lead.gap)]
    finding = worst_finding(findings)
    if situation != "seated":
        finding = Finding(state="fault", reasons=(said, *finding.reasons[:2]))
    elif finding.state == "ok":
        worst = max(judged, key=lambda lead: lead.overhang.side_overhang_frac)
        finding = Finding(state="ok", reasons=worst.side.reasons)
    return Seated(
        overhang=tuple(lead.overhang for lead in judged),
        finding=replace(finding, reasons=(*finding.reasons, *assumed)),
        situation=situation,
        budgets=tuple(reading.side_overhang for reading in readings),
    )


def _sites(variant: Variant) -> tuple[Site, ...] | NotFound:
    """Every lead by its drawing, package frame."""
    sites = []
    for place in lead_positions(variant):
        toe, root = np.array(place.toe_mm), np.array(place.root_mm)
        run = toe - root
        reach = float(np.abs(run).max())
        if variant.lead_style != "gull_wing" or reach < MIN_REACH_MM:
            return NotFound(
                reason=f"{variant.name}: no feet reach out of the body; its joints "
                "cannot be seen from above. Look from the side, or have it X-rayed"
            )
        sites.append(
            Site(
                number=place.number,
                toe_mm=toe,
                outward=np.round(run / reach),
                reach_mm=reach,
                width_mm=place.width_mm,
            )
        )
    return tuple(sites)


def _pose(after: Package, variant: Variant, to_after: FloatArray) -> FloatArray:
    """Rigid map from the package's frame to the lands' frame, by the outline."""
    corners = body_corners_mm(variant.body_x_mm[1], variant.body_y_mm[1])
    seen = apply_homography(np.linalg.inv(to_after), after.outline_px)
    away, there = corners - corners.mean(axis=0), seen - seen.mean(axis=0)
    turn = math.atan2(
        float((away[:, 0] * there[:, 1] - away[:, 1] * there[:, 0]).sum()),
        float((away * there).sum()),
    )
    cos, sin = math.cos(turn), math.sin(turn)
    x, y = seen.mean(axis=0)
    return np.array([[cos, -sin, x], [sin, cos, y], [0.0, 0.0, 1.0]])


def _feet(
    sites: Sequence[Site], rigid: LayerMotion, steps: FloatArray, variant: Variant
) -> list[Strip]:
    """Feet in the package's frame: the rigid chip, and bent leads as they were seen."""
    turn = math.radians(rigid.skew_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    whole = np.array([[cos, sin], [-sin, cos]])
    across_sd = math.hypot(max(rigid.sd_mm), FEET_SD_MM[0], LEAD_PLACE_SD_MM)
    feet = []
    for site, step in zip(sites, steps, strict=True):
        is_bent = site.number in rigid.odd
        toe = whole @ site.toe_mm + np.array(rigid.shift_mm)
        if is_bent:
            toe = site.toe_mm + step
        outward = whole @ site.outward
        length = variant.foot_length_mm[1]
        centre = toe - outward * length / 2
        feet.append(
            Strip(
                number=site.number,
                centre_mm=(float(centre[0]), float(centre[1])),
                length_mm=length,
                width_mm=site.width_mm,
                outward=(float(outward[0]), float(outward[1])),
                across_sd_mm=across_sd,
                end_sd_mm=FEET_SD_MM[1],
                width_sd_mm=WIDTH_SD_FRAC * site.width_mm,
                turn_sd_rad=math.radians(rigid.sd_deg),
            )
        )
    return feet


def _carried(foot: Strip, pose: FloatArray, view: object) -> Strip:
    """Carry a foot to the lands' frame and take its parallax off."""
    moved = _moved_strip(foot, pose)
    x, y = stand_at(view, [moved.centre_mm], FOOT_MM)[0]  # type: ignore[arg-type]
    return replace(moved, centre_mm=(float(x), float(y)))


def _moved_strip(strip: Strip, pose: FloatArray) -> Strip:
    x, y = apply_homography(pose, [strip.centre_mm])[0]
    out = pose[:2, :2] @ np.array(strip.outward)
    return replace(
        strip,
        centre_mm=(float(x), float(y)),
        outward=(float(out[0]), float(out[1])),
    )


def _numbered(
    feet: Sequence[Strip], lands: Sequence[Strip], drawn: Sequence[Strip]
) -> tuple[Strip, ...]:
    """Give each land the number of the lead of its row that belongs to its place.

    Both rows are counted in the order in which they lie, so that a chip that sits off
    by a whole pitch keeps its own lands.
    """
    by_number = {land.number: land for land in lands}
    numbered = []
    for side in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        across = np.array([-side[1], side[0]])
        leads = _row(feet, np.array(side), across)
        places = _row(drawn, np.array(side), across)
        if len(leads) != len(places):
            continue
        for lead, place in zip(leads, places, strict=True):
            seen = by_number.get(place.number)
            if seen is not None:
                numbered.append(replace(_as_drawn(seen, place), number=lead.number))
    return tuple(numbered)


def _row(strips: Sequence[Strip], side: FloatArray, across: FloatArray) -> list[Strip]:
    row = [s for s in strips if float(np.array(s.outward) @ side) > 0.7]
    return sorted(row, key=lambda s: float(np.array(s.centre_mm) @ across))


def _as_drawn(seen: Strip, drawn: Strip) -> Strip:
    """Take a land's place as seen, and no more of its width and length than drawn.

    A mask opening or tin past the copper makes a land look wider than it is.
    """
    return replace(
        seen,
        width_mm=min(seen.width_mm, drawn.width_mm),
        length_mm=min(seen.length_mm, drawn.length_mm),
        across_sd_mm=math.hypot(seen.across_sd_mm, LAND_SD_MM),
        end_sd_mm=math.hypot(seen.end_sd_mm, LAND_SD_MM),
        width_sd_mm=math.hypot(seen.width_sd_mm, LAND_SD_MM),
    )
