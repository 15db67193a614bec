"""Names a package's size and places its leads on the photo."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, log
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import (
    apply_homography,
    body_corners_mm,
    homography,
    px_per_mm,
)
from vision.results import Lead
from vision.rhythm import rhythm_share
from vision.tables import families, lead_positions, rank_variants

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.packages import Variant
    from vision.rhythm import LeadStrips

    FloatArray = npt.NDArray[np.float64]

MIN_SHARE = 0.01
"""Belief below which a family is not tried; added to that in every lead count, since
the network knows fewer counts than the tables hold."""
RHYTHM_WEIGHT = 10.0
SHAPE_SD = 0.08
"""Standard deviation of the logarithm of a body's aspect beyond its tolerance."""
MAX_SHAPE_COST = 8.0
TEMPER = 2.0
"""The terms of a score are not independent; their sum is divided by this for belief."""
NEGLIGIBLE = 6.0
"""How far below the best score a size counts for nothing."""
MIN_NAMED_SHARE = 0.7
"""Belief in the family below which no size, and so no scale in mm, is given."""
MIN_COUNT_SHARE = 0.6
"""The same of the lead count: leads that lie elsewhere would be judged by their gaps
(73 labelled chips of sure family: the three wrong counts had 0.36 to 0.50, and six of
70 right ones less than 0.6)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """The likeliest family, lead count and size of a package.

    ``likely`` is the likeliest size of a lead count that is sure, ``variant`` the same
    where the family is sure, too; ``count_share`` is the belief in the lead count.
    """

    family: str
    family_share: float
    count_share: float
    lead_count: int | None
    likely: Variant | None

    @property
    def variant(self) -> Variant | None:
        """The size, where it is sure enough to measure by."""
        return self.likely if self.family_share >= MIN_NAMED_SHARE else None


def name_package(
    family_share: dict[str, float],
    count_share: dict[int, float],
    aspect: float,
    strips: LeadStrips | None = None,
) -> Named:
    """Choose family, lead count and size by belief, shape and the leads' rhythm.

    Parameters
    ----------
    family_share, count_share : dict
        Belief by family name and by lead count.
    aspect : float
        Body length along the pin-1 row over length across it.
    strips : LeadStrips or None
        What lies beside the body; None where it was not cut.

    Returns
    -------
    Named
        Without a variant where the tables hold no such part.

    Notes
    -----
    Every size of a likely family is scored by log belief in its family and count,
    by how far the body's aspect lies outside the drawing's tolerance and by
    ``rhythm_share``.
    """
    likeliest = max(family_share, key=family_share.__getitem__)
    if likeliest not in families():
        return Named(
            family=likeliest,
            family_share=family_share[likeliest],
            count_share=max(count_share.values()),
            lead_count=max(count_share, key=count_share.__getitem__),
            likely=None,
        )
    scored: list[tuple[float, Variant]] = []
    top = -inf
    highest = RHYTHM_WEIGHT if strips is not None else 0.0
    for plain, variant in _by_belief_and_shape(family_share, count_share, aspect):
        if plain + highest < top - NEGLIGIBLE:
            break  # the rhythm adds no more than its weight, and the rest is worse
        rhythm = 0.0 if strips is None else rhythm_share(strips, variant)
        scored.append((plain + RHYTHM_WEIGHT * rhythm, variant))
        top = max(top, scored[-1][0])
    variant = max(scored, key=lambda pair: pair[0])[1]
    families_share = _share_of(variant.family, [(s, v.family) for s, v in scored])
    counts_share = _share_of(variant.lead_count, [(s, v.lead_count) for s, v in scored])
    return Named(
        family=variant.family,
        family_share=(1 - family_share.get("other", 0.0)) * families_share,
        count_share=counts_share,
        lead_count=variant.lead_count,
        likely=variant if counts_share >= MIN_COUNT_SHARE else None,
    )


def _share_of(chosen: str | int, scored: Sequence[tuple[float, str | int]]) -> float:
    """Belief in one family or count against the others, by the best score of each."""
    top = max(score for score, _ in scored)
    best: dict[str | int, float] = {}
    for score, name in scored:
        best[name] = max(best.get(name, -inf), score)
    weights = {name: exp((score - top) / TEMPER) for name, score in best.items()}
    return weights[chosen] / sum(weights.values())


def _by_belief_and_shape(
    family_share: dict[str, float], count_share: dict[int, float], aspect: float
) -> list[tuple[float, Variant]]:
    """Score every size of a likely family without its leads; best first."""
    scored = []
    for family, share in family_share.items():
        if share < MIN_SHARE:
            continue
        for variant, misfit in rank_variants(family, None, aspect):
            score = log(share)
            score += log(count_share.get(variant.lead_count, 0.0) + MIN_SHARE)
            score -= min((log(misfit) / SHAPE_SD) ** 2 / 2, MAX_SHAPE_COST)
            scored.append((score, variant))
    return sorted(scored, key=lambda pair: -pair[0])


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
