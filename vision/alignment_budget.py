"""How far a package may sit off its lands: the alignment budget of a land pattern.

Plain arithmetic on four lengths and the shop limits; nothing is measured here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from vision.limits import bound_mm

if TYPE_CHECKING:
    from vision.limits import Limit


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignmentBudget:
    """What a centred package may move before each thing happens.

    Shifts are along the lead row.  ``shift_clearance_mm`` leaves just the clearance
    to the next land; it is negative where even a centred lead leaves less.
    ``rotation_deg`` is about the body centre, for the leads farthest out.
    """

    shift_before_overhang_mm: float
    shift_at_limit_mm: float
    gap_centred_mm: float
    shift_clearance_mm: float
    rotation_deg: float


def shift_at_limit_mm(
    land_width_mm: float, lead_width_mm: float, side_limit: Limit
) -> float:
    """Find the shift along the row at which side overhang reaches its limit.

    Parameters
    ----------
    land_width_mm, lead_width_mm : float
        Width of a land and of a lead, along the row.
    side_limit : Limit
        Row ``side_overhang`` of the shop limits.

    Returns
    -------
    float
        Half the land's width where the limit is half the lead's.
    """
    before_mm = (land_width_mm - lead_width_mm) / 2
    return before_mm + bound_mm(side_limit, lead_width_mm).value


def alignment_budget(
    *,
    land_width_mm: float,
    lead_width_mm: float,
    pitch_mm: float,
    lead_span_mm: float,
    side_limit: Limit,
    clearance_limit: Limit,
) -> AlignmentBudget:
    """Find how far a package may shift and turn on its lands.

    Parameters
    ----------
    land_width_mm, lead_width_mm : float
        Width of a land and of a lead, along the row.
    pitch_mm : float
        Distance to the nearest lead of the same row.
    lead_span_mm : float
        Toe to toe across the package.
    side_limit, clearance_limit : Limit
        Rows ``side_overhang`` and ``clearance`` of the shop limits.

    Returns
    -------
    AlignmentBudget
        Shifts and gap in mm, rotation in degrees.

    Notes
    -----
    Rotation is the smaller of the two shifts over half the lead span.  Derived here
    from the shop limits; no published clause gives a rotation as such.
    """
    before_mm = (land_width_mm - lead_width_mm) / 2
    at_limit_mm = shift_at_limit_mm(land_width_mm, lead_width_mm, side_limit)
    gap_mm = pitch_mm - (land_width_mm + lead_width_mm) / 2
    clear_mm = gap_mm - bound_mm(clearance_limit, lead_width_mm).value
    turn_rad = max(min(at_limit_mm, clear_mm), 0.0) / (lead_span_mm / 2)
    return AlignmentBudget(
        shift_before_overhang_mm=before_mm,
        shift_at_limit_mm=at_limit_mm,
        gap_centred_mm=gap_mm,
        shift_clearance_mm=clear_mm,
        rotation_deg=math.degrees(turn_rad),
    )
