"""Each lead against its land: side and toe overhang, gap to the next land.

Feet and lands are strips in one board frame in millimetres (y down, as everywhere).
Where they were seen does not matter here, only how well: each strip brings its
spreads, and what both share (registration, scale, plane) comes in a ``Doubt``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vision.uncertainty import Budget, Contribution, expanded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A foot or a land: a rectangle with an outer end.

    ``outward`` is the unit vector from heel to toe.  Spreads are standard
    uncertainties: of the middle line across, of the outer end, and of the width.
    ``turn_sd_rad`` is the spread of the direction of ``outward``.
    """

    number: int
    centre_mm: Point
    length_mm: float
    width_mm: float
    outward: Point
    across_sd_mm: float = 0.0
    end_sd_mm: float = 0.0
    width_sd_mm: float = 0.0
    turn_sd_rad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Standard uncertainties that feet and lands share.

    ``registration_mm``: of laying the lands' photo over the feet's, at the chip.
    ``scale_frac``: relative, of the scale.  ``plane_mm``: of the sideways shift of a
    foot's upper face against the board in a tilted view, along x and along y.
    ``row_mm``: of the edges of all feet of one row alike, across and at their ends.
    ``outline_mm``: of the body's outline, per axis, where it alone places all feet.
    ``opening_mm``: of all lands alike, per axis, where board in the mask's openings was
    taken for land.
    """

    registration_mm: float = 0.0
    scale_frac: float = 0.0
    plane_mm: Point = (0.0, 0.0)
    row_mm: float = 0.0
    outline_mm: float = 0.0
    opening_mm: float = 0.0

    def plane_towards(self, direction: Point) -> Contribution:
        """Give what the plane adds along a unit vector of the board frame."""
        u_mm = float(np.hypot(*np.multiply(self.plane_mm, direction)))
        return Contribution(name="plane (parallax of the foot)", u=u_mm)

    @property
    def registration(self) -> Contribution:
        """What laying the photos over each other adds, in any direction."""
        return Contribution(name="registration", u=self.registration_mm)

    @property
    def whole(self) -> tuple[Contribution, ...]:
        """What moves all feet or all lands alike; nothing where nothing does."""
        named = {
            "body outline": self.outline_mm,
            "mask opening beside the land": self.opening_mm,
        }
        return tuple(Contribution(name=name, u=u) for name, u in named.items() if u)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadReading:
    """One lead against its land.

    Overhangs are signed: below zero the lead lies inside by that much.  ``gap`` is the
    clear distance to the nearest other land; None where there is none beside it.  A
    lead is off its land where it lies beside it by more than the uncertainty.
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


def _read_lead(
    foot: Strip, land: Strip, lands: Sequence[Strip], doubt: Doubt
) -> LeadReading:
    offset = max(
        (offset_mm(foot, land, at) for at in _ends_on_land(foot, land)), key=abs
    )
    edge = abs(offset) + foot.width_mm / 2
    x, y = land.outward
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
            _angle(foot),
            doubt.registration,
            doubt.plane_towards((-y, x)),
            *doubt.whole,
            Contribution(
                name="scale", u=doubt.scale_frac, unit="1", sensitivity=abs(offset)
            ),
        ),
    )
    past = past_end_mm(foot, land)
    toe = Budget(
        quantity=f"lead {foot.number} toe overhang",
        value=past,
        unit="mm",
        contributions=(
            Contribution(name="toe place", u=foot.end_sd_mm, kind="A"),
            Contribution(name="land end", u=land.end_sd_mm),
            doubt.registration,
            doubt.plane_towards((x, y)),
            *doubt.whole,
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
        is_on_land=apart < expanded(side) and overlap > 0,
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
        offset = max((offset_mm(foot, other, at) for at in _ends(foot)), key=_less_abs)
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
            _angle(foot),
            doubt.registration,
            doubt.plane_towards((-other.outward[1], other.outward[0])),
            *doubt.whole,
            Contribution(
                name="scale", u=doubt.scale_frac, unit="1", sensitivity=abs(clear)
            ),
        ),
    )


def _across(foot: Strip, land: Strip) -> tuple[Contribution, Contribution]:
    return (
        Contribution(name="lead place", u=foot.across_sd_mm, kind="A"),
        Contribution(name="land place", u=land.across_sd_mm),
    )


def _angle(foot: Strip) -> Contribution:
    return Contribution(
        name="lead angle",
        u=foot.turn_sd_rad,
        unit="rad",
        sensitivity=foot.length_mm / 2,
        kind="A",
    )


def end_and_axes(strip: Strip) -> tuple[np.ndarray, np.ndarray]:
    """Give the outer end (2,), mm, and the unit vectors outward and across (2, 2)."""
    out = np.array(strip.outward)
    end = np.array(strip.centre_mm) + out * strip.length_mm / 2
    return end, np.array([out, side_of(strip)])


def side_of(strip: Strip) -> np.ndarray:
    """Give the unit vector across a strip: its outward axis turned a quarter."""
    return np.array([-strip.outward[1], strip.outward[0]])


def offset_mm(foot: Strip, land: Strip, along_mm: float) -> float:
    """How far across the land the foot's middle line lies, ``along_mm`` outward."""
    place = np.array(foot.centre_mm) + along_mm * np.array(foot.outward)
    return float((place - np.array(land.centre_mm)) @ side_of(land))


def past_end_mm(foot: Strip, land: Strip) -> float:
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
