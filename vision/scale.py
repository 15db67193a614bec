"""How many pixels a millimetre of the board takes, from what the photo offers.

Best first: a printed tag of known size, the pitch of the package's own leads, its
outline, a ruler the user marked.  Each with its uncertainty; two that disagree are
reported.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from vision.results import Finding
from vision.uncertainty import Budget, Contribution, combined, rectangular

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import Point, State

Source = Literal["tag", "pitch", "outline", "ruler"]
ORDER: tuple[Source, ...] = ("tag", "pitch", "outline", "ruler")
PRINT_MM = 0.05
"""A printer's error over a 10 mm square, half-width (estimate; check with a rule)."""
CLICK_PX = 1.5
"""How well a person marks a tick of a ruler, half-width."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """One estimate, with the budget it came from; ``px_per_mm`` on the board plane."""

    source: Source
    px_per_mm: float
    budget: Budget

    @property
    def sd_frac(self) -> float:
        """Relative standard uncertainty."""
        return combined(self.budget) / self.px_per_mm


def scale_from_tag(
    px_per_mm: float, *, fit_sd_frac: float, side_mm: float = 10.0
) -> Scale:
    """Weigh a scale that came from a printed tag.

    Parameters
    ----------
    px_per_mm : float
        Scale on the tag's plane at the chip.
    fit_sd_frac : float
        Relative standard uncertainty of the tag's edges carried to the chip.
    side_mm : float
        Side of the black square.

    Returns
    -------
    Scale
        With the printer's error added.
    """
    return _scale(
        "tag",
        px_per_mm,
        Contribution(name="tag edges", u=fit_sd_frac, unit="1", kind="A"),
        Contribution(name="print size", u=rectangular(PRINT_MM) / side_mm, unit="1"),
    )


def scale_as_given(
    px_per_mm: float, *, sd_frac: float, source: Source = "pitch"
) -> Scale:
    """Weigh a scale that was found as a whole, such as by the step of all feet.

    Parameters
    ----------
    px_per_mm : float
        On the board plane, at the chip.
    sd_frac : float
        Relative standard uncertainty, tolerances of the package included.
    source : str
        Where it came from.

    Returns
    -------
    Scale
    """
    name = "lead places" if source == "pitch" else "as found"
    part = Contribution(name=name, u=sd_frac, unit="1", kind="A")
    return _scale(source, px_per_mm, part)


def scale_from_outline(
    side_px: tuple[float, float],
    body_mm: tuple[tuple[float, float, float], tuple[float, float, float]],
    *,
    side_sd_px: float,
    nearness_frac: float = 0.0,
    nearness_sd_frac: float = 0.01,
) -> Scale:
    """Find the scale from the body's outline.

    Parameters
    ----------
    side_px : (float, float)
        Body sides x and y in the photo, px.
    body_mm : pair of (min, nominal, max)
        The same sides in the package table, mm.
    side_sd_px : float
        Standard deviation of a side.
    nearness_frac : float
        How much larger the top is seen for standing nearer to the camera: package
        height over camera height (``planes.View``).
    nearness_sd_frac : float
        Standard uncertainty of that.

    Returns
    -------
    Scale
        Mean of both sides, brought down to the board plane.
    """
    sides = [px / mm[1] for px, mm in zip(side_px, body_mm, strict=True)]
    px_per_mm = sum(sides) / 2 * (1 - nearness_frac)
    edge = math.hypot(*(side_sd_px / px for px in side_px)) / 2
    moulding = (
        math.hypot(*(rectangular((hi - lo) / 2) / n for lo, n, hi in body_mm)) / 2
    )
    return _scale(
        "outline",
        px_per_mm,
        Contribution(name="outline edges", u=edge, unit="1", kind="A"),
        Contribution(name="body tolerance", u=moulding, unit="1"),
        Contribution(name="height of the top", u=nearness_sd_frac, unit="1"),
    )


def scale_from_ruler(start_px: Point, end_px: Point, length_mm: float) -> Scale:
    """Find the scale from two ticks of a ruler that the user marked.

    Parameters
    ----------
    start_px, end_px : (float, float)
        The marked ticks, px.
    length_mm : float
        What the ruler says between them.

    Returns
    -------
    Scale
        The ruler must lie on the board plane.
    """
    length_px = math.dist(start_px, end_px)
    if not (length_px > 0 and length_mm > 0):
        msg = f"ruler: {length_px:.1f} px for {length_mm} mm; both must be above 0"
        raise ValueError(msg)
    return _scale(
        "ruler",
        length_px / length_mm,
        Contribution(
            name="marked ticks",
            u=math.sqrt(2) * rectangular(CLICK_PX) / length_px,
            unit="1",
        ),
        Contribution(name="ruler", u=rectangular(0.1) / length_mm, unit="1"),
    )


def choose_scale(scales: Sequence[Scale]) -> tuple[Scale | None, Finding]:
    """Take the best scale and say whether the others agree with it.

    Parameters
    ----------
    scales : sequence of Scale
        All that the photo offered.

    Returns
    -------
    (Scale or None, Finding)
        The first in the order tag, pitch, outline, ruler.  Where two differ by more
        than their joint expanded uncertainty (k = 2) the finding says so, and the most
        that two so differ is a doubt about the scale; it is ``unsure`` where one of
        them is a tag or a ruler, or where there is none at all.
    """
    if not scales:
        reason = (
            "no scale: no tag, no known package, no ruler in the photo; "
            "lay a printed tag beside the chip"
        )
        return None, Finding(state="unsure", reasons=(reason,))
    ranked = sorted(scales, key=lambda scale: ORDER.index(scale.source))
    reasons, worst_frac = [], 0.0
    state: State = "ok"
    for i, first in enumerate(ranked):
        for second in ranked[i + 1 :]:
            apart = abs(first.px_per_mm - second.px_per_mm)
            allowed = 2 * math.hypot(combined(first.budget), combined(second.budget))
            if apart > allowed:
                least = min(first.px_per_mm, second.px_per_mm)
                worst_frac = max(worst_frac, apart / least)
                if {first.source, second.source} & {"tag", "ruler"}:
                    state = "unsure"
                reasons.append(
                    f"{_says(first)} but {_says(second)}: check that the tag or ruler "
                    "lies on the board and that the package size is right"
                )
    if not reasons:
        return ranked[0], Finding(state="ok")
    disputed = _doubted(ranked[0], worst_frac)
    return disputed, Finding(state=state, reasons=tuple(reasons))


def _doubted(scale: Scale, disputed_frac: float) -> Scale:
    doubt = Contribution(
        name="sources that disagree",
        u=disputed_frac,
        unit="1",
        sensitivity=scale.px_per_mm,
    )
    parts = (*scale.budget.contributions, doubt)
    return replace(scale, budget=replace(scale.budget, contributions=parts))


def _says(scale: Scale) -> str:
    u = 2 * combined(scale.budget)
    return f"the {scale.source} gives {scale.px_per_mm:.2f} ± {u:.2f} px/mm"


def _scale(source: Source, px_per_mm: float, *relative: Contribution) -> Scale:
    """Turn relative contributions into the budget of a scale in px/mm."""
    parts = tuple(
        Contribution(
            name=part.name,
            u=part.u,
            unit="1",
            sensitivity=px_per_mm,
            kind=part.kind,
            dof=part.dof,
        )
        for part in relative
    )
    budget = Budget(
        quantity=f"scale from {source}",
        value=px_per_mm,
        unit="px/mm",
        contributions=parts,
    )
    return Scale(source=source, px_per_mm=px_per_mm, budget=budget)
