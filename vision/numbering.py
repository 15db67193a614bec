"""Counts the leads of a chip in two photos from one pin 1: the one that is known."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import apply_homography, to_points
from vision.leads import sized_as
from vision.tables import variant_named

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Package, Registration

    FloatArray = npt.NDArray[np.float64]


def number_alike(
    before: Package,
    after: Package,
    registration: Registration,
    turn_deg: int | None,
) -> tuple[Package, Package]:
    """Count the leads of both photos from the pin 1 of the chip after.

    Parameters
    ----------
    before, after : Package
        The same place of the board in both photos.
    registration : Registration
        The board, before to after.
    turn_deg : int or None
        Turn of the chip on its board; None where it is not known.

    Returns
    -------
    (Package, Package)
        Before with its outline started where the corner lies at which that of after
        starts, so that one number is one place of the board; after started where pin 1
        of the photo before tells, and as it was where that or the turn is not known or
        its own pin 1 is surer.  Leads are placed anew.
    """
    board = np.asarray(registration.before_to_after, float)
    first = _corner_like_before(before, after, board, turn_deg)
    after = after if first is None else _started_at(after, first)
    placed = apply_homography(board, before.outline_px)
    return _started_at(before, _corner_towards(placed, after.outline_px[0])), after


def _corner_like_before(
    before: Package, after: Package, board: FloatArray, turn_deg: int | None
) -> int | None:
    """Find the corner of the chip after that the photo before says is pin 1.

    None where pin 1 before or the turn is not known, and where the photo after, or a
    person, is surer of its own pin 1.
    """
    if before.pin1.state != "ok" or turn_deg is None:
        return None
    if after.pin1.state == "ok" and after.pin1.confidence > before.pin1.confidence:
        return None
    laid = apply_homography(board, np.array(before.outline_px))
    start = laid[(turn_deg // 90) % 4] - laid.mean(axis=0)
    corners = np.array(after.outline_px)
    return _corner_towards(corners, corners.mean(axis=0) + start)


def _corner_towards(corners: FloatArray, at_px: npt.ArrayLike) -> int:
    return int(np.argmin(np.linalg.norm(corners - np.asarray(at_px), axis=1)))


def _started_at(package: Package, first: int) -> Package:
    """Start the outline at another corner; the leads of the size follow."""
    if not first:
        return package
    a, b, c, d = to_points(np.roll(np.array(package.outline_px), -first, axis=0))
    package = replace(package, outline_px=(a, b, c, d))
    variant = variant_named(package.family, package.variant)
    return package if variant is None else sized_as(package, variant)
