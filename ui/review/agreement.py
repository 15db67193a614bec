"""How far tool, technician and reviewer agree: confusion tables and Cohen's kappa."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.special import betaincinv, ndtri

from ui.record.events import DECISIONS
from ui.record.index import Choice, fresh_rows, with_index
from ui.review.queue import ORDER, TOOL_COUNTS, add_functions, choice_of

if TYPE_CHECKING:
    import sqlite3
    from pathlib import Path

    from numpy.typing import NDArray

    from ui.review.queue import Filter

Rater = Literal["tool", "technician", "reviewer"]
PAIRS: tuple[tuple[Rater, Rater], ...] = (
    ("tool", "technician"),
    ("tool", "reviewer"),
    ("technician", "reviewer"),
)
CONFIDENCE = 0.95
SOURCES = (
    "Cohen (1960), A coefficient of agreement for nominal scales, "
    "doi:10.1177/001316446002000104",
    "Fleiss, Cohen and Everitt (1969), Large sample standard errors of kappa and "
    "weighted kappa, doi:10.1037/h0028106",
    "Clopper and Pearson (1934), The use of confidence or fiducial limits, "
    "doi:10.1093/biomet/26.4.404",
)

_COLUMN: dict[Rater, str] = {
    "tool": f"CASE WHEN {TOOL_COUNTS} THEN tool_decision ELSE '' END",
    "technician": "decision",
    "reviewer": "review_decision",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PairAgreement:
    """How far two raters say the same of the same jobs.

    ``counts[i][j]`` is the number of jobs of which ``first`` says
    ``DECISIONS[i]`` and ``second`` says ``DECISIONS[j]``.  The share of jobs on which
    both agree has an exact interval.  ``kappa`` is that share beyond what chance
    would give; it is None where it is not defined (no job, or both always say the
    same one thing), and its interval is None where there is no spread to tell it by.
    All intervals are for a confidence of 95 %.
    """

    first: Rater
    second: Rater
    counts: tuple[tuple[int, ...], ...]
    agreed_frac: float | None
    agreed_low_frac: float | None
    agreed_high_frac: float | None
    kappa: float | None
    kappa_low: float | None
    kappa_high: float | None

    @property
    def job_count(self) -> int:
        """Number of jobs both have spoken on."""
        return sum(map(sum, self.counts))

    @property
    def agreed_count(self) -> int:
        """Number of jobs on which both say the same."""
        return sum(row[index] for index, row in enumerate(self.counts))


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeCount:
    """What became of the boards of which ``rater`` said ``decision``."""

    rater: Rater
    decision: str
    worked: int
    failed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """All agreement figures of the jobs that a filter leaves.

    ``damaged_count`` jobs are in none of them: nobody can tell what they hold, nor
    whether the filter means them.
    """

    pairs: tuple[PairAgreement, ...]
    outcomes: tuple[OutcomeCount, ...]
    damaged_count: int = 0
    sources: tuple[str, ...] = SOURCES


def read_agreement(home: Path, wanted: Filter) -> Agreement:
    """Work out how far tool, technician and reviewer agree.

    The tool counts where it compared the photos that count or says stop, and where
    a board was let go without; what it says includes hand corrections.  Reviewers
    see what the others said, so their agreement is not that of people who judge
    blindly.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    wanted : Filter
        Which jobs; ``show="all"`` for figures over everything.

    Returns
    -------
    Agreement
        One entry a pair of raters, and what became of the boards.
    """
    if not home.is_dir():
        return Agreement(pairs=tuple(_pair(*pair, {}) for pair in PAIRS), outcomes=())
    chosen = choice_of(wanted)

    def ask(index: sqlite3.Connection) -> Agreement:
        rows = fresh_rows(index, home, Choice(order=ORDER))
        damaged = sum(row.step == "damaged" for row in rows)
        add_functions(index)
        found = index.execute(
            f"SELECT {', '.join(_COLUMN.values())}, outcome, count(*) FROM jobs "
            f"WHERE {chosen.where} GROUP BY 1, 2, 3, 4",
            chosen.values,
        ).fetchall()
        said = [(dict(zip(_COLUMN, row, strict=False)), *row[3:]) for row in found]
        pairs = []
        for first, second in PAIRS:
            cells: dict[tuple[str, str], int] = {}
            for words, _, count in said:
                cell = (words[first], words[second])
                cells[cell] = cells.get(cell, 0) + count
            pairs.append(_pair(first, second, cells))
        return Agreement(
            pairs=tuple(pairs), outcomes=_outcomes(said), damaged_count=damaged
        )

    return with_index(home, ask)


def pair_agreement(
    first: Rater, second: Rater, counts: NDArray[np.int64]
) -> PairAgreement:
    """Work out the agreement of two raters from their confusion table.

    Parameters
    ----------
    first, second : str
        Who speaks in rows, who in columns.
    counts : ndarray of shape (k, k), int
        Jobs by what the two say.

    Returns
    -------
    PairAgreement
        Figures that are not defined are None.

    Notes
    -----
    kappa = (po - pe) / (1 - pe) by Cohen (1960); its standard error by Fleiss,
    Cohen and Everitt (1969), formula for kappa unequal to zero; the interval is
    normal and cut to [-1, 1].  It holds for many jobs.

    References
    ----------
    See ``SOURCES``.
    """
    total = int(counts.sum())
    agreed = int(np.trace(counts))
    low, high = _exact_interval(agreed, total)
    kappa, spread = _kappa(counts)
    return PairAgreement(
        first=first,
        second=second,
        counts=tuple(tuple(int(cell) for cell in row) for row in counts),
        agreed_frac=agreed / total if total else None,
        agreed_low_frac=low,
        agreed_high_frac=high,
        kappa=kappa,
        kappa_low=None if kappa is None or spread is None else max(-1, kappa - spread),
        kappa_high=None if kappa is None or spread is None else min(1, kappa + spread),
    )


def _exact_interval(agreed: int, total: int) -> tuple[float, float] | tuple[None, None]:
    """Give the interval of a share by Clopper and Pearson, from the beta quantiles."""
    if not total:
        return None, None
    tail = (1 - CONFIDENCE) / 2
    low = betaincinv(agreed, total - agreed + 1, tail) if agreed else 0.0
    missed = total - agreed
    high = betaincinv(agreed + 1, missed, 1 - tail) if missed else 1.0
    return float(low), float(high)


def _kappa(counts: NDArray[np.int64]) -> tuple[float | None, float | None]:
    """Give kappa and the half width of its interval."""
    total = counts.sum()
    if total == 0:
        return None, None
    shares = counts / total
    rows, columns = shares.sum(axis=1), shares.sum(axis=0)
    observed, expected = float(np.trace(shares)), float(rows @ columns)
    if math.isclose(expected, 1.0, rel_tol=0.0, abs_tol=1e-12):
        return None, None
    kappa = (observed - expected) / (1 - expected)
    beyond = 1 - kappa
    diagonal = np.diag(shares) @ (1 - (rows + columns) * beyond) ** 2
    weights = (columns[:, None] + rows[None, :]) ** 2
    off = beyond**2 * float((shares * weights).sum() - np.diag(shares * weights).sum())
    variance = (diagonal + off - (kappa - expected * beyond) ** 2) / (
        total * (1 - expected) ** 2
    )
    if variance <= 1e-15:  # no spread seen: an interval of no width would be a lie
        return kappa, None
    return kappa, float(ndtri((1 + CONFIDENCE) / 2)) * math.sqrt(variance)


def _pair(
    first: Rater, second: Rater, cells: dict[tuple[str, str], int]
) -> PairAgreement:
    counts = [[cells.get((row, col), 0) for col in DECISIONS] for row in DECISIONS]
    return pair_agreement(first, second, np.array(counts, dtype=np.int64))


def _outcomes(
    said: list[tuple[dict[Rater, str], str, int]],
) -> tuple[OutcomeCount, ...]:
    found = []
    for rater in _COLUMN:
        for decision in DECISIONS:
            became = {"worked": 0, "failed": 0}
            for words, outcome, count in said:
                if words[rater] == decision and outcome:
                    became[outcome] += count
            if any(became.values()):
                found.append(OutcomeCount(rater=rater, decision=decision, **became))
    return tuple(found)
