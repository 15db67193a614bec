"""One chip in two photos has one size: what one cannot tell, the other does."""

from __future__ import annotations

from dataclasses import replace
from math import exp
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import apply_homography, mean_sides, order_ccw
from vision.leads import MIN_NAMED_SHARE, place_leads, settle
from vision.results import SizeScores
from vision.tables import variant_named

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.packages import Variant
    from vision.results import Package, Registration

    FloatArray = npt.NDArray[np.float64]

TEMPER = 0.75
"""Two looks at one chip err alike: of their summed scores this share counts."""
MIN_COUNT_SHARE = 0.95
"""Belief in the lead count of both photos together below which no size is given
(``tests/benchmark/bench_sizes.py``)."""
SAME_SIDES_FRAC = 0.12
"""Both sides of the body, after over before on the board, must agree this well."""


def share_size(
    before: Package, after: Package, registration: Registration
) -> tuple[Package, Package]:
    """Give the size of the surer photo to the one that could not tell it.

    Where neither is sure by itself, what they believe is put together.

    Parameters
    ----------
    before, after : Package
        The same place of the board in both photos.
    registration : Registration
        The board, before to after.

    Returns
    -------
    (Package, Package)
        With scale, leads and size filled in where they were missing and the bodies
        agree on the board; then a family or lead count of which one photo was not
        sure is that of the size.
    """
    board = np.asarray(registration.before_to_after)
    laid = apply_homography(np.linalg.inv(board), after.outline_px)
    if not _agree(np.asarray(before.outline_px), laid):
        return before, after
    if before.variant is None and after.variant is None:
        variant = _likeliest_for_both(before, after)
    else:
        sizes = (variant_named(p.family, p.variant) for p in (before, after))
        variant = next(filter(None, sizes), None)
    if variant is None or not (_may_be(before, variant) and _may_be(after, variant)):
        return before, after
    if before.variant is None:
        before = _sized(before, variant, laid)
    if after.variant is None:
        after = size_like(before, after, registration)
    return before, after


def likeliest_size(before: Package, after: Package) -> Variant | None:
    """Give the size that fits both photos best, however little that says.

    Parameters
    ----------
    before, after : Package
        The same chip.

    Returns
    -------
    Variant or None
        None where one photo thinks of no size.
    """
    by_size = _for_both(before, after).by_size
    return variant_named(*max(by_size, key=by_size.__getitem__)) if by_size else None


def leadless_share(before: Package, after: Package) -> float:
    """Give the belief, by both photos together, that a package has no leads.

    Parameters
    ----------
    before, after : Package
        The same chip.

    Returns
    -------
    float
        0..1; by one photo where the other thought of no size, 0 where both did not.
    """
    best: dict[bool, float] = {}
    told = [p.size_scores for p in (before, after) if p.size_scores.by_size]
    scores = _for_both(before, after) if len(told) == 2 else (*told, SizeScores())[0]
    for size, score in scores.by_size.items():
        variant = variant_named(*size)
        if variant is not None:
            is_leadless = variant.lead_style == "no_lead"
            best[is_leadless] = max(score, best.get(is_leadless, score))
    if len(best) < 2:
        return float(best.keys() == {True})
    return 1 / (1 + exp(best[False] - best[True]))


def _likeliest_for_both(before: Package, after: Package) -> Variant | None:
    """Give the size that fits both photos, where that is sure."""
    scores = _for_both(before, after)
    return settle(scores, MIN_COUNT_SHARE).variant if scores.by_size else None


def _for_both(before: Package, after: Package) -> SizeScores:
    """Add up what both photos say; empty where one says nothing."""
    both = [p.size_scores for p in (before, after)]
    if not all(scores.by_size for scores in both):
        return SizeScores()
    least = [min(scores.by_size.values()) for scores in both]
    sizes = set(both[0].by_size) | set(both[1].by_size)
    added = {
        size: TEMPER
        * sum(
            scores.by_size.get(size, low)
            for scores, low in zip(both, least, strict=True)
        )
        for size in sizes
    }
    return SizeScores(added, max(scores.other_share for scores in both))


def _may_be(package: Package, variant: Variant) -> bool:
    is_sure = package.family_confidence >= MIN_NAMED_SHARE
    return package.family == variant.family or not is_sure


def size_like(before: Package, after: Package, registration: Registration) -> Package:
    """Give the package after the size of the one before.

    Parameters
    ----------
    before, after : Package
        The same chip, its leads found again.
    registration : Registration
        The board, before to after.

    Returns
    -------
    Package
        With the family, the lead count and the leads of before's size; unchanged
        where that is not known.
    """
    board = np.asarray(registration.before_to_after)
    placed = apply_homography(board, before.outline_px)
    return _sized(after, variant_named(before.family, before.variant), placed)


def _sized(package: Package, variant: Variant | None, like: FloatArray) -> Package:
    """Place the leads of a size; without pin 1 the outline starts as the other does."""
    if variant is None:
        return package
    corners = np.asarray(package.outline_px, dtype=np.float64)
    if package.pin1.state != "ok":
        gaps = [float(((np.roll(corners, -k, 0) - like) ** 2).sum()) for k in range(4)]
        corners = np.roll(corners, -int(np.argmin(gaps)), axis=0)
    leads, scale = place_leads(corners, variant)
    return replace(
        package,
        family=variant.family,
        lead_count=variant.lead_count,
        leads=leads,
        px_per_mm=scale,
        variant=variant.name,
    )


def _agree(first: FloatArray, second: FloatArray) -> bool:
    sides = [mean_sides(order_ccw(quad)) for quad in (first, second)]
    return bool((np.abs(sides[1] / sides[0] - 1) < SAME_SIDES_FRAC).all())
