"""How far a chip moved on its board, with an uncertainty budget and a shop limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vision.chipview import (
    ChipView,
    Likeness,
    Motion,
    feet_motion,
    rim_motion,
    top_motion,
)
from vision.geometry import apply_homography
from vision.limits import Bound, judge
from vision.results import Alignment, Finding, State
from vision.uncertainty import Budget, Contribution, Reading, expanded, rectangular

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Orientation, Package, Registration

LIMIT_MM = 0.30
"""Half of the 0.60 mm land of a SOIC-8 (open land patterns, derived): side overhang
reaches half the lead when the part has moved half the land's width, any lead width."""
LEAD_REACH_MM = 1.05
"""JEDEC MS-012: (span 6.0 - body 3.9) / 2; half the lead span bounds the skew."""
SCALE_U_FRAC = 0.02
"""Standard uncertainty of px_per_mm: body length against its table size."""
OUTLINE_U_FRAC = 0.02
"""Standard uncertainty of one outline corner, of the body's long side."""
FLOOR_PX = 0.12
RIM_FLOOR_PX = 0.4
"""Standard uncertainty that no fit shows (tracking bias, lens, sampling), chip pixels,
for the marking and for the rim; from bench_compare."""
TOP_HEIGHT_FRAC = 0.35
TILT_SD_DEG = 5.0
"""Where the feet could not confirm the reading: height of the top over the body's short
side (SOIC 1.5 mm on 3.9 mm), and how far two hand-held views tilt against one another
(our estimate)."""
CLUSTER = 4.0
"""Followed points lie closer than their windows: that many share one error."""
SAME_CHIP_GAP = 0.24
"""Correlation gap from which the marking is the same and can be followed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moved:
    """The reading that is reported, with its standard uncertainties in chip pixels."""

    shift_px: tuple[float, float]
    skew_deg: float
    u_px: float
    u_deg: float
    floor_px: float
    spread_px: float
    tilt_px: float


def judge_alignment(
    view: ChipView,
    before: Package,
    registration: Registration,
    seen: tuple[Likeness, ...],
    orientation: Orientation,
    limit_mm: float,
) -> Alignment:
    """Measure the shift and skew of the chip and judge them against the limit.

    Parameters
    ----------
    view : ChipView
        The chip, before and after.
    before : Package
        Gives the scale.
    registration : Registration
        The board, before to after.
    seen : tuple of Likeness
        Correlation at each allowed turn, best first.
    orientation : Orientation
        The marking is used only when the chip is surely not turned.
    limit_mm : float
        Shop limit for the shift of the middle.

    Returns
    -------
    Alignment
        Along the before photo's axes; expanded uncertainties, k = 2.

    Notes
    -----
    Shift from the marking, from the rim (edge and lead shoulders) or, where neither
    could be followed, from the two outlines.  The body top stands above the board:
    when the two views tilt against one another its parallax is part of the shift.  The
    feet of the leads check that; what they say otherwise is counted as doubt, and so
    is an assumed tilt where they could not be read.
    """
    best = _best_motion(view, before, seen, orientation)
    skew, shift = best.skew_deg, np.asarray(best.shift_px)
    zoom = _scale_at(np.asarray(registration.before_to_after), view)
    to_photo = view.to_before[:2, :2]
    step = float(np.sqrt(abs(np.linalg.det(to_photo))))
    board_px = registration.residual_px / zoom * np.sqrt(CLUSTER / registration.inliers)
    moved = to_photo @ shift
    angle = _angle_budget(best, board_px / step, view)
    if before.px_per_mm is None:
        return Alignment(
            state="unsure",
            skew_deg=skew,
            u_deg=expanded(angle),
            reasons=(
                "no scale: the package's size is not known, so the shift cannot be "
                "given in mm. Choose the package by hand.",
            ),
        )
    mm = 1.0 / before.px_per_mm
    size = float(np.hypot(*moved)) * mm
    budget = Budget(
        quantity="shift of the chip",
        value=size,
        unit="mm",
        contributions=(
            Contribution(name="chip against chip", u=best.u_px * step * mm, kind="A"),
            Contribution(name="board against board", u=board_px * mm, kind="A"),
            Contribution(name="tracking and lens", u=best.floor_px * step * mm),
            Contribution(
                name="two readings differ", u=rectangular(best.spread_px * step * mm)
            ),
            Contribution(name="view tilt", u=best.tilt_px * step * mm),
            Contribution(name="scale", u=SCALE_U_FRAC * size),
        ),
    )
    u_mm = expanded(budget)
    findings = (
        _judge(budget.quantity, size, u_mm, "mm", limit_mm),
        _judge(
            "skew of the chip",
            abs(skew),
            expanded(angle),
            "deg",
            _skew_limit_deg(view, mm * step, limit_mm),
        ),
    )
    states = [f.state for f in findings]
    worst: tuple[State, ...] = ("fault", "unsure", "ok")
    state = next(s for s in worst if s in states)
    return Alignment(
        state=state,
        dx_mm=float(moved[0]) * mm,
        dy_mm=float(moved[1]) * mm,
        skew_deg=skew,
        u_mm=u_mm,
        u_deg=expanded(angle),
        reasons=tuple(r for f in findings for r in f.reasons),
    )


def _best_motion(
    view: ChipView,
    before: Package,
    seen: tuple[Likeness, ...],
    orientation: Orientation,
) -> _Moved:
    """Take the marking, else the rim, else the outlines; let the others doubt it."""
    longest = float(view.body_px.max())
    tilt_px = TOP_HEIGHT_FRAC * float(view.body_px.min())
    tilt_px *= float(np.tan(np.radians(TILT_SD_DEG)))
    guess, guess_deg = view.outline_shift_px, view.outline_skew_deg
    top: Motion | None = None
    same_chip = seen[0].correlation - seen[1].correlation > SAME_CHIP_GAP
    if orientation.turn_deg == 0 and seen[0].turn_deg == 0 and same_chip:
        top = top_motion(view, seen[0])
    if top is not None:
        guess, guess_deg = np.asarray(top.shift_px), top.skew_deg
    rim = rim_motion(view, guess, guess_deg)
    best = top or rim
    if best is None:
        return _Moved(
            shift_px=(float(guess[0]), float(guess[1])),
            skew_deg=guess_deg,
            # Two outlines, each the mean of four corners; a side's two ends turn it.
            u_px=OUTLINE_U_FRAC * longest * float(np.sqrt(2 / 4)),
            u_deg=float(np.degrees(OUTLINE_U_FRAC)),
            floor_px=RIM_FLOOR_PX,
            spread_px=0.0,
            tilt_px=tilt_px,
        )
    feet = feet_motion(view, before.leads, best.shift_px, best.skew_deg)
    away = _apart(best.shift_px, view.outline_shift_px)
    # What the outlines cannot explain (three of their deviations) counts as doubt.
    doubts = [0.0, away - 3 * OUTLINE_U_FRAC * longest]
    doubts += [_apart(best.shift_px, m.shift_px) for m in (rim, feet) if m is not None]
    return _Moved(
        shift_px=best.shift_px,
        skew_deg=best.skew_deg,
        u_px=best.sd_px * float(np.sqrt(CLUSTER)),
        u_deg=best.sd_deg * float(np.sqrt(CLUSTER)),
        floor_px=FLOOR_PX if best is top else RIM_FLOOR_PX,
        spread_px=max(doubts),
        tilt_px=tilt_px if feet is None else 0.0,
    )


def _apart(first: npt.ArrayLike, second: npt.ArrayLike) -> float:
    return float(np.linalg.norm(np.asarray(first) - np.asarray(second)))


def _judge(name: str, value: float, u: float, unit: str, limit: float) -> Finding:
    bound = Bound(
        value=limit,
        side="max",
        unit=unit,
        source="half the land's width (open land patterns)",
        status="derived",
    )
    return judge(Reading(name=name, value=value, u=u, unit=unit), bound)


def _skew_limit_deg(view: ChipView, mm_per_px: float, limit_mm: float) -> float:
    """Shift limit over half the lead span: where the outermost lead reaches it."""
    short, long = sorted(view.body_px * mm_per_px / 2)
    return float(np.degrees(limit_mm / max(long, short + LEAD_REACH_MM)))


def _angle_budget(best: _Moved, board_px: float, view: ChipView) -> Budget:
    arm = float(view.body_px.max()) / 2
    return Budget(
        quantity="skew of the chip",
        value=best.skew_deg,
        unit="deg",
        contributions=(
            Contribution(name="chip against chip", u=best.u_deg, unit="deg", kind="A"),
            Contribution(
                name="board against board",
                u=float(np.degrees(board_px / arm)),
                unit="deg",
                kind="A",
            ),
            Contribution(
                name="tracking and lens",
                u=float(np.degrees(best.floor_px / arm)),
                unit="deg",
            ),
        ),
    )


def _scale_at(board: np.ndarray, view: ChipView) -> float:
    """After pixels per before pixel at the chip."""
    middle = apply_homography(view.to_before, view.middle_px[None])[0]
    around = apply_homography(board, middle + np.array([[0.0, 0], [1, 0], [0, 1]]))
    first, second = around[1] - around[0], around[2] - around[0]
    return float(np.sqrt(abs(first[0] * second[1] - first[1] * second[0])))
