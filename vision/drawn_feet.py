"""Leads and lands by their drawing: where feet are, and whose land is whose."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import apply_homography
from vision.lead_motion import fit_rigid
from vision.lead_patches import MIN_REACH_MM, Site
from vision.overhang import Strip
from vision.results import NotFound
from vision.tables import lead_positions

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.lead_motion import LayerMotion
    from vision.packages import LeadPlace, Variant
    from vision.results import Point

    FloatArray = npt.NDArray[np.float64]

LEAD_PLACE_SD_MM = 0.02
"""True position of a lead in the package: drawings allow 0.10 mm profile."""
LAND_PLACE_SD_MM = 0.01
"""Place of a land on its board: all are exposed at once (from memory)."""
LAND_SD_MM = 0.01
"""Place of a land's edges: etching, and tin that does not end where the copper does;
what looks wider than drawn is cut back (``as_drawn``)."""
WIDTH_SD_FRAC = 0.08
OUTWARD = {"left": (-1, 0), "bottom": (0, 1), "right": (1, 0), "top": (0, -1)}
"""From the body outward, package frame."""
SCALE_SD_FRAC = 0.01
"""Scale of the lands' frame."""
FEET_SD_MM = (0.015, 0.05)
"""Feet by their edges, across and along (path-traced views)."""


def sites_of(variant: Variant) -> tuple[Site, ...] | NotFound:
    """Give every lead by its drawing.

    Parameters
    ----------
    variant : Variant
        The package.

    Returns
    -------
    tuple of Site or NotFound
        Package frame; NotFound where no feet reach out of the body.
    """
    sites = tuple(map(_site, lead_positions(variant)))
    least_mm = min(site.reach_mm for site in sites)
    if variant.lead_style != "gull_wing" or least_mm < MIN_REACH_MM:
        return NotFound(
            reason=f"{variant.name}: no feet reach out of the body; its joints "
            "cannot be seen from above. Look from the side, or have it X-rayed"
        )
    return sites


def terminals_of(variant: Variant) -> tuple[Site, ...] | NotFound:
    """Give every terminal under a leadless body by its drawing.

    Parameters
    ----------
    variant : Variant
        The package.

    Returns
    -------
    tuple of Site or NotFound
        Package frame, each from the body's edge inward; NotFound for packages with
        leads.
    """
    if variant.lead_style != "no_lead":
        return NotFound(reason=f"{variant.name}: has no terminals under its body alone")
    return tuple(map(_site, lead_positions(variant)))


def _site(place: LeadPlace) -> Site:
    toe = np.array(place.toe_mm)
    reach_mm = float(np.abs(toe - place.root_mm).max())
    return Site(
        number=place.number,
        toe_mm=toe,
        outward=np.array(OUTWARD[place.side], float),
        reach_mm=reach_mm,
        width_mm=place.width_mm,
    )


def strips_at(
    sites: Sequence[Site], rigid: LayerMotion, steps_mm: FloatArray, variant: Variant
) -> list[Strip]:
    """Give the feet of a chip that moved as a whole, bent leads as they were seen.

    Parameters
    ----------
    sites : sequence of Site
        The leads by their drawing.
    rigid : LayerMotion
        How the chip moved.
    steps_mm : ndarray of shape (leads, 2)
        How each foot moved, package frame.
    variant : Variant
        The package.

    Returns
    -------
    list of Strip
        Package frame, mm.
    """
    turn = math.radians(rigid.skew_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    whole = np.array([[cos, sin], [-sin, cos]])
    across_sd = math.hypot(max(rigid.sd_mm), FEET_SD_MM[0], LEAD_PLACE_SD_MM)
    feet = []
    for site, step in zip(sites, steps_mm, strict=True):
        toe = whole @ site.toe_mm + np.array(rigid.shift_mm)
        if site.number in rigid.odd:
            toe = site.toe_mm + step
        outward = whole @ site.outward
        length = variant.foot_length_mm[1]
        x, y = toe - outward * length / 2
        feet.append(
            Strip(
                number=site.number,
                centre_mm=(float(x), float(y)),
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


def moved_strip(strip: Strip, pose: FloatArray) -> Strip:
    """Carry a strip by a rigid motion.

    Parameters
    ----------
    strip : Strip
        Any frame.
    pose : ndarray of shape (3, 3)
        Rigid.

    Returns
    -------
    Strip
    """
    x, y = apply_homography(pose, [strip.centre_mm])[0]
    out = pose[:2, :2] @ np.array(strip.outward)
    return replace(
        strip,
        centre_mm=(float(x), float(y)),
        outward=(float(out[0]), float(out[1])),
    )


def like_measured(
    measured: dict[int, Strip],
    sites: Sequence[Site],
    pose: FloatArray,
    variant: Variant,
) -> list[Strip]:
    """Give all feet where a rigid chip has them whose measured feet lie as seen.

    Parameters
    ----------
    measured : dict of int to Strip
        Feet by number, as seen, in the frame that ``pose`` leads to.
    sites : sequence of Site
        The leads by their drawing.
    pose : ndarray of shape (3, 3)
        From the package's frame.
    variant : Variant
        The package.

    Returns
    -------
    list of Strip
    """
    kept = [site for site in sites if site.number in measured]
    toes = [
        np.array(foot.centre_mm) + np.array(foot.outward) * foot.length_mm / 2
        for foot in (measured[site.number] for site in kept)
    ]
    seen = apply_homography(np.linalg.inv(pose), toes)
    rigid = fit_rigid(kept, seen - np.array([site.toe_mm for site in kept]))
    still = np.zeros((len(sites), 2))
    whole = strips_at(sites, replace(rigid, odd=()), still, variant)
    return [moved_strip(foot, pose) for foot in whole]


def as_wide(feet: Sequence[Strip], measured: dict[int, Strip]) -> list[Strip]:
    """Give feet as much wider than drawn as the median of those measured.

    Parameters
    ----------
    feet : sequence of Strip
        All of one chip, of their drawn widths.
    measured : dict of int to Strip
        Feet by number, as seen; at least one.

    Returns
    -------
    list of Strip
        Of the same places.
    """
    wider = [
        measured[f.number].width_mm / f.width_mm for f in feet if f.number in measured
    ]
    common = float(np.median(wider))
    return [replace(foot, width_mm=common * foot.width_mm) for foot in feet]


def numbered(
    feet: Sequence[Strip], lands: Sequence[Strip], drawn: Sequence[Strip]
) -> tuple[Strip, ...]:
    """Give each land the number of the lead of its row that belongs to its place.

    Both rows are counted in the order in which they lie, so that a chip that sits off
    by a whole pitch keeps its own lands.

    Parameters
    ----------
    feet, lands : sequence of Strip
        As seen, in the lands' frame.
    drawn : sequence of Strip
        The land pattern.

    Returns
    -------
    tuple of Strip
        The lands of rows that have as many leads as places.
    """
    by_number = {land.number: land for land in lands}
    found = []
    for side in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        across = np.array([-side[1], side[0]])
        leads = _row(feet, np.array(side), across)
        places = _row(drawn, np.array(side), across)
        if len(leads) != len(places):
            continue
        for lead, place in zip(leads, places, strict=True):
            seen = by_number.get(place.number)
            if seen is not None:
                found.append(replace(as_drawn(seen, place), number=lead.number))
    return tuple(found)


def _row(strips: Sequence[Strip], side: FloatArray, across: FloatArray) -> list[Strip]:
    row = [s for s in strips if float(np.array(s.outward) @ side) > 0.7]
    return sorted(row, key=lambda s: float(np.array(s.centre_mm) @ across))


def as_drawn(seen: Strip, drawn: Strip) -> Strip:
    """Take a land's place as seen, and no more of its width and length than drawn.

    A mask opening or tin past the copper makes a land look wider than it is.

    Parameters
    ----------
    seen, drawn : Strip
        The land.

    Returns
    -------
    Strip
        With the doubt about where copper ends.
    """
    return replace(
        seen,
        width_mm=min(seen.width_mm, drawn.width_mm),
        length_mm=min(seen.length_mm, drawn.length_mm),
        across_sd_mm=math.hypot(seen.across_sd_mm, LAND_SD_MM),
        end_sd_mm=math.hypot(seen.end_sd_mm, LAND_SD_MM),
        width_sd_mm=math.hypot(seen.width_sd_mm, LAND_SD_MM),
    )


def opening_sd_mm(seen: Sequence[Strip], drawn: Sequence[Strip]) -> float:
    """Tell how far off lands may lie that look wider than they are.

    Light from one side shows the board in the mask's opening on one side of every
    land: the middle then lies off by up to half of what they look too wide.

    Parameters
    ----------
    seen, drawn : sequence of Strip
        The lands, in any order.

    Returns
    -------
    float
        Standard deviation that all lands share, mm: of a place equally likely anywhere
        in that room (JCGM 100, 4.3.7).
    """
    widths = {land.number: land.width_mm for land in drawn}
    excess = [s.width_mm - widths[s.number] for s in seen if s.number in widths]
    room = max(0.0, float(np.median(excess))) if excess else 0.0
    return room / (2 * math.sqrt(3))


def off_drawn(feet: Sequence[Strip], drawn: Sequence[Strip]) -> tuple[Point, float]:
    """Tell how far feet lie off, and how much turned from, where they were drawn.

    Parameters
    ----------
    feet, drawn : sequence of Strip
        Of the same leads, in any order; lands' frame.

    Returns
    -------
    ((float, float), float)
        Step of their middles, mm, and turn, degrees.
    """
    places = {foot.number: np.array(foot.centre_mm) for foot in drawn}
    there = np.array([foot.centre_mm for foot in feet])
    here = np.array([places[foot.number] for foot in feet])
    off = there.mean(axis=0) - here.mean(axis=0)
    return (float(off[0]), float(off[1])), math.degrees(turn_rad(here, there))


def turn_rad(here: FloatArray, there: FloatArray) -> float:
    """Give the turn of a rigid body from its points, by least squares.

    Parameters
    ----------
    here, there : ndarray of shape (n, 2)
        The same points before and after, one frame.

    Returns
    -------
    float
        From x towards y, radians.
    """
    a, b = here - here.mean(axis=0), there - there.mean(axis=0)
    cross = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum()
    return math.atan2(float(cross), float((a * b).sum()))
