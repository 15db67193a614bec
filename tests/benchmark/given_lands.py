"""Bare lands that a scene gives, as ``read_bare_lands`` would."""

from __future__ import annotations

import numpy as np

from vision.bare_lands import BareLands
from vision.lands import LandsReport
from vision.results import Finding


def bare_lands(variant, to_photo, lands, px_per_mm):
    """A reading of bare lands that found nothing amiss."""
    return BareLands(
        variant=variant,
        report=LandsReport(
            lands=(),
            finding=Finding(state="ok", reasons=("drawn",)),
            pattern_to_image=matrix_of(to_photo),
            score=0.9,
        ),
        to_photo=matrix_of(to_photo),
        lands=tuple(lands),
        px_per_mm=px_per_mm,
    )


def affine_of(points, seen):
    """The affine map that carries points to where they are seen, least squares."""
    affine, *_ = np.linalg.lstsq(np.column_stack([points, np.ones(len(seen))]), seen)
    return np.vstack([affine.T, [0.0, 0.0, 1.0]])


def matrix_of(matrix):
    """A matrix as records hold it."""
    return tuple(tuple(map(float, row)) for row in matrix)
