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

from vision.drawn_feet import (
    LAND_PLACE_SD_MM,
    LEAD_PLACE_SD_MM,
    SCALE_SD_FRAC,
    as_drawn,
    moved_strip,
    sites_of,
    strips_at,
    terminals_of,
)
from vision.flat_lands import laid_flat
from vision.geometry import apply_homography, body_corners_mm, homography
from vision.lands import strips_of
from vision.lead_findings import judge_leads, unless_seen, worst_finding
from vision.lead_motion import fit_rigid
from vision.overhang import Doubt, read_leads, side_of
from vision.placed_body import place_body
from vision.placed_feet import PlacedFeet, place_feet
from vision.results import Finding, NotFound
from vision.seat import name_situation, read_seat
from vision.tables import land_positions
from vision.uncertainty import rectangular

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.bare_lands import BareLands
    from vision.limits import ShopLimits
    from vision.overhang import LeadReading, Strip
    from vision.packages import Variant
    from vision.results import Alignment, Overhang, Package, Photo, Registration
    from vision.seat import Seat, Situation
    from vision.uncertainty import Budget

    FloatArray = npt.NDArray[np.float64]

PLACED_MM, PLACED_FRAC, PLACED_FINE_MM = 0.10, 0.25, 0.05
"""How far at most a machine-placed, reflowed chip lies off its lands (rectangular): in
mm; on narrow leads this share of their width, the strictest side overhang that a maker
lets pass (the strict set of ``limits.toml``); never less than IPC-7351 counts for
placing."""
MOST_SAID = 4
"""Sentences about leads and gaps; every lead stands in the table of overhangs."""
BY_OUTLINE = (
    "the terminals under the body were not seen: its outline says where they lie"
)
PLAY_MM = math.hypot(LEAD_PLACE_SD_MM, LAND_PLACE_SD_MM)
"""How far leads and lands lie off their drawn places."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seated:
    """How the leads sit on their lands; ``finding`` sums all of it up.

    ``seat`` is the chip as a whole, in the lands' frame, ``readings`` each lead.
    """

    overhang: tuple[Overhang, ...]
    finding: Finding
    situation: Situation
    seat: Seat
    readings: tuple[LeadReading, ...]

    @property
    def budgets(self) -> tuple[Budget, ...]:
        """Side overhang of every lead, with what makes it doubtful."""
        return tuple(reading.side_overhang for reading in self.readings)


def seat_on_bare_lands(
    after_photo: Photo,
    after: Package,
    variant: Variant,
    lands: BareLands,
    registration: Registration,
    limits: ShopLimits,
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
    limits : ShopLimits
        What the shop judges by.

    Returns
    -------
    Seated or NotFound
        Of leadless packages the outline places the terminals; NotFound for others
        without feet that reach out of the body.
    """
    is_hidden = variant.lead_style == "no_lead"
    place = place_body if is_hidden else place_feet
    placed = place(after_photo, after, variant, laid_flat(lands), registration)
    if isinstance(placed, NotFound):
        return placed
    assumed = (BY_OUTLINE,) if is_hidden else ()
    return _judged(placed, variant, (limits, assumed))


def seat_as_before(
    before: Package, variant: Variant, alignment: Alignment, limits: ShopLimits
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
    limits : ShopLimits
        What the shop judges by.

    Returns
    -------
    Seated or NotFound
        NotFound where the shift is not known or the package has no feet.
    """
    is_hidden = variant.lead_style == "no_lead"
    sites = terminals_of(variant) if is_hidden else sites_of(variant)
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
    placed_mm = _placed_mm(variant)
    placed_sd = rectangular(placed_mm)
    turn_sd = math.radians(alignment.u_deg or 0.0) / 2
    feet = [
        moved_strip(_spread(foot, placed_sd, turn_sd), pose)
        for foot in strips_at(sites, fit_rigid(sites, still), still, variant)
    ]
    drawn = strips_of(land_positions(variant))
    lands = tuple(as_drawn(land, land) for land in drawn)
    doubt = Doubt(registration_mm=u_mm / 2, scale_frac=SCALE_SD_FRAC)
    assumed: tuple[str, ...] = (
        "the lands were not photographed bare: the chip is taken to have sat on them "
        f"to {placed_mm:.2f} mm before",
    )
    if is_hidden:
        assumed = (*assumed, BY_OUTLINE)
    placed = PlacedFeet(feet=tuple(feet), lands=lands, doubt=doubt)
    return _judged(placed, variant, (limits, assumed))


def _spread(foot: Strip, placed_sd_mm: float, turn_sd_rad: float) -> Strip:
    """Give a foot the spread of a chip's place and of its turn about its middle."""
    out = np.array(foot.outward)
    swing_mm = turn_sd_rad * np.array(foot.centre_mm)
    return replace(
        foot,
        across_sd_mm=math.hypot(placed_sd_mm, float(swing_mm @ out)),
        end_sd_mm=math.hypot(placed_sd_mm, float(swing_mm @ side_of(foot))),
        turn_sd_rad=turn_sd_rad,
    )


def _placed_mm(variant: Variant) -> float:
    """How far off its lands the maker left the chip at most."""
    share = PLACED_FRAC * variant.lead_width_mm[1]
    return min(PLACED_MM, max(PLACED_FINE_MM, share))


def _judged(
    placed: PlacedFeet, variant: Variant, terms: tuple[ShopLimits, tuple[str, ...]]
) -> Seated | NotFound:
    """Judge the leads by the shop's limits, and say what was taken for granted."""
    limits, assumed = terms
    lands, doubt = placed.lands, placed.doubt
    numbers = {land.number for land in lands}
    if len([foot for foot in placed.feet if foot.number in numbers]) < 2:
        return NotFound(reason="fewer than two leads lie beside a land")
    seat, feet = read_seat(placed.feet, lands, doubt, play_mm=PLAY_MM)
    readings = read_leads(feet, lands, doubt)
    judged = judge_leads(readings, limits, lead_style=variant.lead_style)
    if isinstance(judged, NotFound):
        return judged
    judged = tuple(unless_seen(lead, placed.unseen) for lead in judged)
    situation, said = name_situation(seat, readings, variant.pitch_mm)
    worst_first = sorted(judged, key=lambda lead: -lead.overhang.side_overhang_frac)
    findings = [f for lead in worst_first for f in (lead.side, lead.toe, lead.gap)]
    finding = _shortened(worst_finding(findings))
    if situation != "seated":
        finding = Finding(state="fault", reasons=(said, *finding.reasons[:2]))
    elif finding.state == "ok":
        finding = Finding(state="ok", reasons=worst_first[0].side.reasons)
    return Seated(
        overhang=tuple(lead.overhang for lead in judged),
        finding=replace(finding, reasons=(*finding.reasons, *assumed)),
        situation=situation,
        seat=seat,
        readings=readings,
    )


def _shortened(finding: Finding) -> Finding:
    """Say the worst, and of how many others the same could be said."""
    more = len(finding.reasons) - MOST_SAID
    if more <= 1:
        return finding
    said = (*finding.reasons[:MOST_SAID], f"and {more} more of its leads and gaps")
    return replace(finding, reasons=said)
