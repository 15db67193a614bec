"""Uncertainty of a measured length or angle, by the GUM (JCGM 100:2008).

A budget is a tuple of named contributions.  Nothing here knows about pictures:
each step hands in what it knows, the sum is done once, here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from scipy import stats

COVERAGE_FACTOR = 2.0
"""k of every expanded uncertainty that is printed: about 95 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One source of doubt.

    ``u`` is a standard uncertainty in ``unit``; ``sensitivity`` is the change of
    the result for one unit of it; ``dof`` the degrees of freedom (infinite when
    taken as known); ``kind`` A (from repeated readings) or B (from anything else).
    """

    name: str
    u: float
    unit: str = "mm"
    sensitivity: float = 1.0
    dof: float = math.inf
    kind: Literal["A", "B"] = "B"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.u) and self.u >= 0):
            msg = f"{self.name}: u = {self.u}; a finite number >= 0 is needed"
            raise ValueError(msg)
        if not self.dof > 0:
            msg = f"{self.name}: dof = {self.dof}; a number > 0 is needed"
            raise ValueError(msg)

    @property
    def share(self) -> float:
        """Size of this contribution in the unit of the result."""
        return abs(self.sensitivity) * self.u


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """A result with everything that makes it doubtful, each part by itself."""

    quantity: str
    value: float
    unit: str
    contributions: tuple[Contribution, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A measured value with its expanded uncertainty ``u`` (k = 2)."""

    name: str
    value: float
    u: float
    unit: str


def combined(budget: Budget) -> float:
    """Find the combined standard uncertainty of a budget.

    Parameters
    ----------
    budget : Budget
        Contributions with sensitivities, independent of one another.

    Returns
    -------
    float
        u_c in the unit of the result.

    Notes
    -----
    First-order law of propagation, JCGM 100:2008 equation 10.
    """
    return math.sqrt(sum(c.share**2 for c in budget.contributions))


def effective_dof(budget: Budget) -> float:
    """Find the effective degrees of freedom of the combined uncertainty.

    Parameters
    ----------
    budget : Budget
        Contributions with their own degrees of freedom.

    Returns
    -------
    float
        Degrees of freedom, infinite when every contribution is taken as known.

    Notes
    -----
    Welch-Satterthwaite, JCGM 100:2008 equation G.2b; not truncated here.
    """
    u_c = combined(budget)
    weight = sum(c.share**4 / c.dof for c in budget.contributions)
    return u_c**4 / weight if weight > 0 else math.inf


def coverage_factor(dof: float, *, probability: float = 0.95) -> float:
    """Find k for a two-sided coverage probability.

    Parameters
    ----------
    dof : float
        Effective degrees of freedom; cut to the whole number below (G.4.1 note 1).
    probability : float
        Coverage probability, 0..1.

    Returns
    -------
    float
        Student's t for that probability.
    """
    quantile = 0.5 + probability / 2
    if math.isinf(dof):
        return float(stats.norm.ppf(quantile))
    return float(stats.t.ppf(quantile, max(1, math.floor(dof))))


def expanded(budget: Budget, *, k: float = COVERAGE_FACTOR) -> float:
    """Give the expanded uncertainty U = k u_c.

    Parameters
    ----------
    budget : Budget
        The budget to sum up.
    k : float
        Coverage factor.

    Returns
    -------
    float
        U in the unit of the result.
    """
    return k * combined(budget)


def reading(budget: Budget) -> Reading:
    """Turn a budget into the value that is judged and printed.

    Parameters
    ----------
    budget : Budget
        The budget to sum up.

    Returns
    -------
    Reading
        Value and expanded uncertainty, k = 2.
    """
    return Reading(
        name=budget.quantity, value=budget.value, u=expanded(budget), unit=budget.unit
    )


def rectangular(half_width: float) -> float:
    """Give u for a value anywhere within +/- half_width (JCGM 100 4.3.7)."""
    return half_width / math.sqrt(3)


def arcsine(half_width: float) -> float:
    """Give u for a cyclic value within +/- half_width (JCGM 100 H.1.3.4)."""
    return half_width / math.sqrt(2)


def budget_table(budget: Budget) -> str:
    """Lay a budget out as plain text, largest contribution first.

    Parameters
    ----------
    budget : Budget
        The budget to print.

    Returns
    -------
    str
        A table with a line per contribution, the sum and the expanded value.
    """
    unit = budget.unit
    width = max((len(c.name) for c in budget.contributions), default=8)
    u_c = combined(budget)
    lines = [
        f"{budget.quantity}: {budget.value:.4g} {unit}",
        f"  {'contribution':<{width}}  kind  {'u':>12}  {'sensitivity':>11}"
        f"  {'share ' + unit:>10}  {'share %':>7}  {'dof':>5}",
    ]
    for c in sorted(budget.contributions, key=lambda c: -c.share):
        percent = 100 * (c.share / u_c) ** 2 if u_c > 0 else 0.0
        free = "inf" if math.isinf(c.dof) else f"{c.dof:.0f}"
        lines.append(
            f"  {c.name:<{width}}  {c.kind:<4}  {f'{c.u:.3g} {c.unit}':>12}"
            f"  {c.sensitivity:>11.3g}  {c.share:>10.3g}  {percent:>7.1f}  {free:>5}"
        )
    dof = effective_dof(budget)
    lines += [
        f"  combined u = {u_c:.3g} {unit}, effective degrees of freedom "
        + ("infinite" if math.isinf(dof) else f"{dof:.0f}"),
        f"  expanded U = {expanded(budget):.3g} {unit} (k = {COVERAGE_FACTOR:g})",
    ]
    return "\n".join(lines)
