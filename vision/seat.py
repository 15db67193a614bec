"""The chip as a whole on its lands: shift, skew, and what is wrong with it as a whole.

All leads together: a package is rigid, so leads that do not agree with the rest were
misread or are bent, and the scatter of the rest says how good the edge fits really are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from vision.overhang import offset_mm, past_end_mm, side_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.overhang import Doubt, LeadReading, Strip

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
MISFIT_MM = 0.02
MISFIT_SPREADS = 3.5
"""A lead stands out beyond this many robust spreads of the rest, and 0.02 mm."""
LEAST_SD_MM = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """The chip on its lands.

    Shift and skew are of the feet against the lands (counter-clockwise positive as
    seen), ``toe_mm`` how far toes stand past the land ends on average; ``sd`` in the
    same order (dx, dy, skew, toe).  ``misfits`` are leads that disagree with the rest:
    bent, or misread.
    """

    dx_mm: float
    dy_mm: float
    skew_deg: float
    toe_mm: float
    sd: tuple[float, float, float, float]
    misfits: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class _Equations:
    """Two equations a lead (across, outer end).

    ``rows`` marks the equations of one row of leads, across and at the ends apart.
    """

    design: np.ndarray
    values: np.ndarray
    spread: np.ndarray
    play_mm: float
    numbers: np.ndarray
    rows: tuple[np.ndarray, ...]


def read_seat(
    feet: Sequence[Strip],
    lands: Sequence[Strip],
    doubt: Doubt,
    *,
    play_mm: float = 0.0,
) -> tuple[Seat, tuple[Strip, ...]]:
    """Find shift, skew and mean toe position of all feet against their lands.

    Parameters
    ----------
    feet, lands : sequence of Strip
        Board frame, mm; at least two feet with a land of their number.
    doubt : Doubt
        What feet and lands share; it moves the chip as a whole.
    play_mm : float
        Standard deviation of true places of leads and lands about their drawings:
        feet that scatter so much were not misread.

    Returns
    -------
    (Seat, tuple of Strip)
        The shift is that of the middle of the given feet.  The feet come back with
        their spreads widened to the scatter about the rigid chip, and those of leads
        that disagree widened by how much they do.

    Notes
    -----
    Weighted least squares over middle lines and outer ends; rows that stand out are
    dropped once; spreads are scaled by the Birge ratio (R. T. Birge, Phys. Rev. 40,
    207 (1932)), for places across and for ends apart, never down.
    """
    by_number = {land.number: land for land in lands}
    pairs = [(f, by_number[f.number]) for f in feet if f.number in by_number]
    if len(pairs) < 2:
        msg = f"{len(pairs)} leads with a land; at least 2 are needed"
        raise ValueError(msg)
    eq = _equations(pairs, play_mm)
    residual, kept = _robust(eq)
    ratio = np.array([_birge(eq, residual, kept, kind) for kind in (0, 1)])
    spread = eq.spread * np.tile(ratio, len(pairs))
    weight = kept / spread
    inverse = np.linalg.pinv(eq.design * weight[:, None]) * weight
    solution = inverse @ eq.values
    covariance = (inverse * spread**2) @ inverse.T
    for axis in range(2):
        whole_mm = math.hypot(
            doubt.registration_mm,
            doubt.plane_mm[axis],
            doubt.outline_mm,
            doubt.opening_mm,
        )
        moved = inverse @ eq.design[:, axis] * whole_mm
        covariance += np.outer(moved, moved)
    for row in eq.rows:
        shared = inverse @ row * doubt.row_mm
        covariance += np.outer(shared, shared)
    sd = np.sqrt(np.diag(covariance))
    residual = eq.values - eq.design @ solution
    odd = np.where(kept, 0.0, np.abs(residual) / math.sqrt(3))
    wide = np.hypot(spread, odd)
    seat = Seat(
        dx_mm=float(solution[0]),
        dy_mm=float(solution[1]),
        skew_deg=math.degrees(solution[2]),
        toe_mm=float(solution[3]),
        sd=(float(sd[0]), float(sd[1]), math.degrees(sd[2]), float(sd[3])),
        misfits=tuple(int(n) for n in np.unique(eq.numbers[~kept])),
    )
    return seat, _widened(pairs, wide)


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
            "(0.35 to 0.75 mm is usual): the package is narrower than its lands"
        )
    shift = math.hypot(seat.dx_mm, seat.dy_mm)
    pitches = round(shift / pitch_mm)
    u_shift = 2 * math.hypot(seat.sd[0], seat.sd[1])
    is_whole = abs(shift / pitch_mm - pitches) < PITCH_TOLERANCE_FRAC
    if pitches and is_whole and shift - u_shift > pitch_mm / 2:
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


def _equations(pairs: Sequence[tuple[Strip, Strip]], play_mm: float) -> _Equations:
    centre = np.mean([foot.centre_mm for foot, _ in pairs], axis=0)
    rows, seen, spread = [], [], []
    for foot, land in pairs:
        out, side = np.array(land.outward), side_of(land)
        arm = np.array(foot.centre_mm) - centre
        rows.append([*side, np.array([arm[1], -arm[0]]) @ side, 0.0])
        seen.append(offset_mm(foot, land, 0.0))
        spread.append(math.hypot(foot.across_sd_mm, land.across_sd_mm))
        arm = arm + out * foot.length_mm / 2
        rows.append([*out, np.array([arm[1], -arm[0]]) @ out, 1.0])
        seen.append(past_end_mm(foot, land))
        spread.append(math.hypot(foot.end_sd_mm, land.end_sd_mm))
    return _Equations(
        np.array(rows),
        np.array(seen),
        np.maximum(np.array(spread), LEAST_SD_MM),
        play_mm,
        np.repeat([foot.number for foot, _ in pairs], 2),
        _rows([land for _, land in pairs]),
    )


def _rows(lands: Sequence[Strip]) -> tuple[np.ndarray, ...]:
    """Mark the equations that belong to one side of the chip, across and ends apart."""
    sides = [tuple(np.round(land.outward).astype(int)) for land in lands]
    marks = []
    for side in sorted(set(sides)):
        here = np.array([float(other == side) for other in sides])
        marks += [np.kron(here, [1.0, 0.0]), np.kron(here, [0.0, 1.0])]
    return tuple(marks)


def _robust(eq: _Equations) -> tuple[np.ndarray, np.ndarray]:
    """Residuals of a fit of least absolute values, and the rows that agree with it."""
    weight = np.ones(len(eq.values))
    residual = eq.values
    for _ in range(30):
        root = np.sqrt(weight)
        solution, *_ = np.linalg.lstsq(eq.design * root[:, None], eq.values * root)
        residual = eq.values - eq.design @ solution
        weight = 1 / np.maximum(np.abs(residual), 1e-3)
    kept = np.ones(len(residual), dtype=bool)
    for kind in (0, 1):
        rows = residual[kind::2]
        typical = 1.4826 * float(np.median(np.abs(rows)))
        usual = MISFIT_SPREADS * np.hypot(eq.spread[kind::2], eq.play_mm)
        least = np.hypot(MISFIT_MM, usual)
        kept[kind::2] = np.abs(rows) <= np.maximum(MISFIT_SPREADS * typical, least)
    return residual, kept


def _birge(eq: _Equations, residual: np.ndarray, kept: np.ndarray, kind: int) -> float:
    """Scatter of the residuals over their stated spreads, at least 1.

    A scatter from few leads is itself unsure: the variance of Student's t counts,
    freedom / (freedom - 2), as in JCGM 101:2008 6.4.9 (from memory).
    """
    use = np.flatnonzero(kept[kind::2]) * 2 + kind
    freedom = len(use) - 2
    if freedom < 2:
        return 1.0
    usual = np.hypot(eq.spread[use], eq.play_mm)
    chi2 = float(np.sum((residual[use] / usual) ** 2))
    few = freedom / max(freedom - 2, 1)
    return max(1.0, math.sqrt(chi2 / freedom * few))


def _widened(
    pairs: Sequence[tuple[Strip, Strip]], wide: np.ndarray
) -> tuple[Strip, ...]:
    """Feet whose spread, with the land's, makes up the given one."""
    feet = []
    for i, (foot, land) in enumerate(pairs):
        across = math.sqrt(max(wide[2 * i] ** 2 - land.across_sd_mm**2, 0.0))
        end = math.sqrt(max(wide[2 * i + 1] ** 2 - land.end_sd_mm**2, 0.0))
        feet.append(
            replace(
                foot,
                across_sd_mm=max(across, foot.across_sd_mm),
                end_sd_mm=max(end, foot.end_sd_mm),
            )
        )
    return tuple(feet)
