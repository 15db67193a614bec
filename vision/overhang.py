"""Leads against their lands: overhang, gap, and what is wrong as a whole.

Feet and lands are strips in one board frame in millimetres (y down, as everywhere).
Where they were seen does not matter here, only how well: each strip brings its
spreads, and what both share (registration, scale, plane) comes in a ``Doubt``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from vision.uncertainty import Budget, Contribution

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import Point

Situation = Literal[
    "seated",
    "shifted by whole pitches",
    "package narrower than its lands",
    "package wider than its lands",
    "off its lands",
]
PITCH_TOLERANCE_FRAC = 0.25
"""A shift within a quarter pitch of n pitches is called n pitches."""
TOE_SHORT_MM = 0.90
"""More land than this past both toe rows: open land patterns leave 0.35 to 0.75 mm."""
TOE_PAST_MM = 0.10
"""Toes past both land rows: no open land pattern is that short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A foot or a land: a rectangle with an outer end.

    ``outward`` is the unit vector from heel to toe.  Spreads are standard
    uncertainties: of the middle line across, of the outer end, and of the width.
    """

    number: int
    centre_mm: Point
    length_mm: float
    width_mm: float
    outward: Point
    across_sd_mm: float = 0.0
    end_sd_mm: float = 0.0
    width_sd_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Standard uncertainties that feet and lands share.

    ``registration_mm``: of laying the lands' photo over the feet's, at the chip.
    ``scale_frac``: relative, of the scale.  ``plane_mm``: of the sideways shift of a
    foot's upper face against the board in a tilted view.
    """

    registration_mm: float = 0.0
    scale_frac: float = 0.0
    plane_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadReading:
    """One lead against its land.

    Overhangs are signed: below zero the lead lies inside by that much.  ``gap`` is the
    clear distance to the nearest other land; None where there is none beside it.
    """

    number: int
    side_overhang: Budget
    toe_overhang: Budget
    gap: Budget | None
    lead_width_mm: float
    is_on_land: bool

    @property
    def side_overhang_frac(self) -> float:
        """Side overhang as a share of the lead width, never below zero."""
        return max(self.side_overhang.value, 0.0) / self.lead_width_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """The chip as a whole on its lands, from all leads together.

    Shift and skew are of the feet against the lands (counter-clockwise positive as
    seen), ``toe_mm`` how far toes stand past the land ends on average; ``sd`` in the
    same order (dx, dy, skew, toe).
    """

    dx_mm: float
    dy_mm: float
    skew_deg: float
    toe_mm: float
    sd: tuple[float, float, float, float]
    residual_mm: float


def read_leads(
    feet: Sequence[Strip], lands: Sequence[Strip], doubt: Doubt
) -> tuple[LeadReading, ...]:
    """Measure every lead against the land of its number.

    Parameters
    ----------
    feet : sequence of Strip
        Feet of the leads, board frame, mm.
    lands : sequence of Strip
        Lands, same frame.  Feet without a land of their number are left out.
    doubt : Doubt
        What feet and lands share.

    Returns
    -------
    tuple of LeadReading
        In the order of ``feet``, each value with its uncertainty budget.
    """
    by_number = {land.number: land for land in lands}
    return tuple(
        _read_lead(foot, by_number[foot.number], lands, doubt)
        for foot in feet
        if foot.number in by_number
    )


def read_seat(feet: Sequence[Strip], lands: Sequence[Strip], doubt: Doubt) -> Seat:
    """Find shift, skew and mean toe position of all feet against their lands.

    Parameters
    ----------
    feet, lands : sequence of Strip
        As for ``read_leads``; at least two feet that are not in one place.
    doubt : Doubt
        Registration and plane are added to the spread of the shift.

    Returns
    -------
    Seat
        Weighted least squares over middle lines and outer ends; the shift is that of
        the middle of the given feet.
    """
    by_number = {land.number: land for land in lands}
    pairs = [(f, by_number[f.number]) for f in feet if f.number in by_number]
    if len(pairs) < 2:
        msg = f"{len(pairs)} leads with a land; at least 2 are needed"
        raise ValueError(msg)
    centre = np.mean([foot.centre_mm for foot, _ in pairs], axis=0)
    rows, seen, spread = [], [], []
    for foot, land in pairs:
        out, side = np.array(land.outward), _side(land)
        arm = np.array(foot.centre_mm) - centre
        turned = np.array([arm[1], -arm[0]])
        offset, end = _offset(foot, land, 0.0), _end(foot, land)
        rows.append([*side, turned @ side, 0.0])
        seen.append(offset)
        spread.append(math.hypot(foot.across_sd_mm, land.across_sd_mm))
        toe_arm = np.array(foot.centre_mm) + out * foot.length_mm / 2 - centre
        rows.append([*out, np.array([toe_arm[1], -toe_arm[0]]) @ out, 1.0])
        seen.append(end)
        spread.append(math.hypot(foot.end_sd_mm, land.end_sd_mm))
    design, values = np.array(rows), np.array(seen)
    weight = 1 / np.maximum(np.array(spread), 1e-4)
    solution, *_ = np.linalg.lstsq(design * weight[:, None], values * weight)
    covariance = np.linalg.pinv(
        (design * weight[:, None]).T @ (design * weight[:, None])
    )
    residual = values - design @ solution
    common = doubt.registration_mm**2 + doubt.plane_mm**2
    sd = np.sqrt(np.diag(covariance) + np.array([common, common, 0.0, 0.0]))
    return Seat(
        dx_mm=float(solution[0]),
        dy_mm=float(solution[1]),
        skew_deg=math.degrees(solution[2]),
        toe_mm=float(solution[3]),
        sd=(float(sd[0]), float(sd[1]), math.degrees(sd[2]), float(sd[3])),
        residual_mm=float(np.sqrt(np.mean(residual**2))),
    )


def name_situation(
    seat: Seat, readings: Sequence[LeadReading], pitch_mm: float
) -> tuple[Situation, str]:
    """Name what is wrong with the chip as a whole, if anything is.

    Parameters
    ----------
    seat : Seat
        Shift and mean toe position.
    readings : sequence of LeadReading
        All leads.
    pitch_mm : float
        Pitch of the package.

    Returns
    -------
    (Situation, str)
        The name, and a sentence with the numbers; the sentence is empty for "seated".
    """
    toe, u_toe = seat.toe_mm, 2 * seat.sd[3]
    if toe - u_toe > TOE_PAST_MM:
        return "package wider than its lands", (
            f"the toes hang {toe:.2f} ± {u_toe:.2f} mm past the lands on both sides: "
            "the package is wider than its lands"
        )
    if -toe - u_toe > TOE_SHORT_MM:
        return "package narrower than its lands", (
            f"the lands reach {-toe:.2f} ± {u_toe:.2f} mm past the toes on both sides "
            f"(0.35 to 0.75 mm is usual): the package is narrower than its lands"
        )
    shift = math.hypot(seat.dx_mm, seat.dy_mm)
    pitches = round(shift / pitch_mm)
    if pitches and abs(shift / pitch_mm - pitches) < PITCH_TOLERANCE_FRAC:
        plural = "pitch" if pitches == 1 else "pitches"
        return "shifted by whole pitches", (
            f"the chip sits {shift:.2f} mm off, {pitches} whole {plural} "
            f"of {pitch_mm:g} mm: each lead is on a neighbour's land"
        )
    off = [str(reading.number) for reading in readings if not reading.is_on_land]
    if off:
        noun = "lead" if len(off) == 1 else "leads"
        return "off its lands", f"{noun} {', '.join(off)} off the land"
    return "seated", ""


def _read_lead(
    foot: Strip, land: Strip, lands: Sequence[Strip], doubt: Doubt
) -> LeadReading:
    offset = max((_offset(foot, land, at) for at in _ends_on_land(foot, land)), key=abs)
    edge = abs(offset) + foot.width_mm / 2
    shared = (
        Contribution(name="registration", u=doubt.registration_mm),
        Contribution(name="plane (parallax of the foot)", u=doubt.plane_mm),
    )
    side = Budget(
        quantity=f"lead {foot.number} side overhang",
        value=edge - land.width_mm / 2,
        unit="mm",
        contributions=(
            *_across(foot, land),
            Contribution(
                name="lead width", u=foot.width_sd_mm, sensitivity=0.5, kind="A"
            ),
            Contribution(name="land width", u=land.width_sd_mm, sensitivity=-0.5),
            *shared,
            Contribution(
                name="scale", u=doubt.scale_frac, unit="1", sensitivity=abs(offset)
            ),
        ),
    )
    past = _end(foot, land)
    toe = Budget(
        quantity=f"lead {foot.number} toe overhang",
        value=past,
        unit="mm",
        contributions=(
            Contribution(name="toe edge fit", u=foot.end_sd_mm, kind="A"),
            Contribution(name="land end", u=land.end_sd_mm),
            *shared,
            Contribution(name="scale", u=doubt.scale_frac, unit="1", sensitivity=past),
        ),
    )
    apart = abs(offset) - (foot.width_mm + land.width_mm) / 2
    overlap = _overlap_mm(foot, land)
    return LeadReading(
        number=foot.number,
        side_overhang=side,
        toe_overhang=toe,
        gap=_gap(foot, land, lands, doubt),
        lead_width_mm=foot.width_mm,
        is_on_land=apart < 0 and overlap > 0,
    )


def _gap(
    foot: Strip, land: Strip, lands: Sequence[Strip], doubt: Doubt
) -> Budget | None:
    """Clear distance across to the nearest other land of the same row."""
    best: tuple[float, Strip] | None = None
    for other in lands:
        parallel = float(np.dot(other.outward, land.outward)) > 0.9
        if other.number == foot.number or not parallel:
            continue
        offset = max((_offset(foot, other, at) for at in _ends(foot)), key=_less_abs)
        clear = abs(offset) - (foot.width_mm + other.width_mm) / 2
        if best is None or clear < best[0]:
            best = clear, other
    if best is None:
        return None
    clear, other = best
    return Budget(
        quantity=f"lead {foot.number} gap to land {other.number}",
        value=clear,
        unit="mm",
        contributions=(
            *_across(foot, other),
            Contribution(
                name="lead width", u=foot.width_sd_mm, sensitivity=-0.5, kind="A"
            ),
            Contribution(name="land width", u=other.width_sd_mm, sensitivity=-0.5),
            Contribution(name="registration", u=doubt.registration_mm),
            Contribution(name="plane (parallax of the foot)", u=doubt.plane_mm),
            Contribution(
                name="scale", u=doubt.scale_frac, unit="1", sensitivity=abs(clear)
            ),
        ),
    )


def _across(foot: Strip, land: Strip) -> tuple[Contribution, Contribution]:
    return (
        Contribution(name="lead edge fit", u=foot.across_sd_mm, kind="A"),
        Contribution(name="land place", u=land.across_sd_mm),
    )


def _side(strip: Strip) -> np.ndarray:
    """Give the unit vector across a strip: its outward axis turned a quarter."""
    return np.array([-strip.outward[1], strip.outward[0]])


def _offset(foot: Strip, land: Strip, along_mm: float) -> float:
    """How far across the land the foot's middle line lies, ``along_mm`` outward."""
    place = np.array(foot.centre_mm) + along_mm * np.array(foot.outward)
    return float((place - np.array(land.centre_mm)) @ _side(land))


def _end(foot: Strip, land: Strip) -> float:
    """How far the toe stands past the land's outer end; below zero: short of it."""
    out = np.array(land.outward)
    toe = np.array(foot.centre_mm) + foot.length_mm / 2 * np.array(foot.outward)
    return float((toe - np.array(land.centre_mm)) @ out) - land.length_mm / 2


def _ends(foot: Strip) -> tuple[float, float]:
    return -foot.length_mm / 2, foot.length_mm / 2


def _ends_on_land(foot: Strip, land: Strip) -> tuple[float, float]:
    """Toe and heel of the foot, cut back to the length of the land."""
    out = np.array(land.outward)
    middle = float((np.array(foot.centre_mm) - np.array(land.centre_mm)) @ out)
    half = land.length_mm / 2
    low, high = (min(max(middle + at, -half), half) - middle for at in _ends(foot))
    return low, high


def _overlap_mm(foot: Strip, land: Strip) -> float:
    """Length of the foot that lies along the land's length."""
    out = np.array(land.outward)
    middle = float((np.array(foot.centre_mm) - np.array(land.centre_mm)) @ out)
    half_foot, half_land = foot.length_mm / 2, land.length_mm / 2
    low = max(middle - half_foot, -half_land)
    return min(middle + half_foot, half_land) - low


def _less_abs(value: float) -> float:
    return -abs(value)
