"""Names a package's size and places its leads on the photo."""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import (
    apply_homography,
    body_corners_mm,
    homography,
    px_per_mm,
)
from vision.results import Lead
from vision.tables import lead_positions, rank_variants

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.packages import Variant

    FloatArray = npt.NDArray[np.float64]

TRIED_FAMILIES, TRIED_COUNTS = 4, 6
MISFIT_WEIGHT = 8.0
MIN_SHARE = 1e-4
MIN_NAMED_SHARE = 0.5
"""Belief in the family below which no size, and so no scale in mm, is given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """The likeliest family, lead count and size of a package."""

    family: str
    family_share: float
    lead_count: int | None
    variant: Variant | None


def name_package(
    family_share: dict[str, float], count_share: dict[int, float], aspect: float
) -> Named:
    """Choose family, lead count and size by belief and by the body's shape.

    Parameters
    ----------
    family_share, count_share : dict
        Belief by family name and by lead count.
    aspect : float
        Body length along the pin-1 row over length across it.

    Returns
    -------
    Named
        Without a variant where the tables hold no such part.
    """
    by_family = sorted(family_share.items(), key=lambda kv: -kv[1])[:TRIED_FAMILIES]
    by_count = sorted(count_share.items(), key=lambda kv: -kv[1])[:TRIED_COUNTS]
    best_family, best_share = by_family[0]
    best = Named(
        family=best_family,
        family_share=best_share,
        lead_count=by_count[0][0],
        variant=None,
    )
    if best_family == "other":
        return best
    best_score = -np.inf
    for family, f_share in by_family:
        for count, c_share in by_count:
            ranked = rank_variants(family, count, aspect)
            if not ranked or min(f_share, c_share) < MIN_SHARE:
                continue
            variant, misfit = ranked[0]
            score = log(f_share) + log(c_share) - MISFIT_WEIGHT * log(misfit)
            if score > best_score:
                best_score = score
                best = Named(
                    family=family,
                    family_share=f_share,
                    lead_count=count,
                    variant=variant if f_share >= MIN_NAMED_SHARE else None,
                )
    return best


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
