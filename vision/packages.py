"""What a package is, and where its leads and lands lie in the package frame.

The frame is that of ``geometry.py``: origin at the body centre, x right, y down, pin 1
at the upper left, leads numbered counter-clockwise as seen from above.  Values come
from ``vision/data/families``; ``tables.py`` reads them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, sqrt
from typing import Literal

Status = Literal["read", "derived", "memory"]
LeadStyle = Literal["gull_wing", "no_lead", "j_lead", "through_hole"]
Side = Literal["left", "bottom", "right", "top"]
Triple = tuple[float, float, float]
PointMm = tuple[float, float]

SIDES: tuple[Side, ...] = ("left", "bottom", "right", "top")
"""The sides in the order in which leads are counted from pin 1 at the upper left."""

SIDE_PITCH_MM, SIDE_LEADS = 0.5, 3
"""Pitch and leads a row from which rows are judged from the side: all that was measured
was of 1.27 mm pitch, and of two feet nobody can say which one stands high."""

FABRICATION_MM, PLACEMENT_MM, LAND_STEP_MM = 0.10, 0.05, 0.05
"""Tolerances and rounding of the land formula; usual values, from memory."""

PARTING_FRAC, PARTING_SD_FRAC = 0.52, 0.15
"""Height of the parting line, of the package's: leads leave the body there, and there
the outline is seen (0.80 mm of a SOIC in path-traced views).  Its spread is that of
drawings (SOIC 1.35 to 1.75 mm) and of the place itself."""
LEAST_VISIBLE_MM = 0.3
"""Least width beside the body in which solder of a joint under it is looked for."""

J_LAND_OUT_MM, J_LAND_IN_MM = 0.08, 1.395
"""Land past and inside the lead of a J-lead part, as on one PLCC-32 land read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Land:
    """Land of the leads of a package.

    ``centre_x_mm`` is the distance of the land's centre from the body centre for the
    left and right sides, ``centre_y_mm`` for bottom and top; ``length_mm`` runs along
    the lead, ``width_mm`` across it.
    """

    centre_x_mm: float
    centre_y_mm: float
    length_mm: float
    width_mm: float
    source: str
    status: Status


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One row of a family table; lengths are (min, nominal, max).

    ``body_x_mm`` and ``span_x_mm`` run across the left and right rows, ``body_y_mm``
    and ``span_y_mm`` along them.  ``pin1_index`` counts from the first lead of the left
    side.  ``side_offsets_mm`` holds for each side the places of its leads along that
    side, in counting order.  ``widths_mm`` holds one entry a lead, in lead order.
    ``memory_fields`` names what is from memory in a row whose status is ``read``.
    """

    family: str
    lead_style: LeadStyle
    name: str
    lead_count: int
    leads_per_side: tuple[int, int, int, int]
    pin1_index: int
    pitch_mm: float
    body_x_mm: Triple
    body_y_mm: Triple
    span_x_mm: Triple
    span_y_mm: Triple
    lead_width_mm: Triple
    widths_mm: tuple[Triple, ...]
    foot_length_mm: Triple
    height_mm: Triple
    coplanarity_mm: float
    coplanarity_status: Status
    side_offsets_mm: tuple[tuple[float, ...], ...]
    land: Land
    thermal_pad_mm: PointMm | None
    source: str
    status: Status
    memory_fields: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A package family: how its leads are shaped, how pin 1 is marked, its sizes."""

    name: str
    lead_style: LeadStyle
    pin1_marks: tuple[str, ...]
    variants: tuple[Variant, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadPlace:
    """Where one lead lies: toe is the outer end of the foot, heel its inner end.

    ``root_mm`` is where the lead meets the body's edge.
    """

    number: int
    side: Side
    toe_mm: PointMm
    heel_mm: PointMm
    root_mm: PointMm
    width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LandPlace:
    """Where the land of one lead lies; ``size_mm`` is its extent in x and y."""

    number: int
    side: Side
    centre_mm: PointMm
    size_mm: PointMm


def lead_positions(variant: Variant) -> tuple[LeadPlace, ...]:
    """Place every lead of a package, nominal sizes, in order of its number.

    Parameters
    ----------
    variant : Variant
        The package.

    Returns
    -------
    tuple of LeadPlace
        Lead 1 first; package frame, millimetres.

    Notes
    -----
    For no-lead parts the toe lies on the body's edge; for J leads the toe is the
    outermost point and the foot runs inward; through-hole leads have their toe in the
    hole.
    """
    places = []
    for number, side, offset_mm in _count(variant):
        across = side in ("left", "right")
        span = variant.span_x_mm[1] if across else variant.span_y_mm[1]
        body = variant.body_x_mm[1] if across else variant.body_y_mm[1]
        toe = span / 2
        heel = toe - variant.foot_length_mm[1]
        if variant.lead_style == "through_hole":
            heel = min(heel, body / 2)
        places.append(
            LeadPlace(
                number=number,
                side=side,
                toe_mm=_at(side, toe, offset_mm),
                heel_mm=_at(side, heel, offset_mm),
                root_mm=_at(side, body / 2, offset_mm),
                width_mm=variant.widths_mm[number - 1][1],
            )
        )
    return tuple(places)


def visible_joints(variant: Variant) -> tuple[LeadPlace, ...]:
    """Place the part of every lead's joint that can be seen from above.

    Parameters
    ----------
    variant : Variant
        The package.

    Returns
    -------
    tuple of LeadPlace
        As ``lead_positions``; for no-lead parts the toe is the outer end of the land,
        at least ``LEAST_VISIBLE_MM`` beside the body.
    """
    places = lead_positions(variant)
    if variant.lead_style != "no_lead":
        return places
    out = []
    for place, land in zip(places, land_positions(variant), strict=True):
        across = place.side in ("left", "right")
        k = 0 if across else 1
        edge, along_mm = abs(place.root_mm[k]), place.root_mm[1 - k]
        end = abs(land.centre_mm[k]) + land.size_mm[k] / 2
        out.append(
            replace(
                place,
                toe_mm=_at(place.side, max(end, edge + LEAST_VISIBLE_MM), along_mm),
            )
        )
    return tuple(out)


def land_positions(variant: Variant) -> tuple[LandPlace, ...]:
    """Place the land of every lead, in order of its number.

    Parameters
    ----------
    variant : Variant
        The package.

    Returns
    -------
    tuple of LandPlace
        Land 1 first; package frame, millimetres.  The thermal pad is not among them.
    """
    land, places = variant.land, []
    for number, side, offset_mm in _count(variant):
        across = side in ("left", "right")
        wider = variant.widths_mm[number - 1][1] - variant.lead_width_mm[1]
        length, width = land.length_mm, land.width_mm + wider
        places.append(
            LandPlace(
                number=number,
                side=side,
                centre_mm=_at(
                    side, land.centre_x_mm if across else land.centre_y_mm, offset_mm
                ),
                size_mm=(length, width) if across else (width, length),
            )
        )
    return tuple(places)


def land_name(number: int) -> str:
    """Name a bare land by its place in the pattern, not to be taken for a pin."""
    return f"L{number}"


def lead_rows(variant: Variant) -> tuple[tuple[int, int], ...]:
    """Name the rows of a package by their first and last lead.

    Parameters
    ----------
    variant : Variant
        The package.

    Returns
    -------
    tuple of (int, int)
        One a side that has leads, in the order of their numbers; a side in whose
        middle lead 1 sits is none.
    """
    numbers: dict[Side, list[int]] = {}
    for number, side, _ in _count(variant):
        numbers.setdefault(side, []).append(number)
    return tuple(
        (row[0], row[-1])
        for row in numbers.values()
        if row[-1] - row[0] + 1 == len(row)
    )


def pin1_corner_mm(variant: Variant) -> PointMm:
    """Corner of the body that stands for pin 1: the upper left one.

    Parameters
    ----------
    variant : Variant
        The package.

    Returns
    -------
    tuple of float
        ``(x, y)`` in the package frame, millimetres.  Where pin 1 sits in the middle
        of a side (PLCC) this is the cut corner next to it, counter-clockwise.
    """
    return (-variant.body_x_mm[1] / 2, -variant.body_y_mm[1] / 2)


def derive_land(
    lead_style: LeadStyle,
    spans_mm: tuple[Triple, Triple],
    foot_mm: Triple,
    width_mm: Triple,
    pitch_mm: float,
) -> Land:
    """Work out a land from the sizes of a lead.

    Parameters
    ----------
    lead_style : str
        ``gull_wing``, ``no_lead`` or ``j_lead``.
    spans_mm : tuple of two Triple
        Tip to tip in x and in y, millimetres.
    foot_mm, width_mm : Triple
        Length of the foot and width of the lead, millimetres.
    pitch_mm : float
        Pitch, millimetres.

    Returns
    -------
    Land
        With status ``derived``.

    References
    ----------
    IPC-7351B, nominal solder-joint goals (toe 0.35, heel 0.35, side 0.03 or -0.02 for
    gull-wing leads; toe 0.30, heel 0, side -0.04 for flat no-lead terminals), as
    restated in open land-pattern generators.
    """
    if lead_style == "j_lead":
        toe, heel, side = J_LAND_OUT_MM, 0.0, 0.03
    elif lead_style == "no_lead":
        toe, heel, side = 0.30, 0.0, -0.04
    else:
        toe, heel, side = 0.35, 0.35, 0.03 if pitch_mm > 0.625 else -0.02
    extents = []
    for span in spans_mm:
        if lead_style == "j_lead":
            outer, inner = span[1] + 2 * J_LAND_OUT_MM, span[1] - 2 * J_LAND_IN_MM
        else:
            outer, inner = _outer_inner(span, foot_mm, toe, heel)
        extents.append((outer, inner))
    (outer_x, inner_x), (outer_y, inner_y) = extents
    slack = hypot(width_mm[2] - width_mm[0], FABRICATION_MM, PLACEMENT_MM)
    return Land(
        centre_x_mm=(outer_x + inner_x) / 4,
        centre_y_mm=(outer_y + inner_y) / 4,
        length_mm=(outer_x - inner_x) / 2,
        width_mm=_step(width_mm[0] + 2 * side + slack),
        source="IPC-7351B nominal goals",
        status="derived",
    )


def _outer_inner(
    span: Triple, foot: Triple, toe: float, heel: float
) -> tuple[float, float]:
    """Outer and inner edge-to-edge distance of two facing lands."""
    length_slack, foot_slack = span[2] - span[0], foot[2] - foot[0]
    outer = span[0] + 2 * toe + hypot(length_slack, FABRICATION_MM, PLACEMENT_MM)
    whole = length_slack + 2 * foot_slack
    likely = sqrt(length_slack**2 + 2 * foot_slack**2)
    widest = span[2] - 2 * foot[0] - (whole - likely) / 2
    inner = widest - 2 * heel - hypot(likely, FABRICATION_MM, PLACEMENT_MM)
    return _step(outer), _step(inner)


def _step(length_mm: float) -> float:
    """Round to the step in which lands are drawn."""
    return round(round(length_mm / LAND_STEP_MM) * LAND_STEP_MM, 4)


def _count(variant: Variant) -> list[tuple[int, Side, float]]:
    """Give every lead its number, side and place along the side, lead 1 first."""
    walk = [
        (side, offset_mm)
        for side, offsets in zip(SIDES, variant.side_offsets_mm, strict=True)
        for offset_mm in offsets
    ]
    start = variant.pin1_index
    return [(i + 1, *place) for i, place in enumerate(walk[start:] + walk[:start])]


def _at(side: Side, out_mm: float, along_mm: float) -> PointMm:
    """Point at a distance from the body centre towards a side, and along that side."""
    return {
        "left": (-out_mm, along_mm),
        "bottom": (along_mm, out_mm),
        "right": (out_mm, along_mm),
        "top": (along_mm, -out_mm),
    }[side]
