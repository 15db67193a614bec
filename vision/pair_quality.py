"""How good a photo is at a package, and the worse of two photos."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.quality import assess_quality
from vision.results import Finding, worst_state

if TYPE_CHECKING:
    from vision.results import Package, Photo, PhotoReport


def quality_of(photo: Photo, package: Package) -> Finding:
    """Judge a photo at a package, by the spacing of its leads where that is known.

    Parameters
    ----------
    photo : Photo
    package : Package

    Returns
    -------
    Finding
    """
    return assess_quality(photo.pixels, package.outline_px, _pitch_px(package))


def quality_at(report: PhotoReport, package: Package) -> Finding:
    """Give the photo's quality at a package; that at the first one is known.

    Parameters
    ----------
    report : PhotoReport
        Without packages where the one was read at the place of the other photo's.
    package : Package

    Returns
    -------
    Finding
    """
    is_main = any(
        package.outline_px == main.outline_px and package.leads == main.leads
        for main in report.packages[:1]
    )
    return report.quality if is_main else quality_of(report.photo, package)


def worse_quality(
    before: Finding, after: Finding, stages: tuple[str, str] = ("", "")
) -> Finding:
    """Take the worse quality of the two photos, with all reasons.

    Parameters
    ----------
    before, after : Finding
        Of either photo.
    stages : (str, str)
        What the photos' tags say against their being before and after.

    Returns
    -------
    Finding
        ``unsure`` at best where a tag speaks against its photo.
    """
    worse = worst_state((before.state, after.state))
    reasons = tuple(
        f"{name} photo: {reason}"
        for name, quality in (("before", before), ("after", after))
        for reason in quality.reasons
    )
    said = tuple(
        f"{name} photo: {reason}"
        for name, reason in zip(("before", "after"), stages, strict=True)
        if reason
    )
    if said and worse == "ok":
        worse = "unsure"
    return Finding(state=worse, reasons=reasons + said)


def _pitch_px(package: Package) -> float | None:
    if len(package.leads) < 2:
        return None
    first, second = package.leads[0].toe_px, package.leads[1].toe_px
    return float(np.hypot(first[0] - second[0], first[1] - second[1]))
