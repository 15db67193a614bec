"""Names a package's size and places its leads on the photo."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache
from math import exp, inf, log, log1p
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import (
    apply_homography,
    body_corners_mm,
    homography,
    px_per_mm,
)
from vision.results import Lead, SizeScores
from vision.rhythm import LeadEvidence, lead_evidence
from vision.tables import families, lead_positions, rank_variants, variant_named

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.packages import Variant
    from vision.results import Package

    FloatArray = npt.NDArray[np.float64]

MIN_SHARE = 0.001
"""Belief below which a family is not tried."""
FAMILY_FLOOR, COUNT_FLOOR = 0.02, 0.01
"""Added to the belief in every family and lead count: the network errs, and it knows
fewer counts than the tables hold."""
COUNT_WEIGHT, RHYTHM_WEIGHT = 1.3, 6.0
COUNT_SD = 0.03
"""Standard deviation of the logarithm of the lead count that the network sees."""
SHAPE_SCALE, SHAPE_POWER = 0.02, 0.6
"""Of the logarithm of a body's aspect beyond its tolerance: mostly nought, but with
long tails, as a leaning body is seen shortened."""
SHORT_WEIGHT, MIN_REACHED_FRAC, MOST_SHORT = 8.0, 1.2, 4.0
"""Land and fillet go on past the toe, so that leads are followed farther than they
reach; what falls short of that speaks against their size."""
# The weights follow a fit to 509 views of 170 labelled chips, five times with a fifth
# of them left out (tests/benchmark/bench_sizes.py makes the views); in it the logarithm
# of belief in the family had a weight close to 1.
NEGLIGIBLE = 5.0
"""How far below the best by belief and shape a size's leads are not looked for."""
MIN_NAMED_SHARE = 0.7
"""Belief in the family below which no size, and so no scale in mm, is given."""
MIN_COUNT_SHARE = 0.92
"""The same of the lead count: leads that lie elsewhere would be judged by their gaps
(``tests/benchmark/bench_sizes.py`` prints how many sizes it gives, and how many of
them are wrong)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """The likeliest family, lead count and size of a package.

    ``variant`` is given only where both shares of belief, in the family and in the lead
    count, are sure enough to measure by it; ``scores`` are those of all sizes tried.
    """

    family: str
    family_share: float
    count_share: float
    lead_count: int | None
    variant: Variant | None
    scores: SizeScores = field(default_factory=SizeScores)


def name_package(
    family_share: dict[str, float],
    count_share: dict[int, float],
    aspect: float,
    strips: npt.NDArray[np.float32] | None = None,
) -> Named:
    """Choose family, lead count and size by belief, shape and the leads' rhythm.

    Parameters
    ----------
    family_share, count_share : dict
        Belief by family name and by lead count.
    aspect : float
        Body length along the pin-1 row over length across it.
    strips : ndarray of shape (4, outward, along) or None
        What lies beside the body; None where it was not cut.

    Returns
    -------
    Named
        Without a variant where the tables hold no such part.

    Notes
    -----
    Every size of a likely family is scored by log belief in its family and count,
    by how far the body's aspect lies outside the drawing's tolerance and by
    ``lead_evidence``.
    """
    likeliest = max(family_share, key=family_share.__getitem__)
    if likeliest not in families():
        return Named(
            family=likeliest,
            family_share=family_share[likeliest],
            count_share=max(count_share.values()),
            lead_count=max(count_share, key=count_share.__getitem__),
            variant=None,
        )
    plain = _by_belief_and_shape(family_share, count_share, aspect)
    scored = {(v.family, v.name): score for v, score in plain}
    if strips is not None:
        least = max(scored.values()) - NEGLIGIBLE
        tried = [variant for variant, score in plain if score >= least]
        for variant, seen in zip(tried, lead_evidence(strips, tried), strict=True):
            scored[variant.family, variant.name] += _lead_score(seen)
    return settle(SizeScores(scored, family_share.get("other", 0.0)))


def rows_differ(named: Named) -> bool:
    """Tell whether the likeliest size has other leads on the side opposite pin 1.

    Parameters
    ----------
    named : Named

    Returns
    -------
    bool
    """
    scores = named.scores.by_size
    if not scores:
        return False
    variant = variant_named(*max(scores, key=scores.__getitem__))
    return variant is not None and (
        variant.leads_per_side[:2] != variant.leads_per_side[2:]
    )


def log_odds(named: Named, otherwise: Named) -> float:
    """Say how much better one reading of a package explains its leads than another.

    Parameters
    ----------
    named, otherwise : Named
        Readings of one place, such as half a turn apart.

    Returns
    -------
    float
        Of the sums over all sizes.
    """
    one, other = (
        np.logaddexp.reduce(list(n.scores.by_size.values())) for n in (named, otherwise)
    )
    return float(one - other)


def _lead_score(seen: LeadEvidence) -> float:
    score = RHYTHM_WEIGHT * seen.rhythm
    if seen.reached_frac is None:
        return score
    short = max(0.0, log(MIN_REACHED_FRAC / seen.reached_frac))
    return score - min(SHORT_WEIGHT * short, MOST_SHORT)


def settle(scores: SizeScores, min_count_share: float = MIN_COUNT_SHARE) -> Named:
    """Choose a size by the scores of all that were tried.

    Parameters
    ----------
    scores : SizeScores
        At least one size.
    min_count_share : float
        Belief in the lead count below which no size is given.

    Returns
    -------
    Named
    """
    known = [
        (score, variant)
        for size, score in scores.by_size.items()
        if (variant := variant_named(*size))
    ]
    variant = max(known, key=lambda pair: pair[0])[1]
    families_share = _share_of(variant.family, [(s, v.family) for s, v in known])
    counts_share = _share_of(variant.lead_count, [(s, v.lead_count) for s, v in known])
    family_share = (1 - scores.other_share) * families_share
    is_sure = family_share >= MIN_NAMED_SHARE and counts_share >= min_count_share
    return Named(
        family=variant.family,
        family_share=family_share,
        count_share=counts_share,
        lead_count=variant.lead_count,
        variant=variant if is_sure else None,
        scores=scores,
    )


def _share_of(chosen: str | int, scored: Sequence[tuple[float, str | int]]) -> float:
    """Belief in one family or count against the others, by the best score of each."""
    top = max(score for score, _ in scored)
    best: dict[str | int, float] = {}
    for score, name in scored:
        best[name] = max(best.get(name, -inf), score)
    weights = {name: exp(score - top) for name, score in best.items()}
    return weights[chosen] / sum(weights.values())


def _by_belief_and_shape(
    family_share: dict[str, float], count_share: dict[int, float], aspect: float
) -> list[tuple[Variant, float]]:
    """Score every size of a likely family without its leads."""

    @cache
    def count_score(lead_count: int) -> float:
        belief = _count_share(count_share, lead_count) + COUNT_FLOOR
        return COUNT_WEIGHT * log(belief)

    scored = []
    for family, share in family_share.items():
        if share < MIN_SHARE:
            continue
        for variant, misfit in rank_variants(family, None, aspect):
            score = log(share + FAMILY_FLOOR) + count_score(variant.lead_count)
            score -= SHAPE_POWER * log1p((log(misfit) / SHAPE_SCALE) ** 2)
            scored.append((variant, score))
    return scored


def _count_share(count_share: dict[int, float], lead_count: int) -> float:
    """Belief in a lead count; the network can hardly tell 54 leads from 56."""
    return sum(
        share * exp(-((log(lead_count / count) / COUNT_SD) ** 2) / 2)
        for count, share in count_share.items()
    )


def named_as(package: Package, named: Named) -> Package:
    """Give a package its family, lead count and, where that is sure, its size.

    Parameters
    ----------
    package : Package
        Pin 1 first where that is known.
    named : Named
        From ``name_package`` or ``settle``.

    Returns
    -------
    Package
    """
    package = replace(
        package,
        family=named.family,
        family_confidence=named.family_share,
        lead_count=named.lead_count,
        size_scores=named.scores,
        leads=(),
        px_per_mm=None,
        variant=None,
    )
    return package if named.variant is None else sized_as(package, named.variant)


def sized_as(package: Package, variant: Variant) -> Package:
    """Give a package a size, and with it scale and leads.

    Parameters
    ----------
    package : Package
        Its outline starts where leads are counted from.
    variant : Variant

    Returns
    -------
    Package
    """
    leads, scale = place_leads(np.asarray(package.outline_px), variant)
    return replace(package, leads=leads, px_per_mm=scale, variant=variant.name)


def place_leads(
    corners_px: FloatArray, variant: Variant
) -> tuple[tuple[Lead, ...], float]:
    """Place the leads by the size's drawing; also the scale in px/mm.

    Parameters
    ----------
    corners_px : ndarray of shape (4, 2)
        Body corners, pin 1 first, counter-clockwise.
    variant : Variant
        The package's size.

    Returns
    -------
    (tuple of Lead, float)
        Lead 1 first, photo px; scale in px/mm.

    Notes
    -----
    The drawing is laid on the body's outline, so in an oblique photo feet lie off by
    the parallax of the body's height.
    """
    size = variant.body_x_mm[1], variant.body_y_mm[1]
    to_photo = homography(body_corners_mm(*size), corners_px)
    scale = px_per_mm(corners_px, *size)
    leads = []
    for place in lead_positions(variant):
        ends = apply_homography(to_photo, np.array([place.toe_mm, place.heel_mm]))
        toe, heel = ((float(x), float(y)) for x, y in ends)
        leads.append(
            Lead(
                number=place.number,
                toe_px=toe,
                heel_px=heel,
                width_px=place.width_mm * scale,
            )
        )
    return tuple(leads), scale
