"""How far a chip moved on its board, with an uncertainty budget and a shop limit."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import apply_homography, zoom_of
from vision.limits import judge
from vision.plane_shift import PlaneShift, shift_on_board
from vision.results import Alignment, Finding, worst_state
from vision.uncertainty import Budget, Contribution, Reading, expanded, rectangular
from vision.witnesses import (
    CLUSTER,
    FLOOR_PX,
    mm_per_chip_px,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.chipview import ChipView
    from vision.limits import Bound
    from vision.results import Package, Registration, State
    from vision.scale import Scale
    from vision.witnesses import Witness

LEAD_REACH_MM = 1.05
"""JEDEC MS-012: (span 6.0 - body 3.9) / 2; half the lead span bounds the skew."""


def judge_alignment(
    view: ChipView,
    before: Package,
    registration: Registration,
    witnesses: Sequence[Witness],
    limit: Bound,
    scale: tuple[Scale | None, Finding],
) -> tuple[Alignment, tuple[Budget, ...]]:
    """Measure the shift and skew of the chip and judge them against the limit.

    Parameters
    ----------
    view : ChipView
        The chip, before and after.
    before : Package
        Gives the scale.
    registration : Registration
        The board, before to after.
    witnesses : sequence of Witness
        From ``gather_witnesses``.
    limit : Bound
        Shop limit for the shift of the middle, mm; that of the skew follows from it.
    scale : (Scale or None, Finding)
        The before photo's, and whether its sources agree.

    Returns
    -------
    (Alignment, tuple of Budget)
        Along the before photo's axes; expanded uncertainties, k = 2.  The budgets are
        those of shift and skew.

    Notes
    -----
    The marking stands 1.5 mm above the board, a shoulder about 0.9 and a foot 0.2: in
    a tilted view each is seen shifted by its own parallax.  All that could be followed
    is carried down to the board (``plane_shift``); without leads the parallax stays
    open and counts in full.
    """
    per_px = 1.0 / (before.px_per_mm or 1.0)
    to_photo = view.to_before[:2, :2]
    step = mm_per_chip_px(view, before)
    middle = apply_homography(view.to_before, view.middle_px[None])[0]
    zoom = zoom_of(registration.before_to_after, middle)
    board_px = registration.residual_px / zoom * np.sqrt(CLUSTER / registration.inliers)
    angle = _angle_budget(witnesses, board_px * per_px, view, step)
    skew = angle.value
    chosen, agreed = scale
    if before.px_per_mm is None or chosen is None:
        unscaled = Alignment(
            state="unsure",
            skew_deg=skew,
            u_deg=expanded(angle),
            reasons=(
                "no scale: the package's size is not known, so the shift cannot be "
                "given in mm. Name the package.",
            ),
        )
        return unscaled, (angle,)
    seen = shift_on_board([w.seen for w in witnesses])
    times = before.px_per_mm / chosen.px_per_mm
    plane = _rescaled(seen, times)
    moved = to_photo @ np.asarray(seen.shift_mm) / step / chosen.px_per_mm
    budget = _shift_budget(
        plane,
        float(np.hypot(*moved)),
        (
            board_px / chosen.px_per_mm,
            _outline_doubt(witnesses, seen) * times,
            chosen.sd_frac,
        ),
    )
    u_mm = expanded(budget)
    size = budget.value
    limit_deg = _skew_limit_deg(view, step * times, limit.value)
    findings: tuple[Finding, ...] = (
        _judge(budget.quantity, size, u_mm, limit),
        _judge(
            "skew of the chip",
            abs(skew),
            expanded(angle),
            replace(limit, value=limit_deg, unit="deg"),
        ),
    )
    most_mm = times * max(float(np.hypot(*w.seen.shift_mm)) for w in witnesses)
    findings += (*_tilt_doubt(findings[0], most_mm, limit.value), agreed)
    state = worst_state(f.state for f in findings)
    alignment = Alignment(
        state=state,
        dx_mm=float(moved[0]),
        dy_mm=float(moved[1]),
        skew_deg=skew,
        u_mm=u_mm,
        u_deg=expanded(angle),
        limit_mm=limit.value,
        limit_deg=limit_deg,
        px_per_mm=chosen.px_per_mm,
        reasons=tuple(r for f in findings for r in f.reasons)
        + _parallax_said(state, plane, witnesses),
    )
    return alignment, (budget, angle)


def _outline_doubt(witnesses: Sequence[Witness], plane: PlaneShift) -> float:
    """Give what the outlines cannot explain (two of their deviations), mm."""
    outlines = next(w.seen for w in witnesses if w.seen.name == "outlines")
    wanted = np.asarray(plane.shift_mm) + outlines.height_mm * np.asarray(plane.lean)
    away = float(np.hypot(*(np.asarray(outlines.shift_mm) - wanted)))
    return max(0.0, away - 2 * outlines.sd_mm[0])


def _rescaled(plane: PlaneShift, times: float) -> PlaneShift:
    """Give a shift in millimetres of another scale, of which there are more."""
    x, y = plane.shift_mm
    return replace(
        plane,
        shift_mm=(x * times, y * times),
        fit_sd_mm=plane.fit_sd_mm * times,
        lean_sd_mm=plane.lean_sd_mm * times,
        doubt_mm=plane.doubt_mm * times,
    )


def _shift_budget(
    plane: PlaneShift, size_mm: float, doubts: tuple[float, float, float]
) -> Budget:
    """Sum up; ``doubts``: board and outlines in mm, scale as a share."""
    board_mm, doubt_mm, scale_frac = doubts
    return Budget(
        quantity="shift of the chip",
        value=size_mm,
        unit="mm",
        contributions=(
            Contribution(name="chip against chip", u=plane.fit_sd_mm, kind="A"),
            Contribution(name="parallax left open", u=plane.lean_sd_mm),
            Contribution(name="board against board", u=board_mm, kind="A"),
            Contribution(
                name="readings differ",
                u=math.hypot(rectangular(doubt_mm), plane.doubt_mm),
            ),
            Contribution(name="scale", u=scale_frac * size_mm),
        ),
    )


def _tilt_doubt(shift: Finding, most_mm: float, limit_mm: float) -> tuple[Finding, ...]:
    """Doubt a shift that is within the limit only once its parallax is taken off."""
    if shift.state != "ok" or most_mm <= limit_mm:
        return ()
    reason = (
        f"the body is seen {most_mm:.2f} mm off its place and the feet are not: the "
        "two photos look from different sides. Take the after photo from where the "
        "before photo was taken, or both from straight above"
    )
    return (Finding(state="unsure", reasons=(reason,)),)


def _parallax_said(
    state: State, plane: PlaneShift, witnesses: Sequence[Witness]
) -> tuple[str, ...]:
    """Say how large the parallax may be where it limits the answer."""
    if state != "unsure" or plane.lean_sd_mm < plane.fit_sd_mm:
        return ()
    names = ", ".join(w.seen.name for w in witnesses)
    return (
        f"read from the {names}, above the board: if the two photos were tilted "
        f"differently, this is off by up to {2 * plane.lean_sd_mm:.2f} mm. Take both "
        "from straight above, leads sharp",
    )


def _judge(name: str, value: float, u: float, limit: Bound) -> Finding:
    return judge(Reading(name=name, value=value, u=u, unit=limit.unit), limit)


def _skew_limit_deg(view: ChipView, mm_per_px: float, limit_mm: float) -> float:
    """Shift limit over half the lead span: where the outermost lead reaches it."""
    short, long = sorted(view.body_px * mm_per_px / 2)
    return float(np.degrees(limit_mm / max(long, short + LEAD_REACH_MM)))


def _angle_budget(
    witnesses: Sequence[Witness], board_mm: float, view: ChipView, step: float
) -> Budget:
    """Weighted mean of the skews; heights do not matter to an angle."""
    arm = float(view.body_px.max()) * step / 2
    floor = float(np.degrees(FLOOR_PX * step / arm))
    sd = np.array([np.hypot(w.sd_deg, floor) for w in witnesses])
    weight = 1 / sd**2 / np.sum(1 / sd**2)
    skews = np.array([w.skew_deg for w in witnesses])
    mean = float(weight @ skews)
    apart = float(np.sqrt(weight @ (skews - mean) ** 2))
    return Budget(
        quantity="skew of the chip",
        value=mean,
        unit="deg",
        contributions=(
            Contribution(
                name="chip against chip",
                u=float(1 / np.sqrt(np.sum(1 / sd**2))),
                unit="deg",
                kind="A",
            ),
            Contribution(name="readings differ", u=apart, unit="deg", kind="A"),
            Contribution(
                name="board against board",
                u=float(np.degrees(board_mm / arm)),
                unit="deg",
                kind="A",
            ),
        ),
    )
