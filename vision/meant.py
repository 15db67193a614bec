"""Says which of the packages in a photo may be meant."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import longest_side
from vision.overlap import is_cut_off, middle_of, quad_holds
from vision.results import Finding, NotFound

if TYPE_CHECKING:
    from vision.results import Package, PhotoReport, Point

MIDDLE_REACH = 2.0
"""The middle of the photo may lie outside the body meant by half a body's size."""
LARGE_FRAC, LARGE_CONFIDENCE = 0.18, 0.75
"""A body this long, as a share of the photo's longer side, and found so surely, is what
the photo was taken of, even off the middle."""
NEAR_CONFIDENCE = 0.5
UNREAD_FRAC = 0.08
"""What could not be read about the middle may be the package meant if it is this long,
as a share of the photo's longer side; below that it is a capacitor or a mark."""


def choose_meant(
    report: PhotoReport, at_px: Point | None = None
) -> tuple[Package, ...] | NotFound:
    """Choose the package that a person means, or those that it may be.

    Parameters
    ----------
    report : PhotoReport
        A photo and every package found in it, best first; of two bodies drawn over
        one another only the better is real.
    at_px : (float, float) or None
        A place on the body meant, photo px; None where nobody pointed.

    Returns
    -------
    tuple of Package or NotFound
        The package under the place pointed at, else the one under the middle of the
        photo, else all beside the middle, else every large one, nearest the middle
        first.  A body that the photo's edge cuts off is meant only under the middle.
        NotFound where there is none, or where something about the middle could not be
        read: a package elsewhere must never be judged in its place.
    """
    photo, packages = report.photo, report.packages
    if at_px is not None:
        under = [p for p in packages if quad_holds(p.outline_px, at_px)]
        if under:
            return (under[0],)
        x, y = at_px
        return NotFound(
            reason=f"no package was made out at {x:.0f}, {y:.0f} in the photo. "
            "Point at the middle of its body, or take a photo closer to it."
        )
    middle = middle_of(photo.width_px, photo.height_px)
    under = [p for p in packages if quad_holds(p.outline_px, middle)]
    if under:
        return (under[0],)
    likely = _beside(report, middle)
    if likely and not _holds_unread(report, middle):
        return tuple(sorted(likely, key=lambda p: _away(p, middle)))
    return NotFound(
        reason="no package was made out in the middle of the photo. Centre the one "
        "that is meant and come closer, or point at it."
    )


def meant_first(report: PhotoReport) -> PhotoReport:
    """Put the package that is meant first, and say where that is not known.

    Parameters
    ----------
    report : PhotoReport
        A photo and every package found in it, best first.

    Returns
    -------
    PhotoReport
        ``meant`` is ``unsure`` where it may be another than the first, or none.
    """
    meant = choose_meant(report)
    if isinstance(meant, NotFound):
        return replace(report, meant=Finding(state="unsure", reasons=(meant.reason,)))
    first = meant[0]
    others = (package for package in report.packages if package is not first)
    report = replace(report, packages=(first, *others))
    if len(meant) == 1:
        return report
    said = (
        f"any of {len(meant)} packages may be the one meant; this tells of the one "
        "nearest the middle. Come closer to the one that is meant, or point at it."
    )
    return replace(report, meant=Finding(state="unsure", reasons=(said,)))


def _beside(report: PhotoReport, middle: Point) -> list[Package]:
    """Give the whole packages about the middle, else the large ones elsewhere."""
    width, height = report.photo.width_px, report.photo.height_px
    whole = [p for p in report.packages if not is_cut_off(p.outline_px, width, height)]
    near = [
        p
        for p in whole
        if quad_holds(p.outline_px, middle, MIDDLE_REACH)
        and p.confidence > NEAR_CONFIDENCE
    ]
    return near or [
        p
        for p in whole
        if longest_side(p.outline_px) > LARGE_FRAC * max(width, height)
        and p.confidence > LARGE_CONFIDENCE
    ]


def _holds_unread(report: PhotoReport, middle: Point) -> bool:
    """Tell whether something about the middle may be a package that was not read."""
    least_px = UNREAD_FRAC * max(report.photo.width_px, report.photo.height_px)
    return any(
        quad_holds(quad, middle, MIDDLE_REACH) and longest_side(quad) > least_px
        for quad in report.unread_px
    )


def _away(package: Package, middle: Point) -> float:
    """Give the distance of a body from the middle, in lengths of its own."""
    x, y = np.mean(package.outline_px, axis=0) - middle
    return float(np.hypot(x, y)) / longest_side(package.outline_px)
