"""The order of the steps and nothing else."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.compare import compare_packages
from vision.decide import complete, decide
from vision.geometry import quad_iou_frac, signed_area_px2, to_points
from vision.leads import name_package, place_leads
from vision.load import load_photo
from vision.locate import find_outlines
from vision.pin1 import judge_pin1
from vision.quality import assess_quality
from vision.refine import refine
from vision.register import match_packages
from vision.results import (
    Alignment,
    Finding,
    NotFound,
    Orientation,
    Package,
    PairReport,
    PhotoReport,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import numpy.typing as npt

    from vision.results import Outline, Photo

MIN_CORNER_SHARE = 0.75
"""Share of the corner maps at the four corners; less is no package."""
MAX_IOU_FRAC = 0.4
NOT_FOUND = (
    "packages: none found; one needed. Take the photo closer, with the whole chip and "
    "its leads in the frame."
)


NOT_CENTRAL = (
    "before photo: no chip was made out in its middle half; one needed, so that no "
    "neighbour is compared in its place. Centre the chip that is meant and come closer."
)
CENTRAL_FRAC = 0.25
"""How far from the middle, as a share of the photo's sides, the chip meant may lie."""


def look(path: str | Path) -> PhotoReport:
    """Find and judge every package in a photo.

    Parameters
    ----------
    path : str or Path
        The photo.

    Returns
    -------
    PhotoReport
        Packages best first.

    Raises
    ------
    PhotoError
        The file cannot be used as a photo.
    ModelError
        A network file is missing or altered.
    """
    photo = load_photo(path)
    packages: list[Package] = []
    for outline in find_outlines(photo, most=10):
        package = _read_package(photo, outline)
        if package and all(
            quad_iou_frac(package.outline_px, p.outline_px) < MAX_IOU_FRAC
            for p in packages
        ):
            packages.append(package)
    packages.sort(key=lambda p: -_prominence(photo, p))
    if not packages:
        return PhotoReport(
            photo=photo,
            quality=Finding(state="unsure", reasons=(NOT_FOUND,)),
            packages=(),
        )
    main = packages[0]
    quality = assess_quality(photo.pixels, main.outline_px, _pitch_px(main))
    return PhotoReport(photo=photo, quality=quality, packages=tuple(packages))


def compare(
    before_path: str | Path,
    after_path: str | Path,
    *,
    on_progress: Callable[[str], None] | None = None,
) -> PairReport:
    """Compare a chip after reflow with the same place before.

    Parameters
    ----------
    before_path, after_path : str or Path
        The photos.
    on_progress : callable or None
        Called with a word as each stage begins.

    Returns
    -------
    PairReport
        Every check; those that this version does not make are ``unsure``.

    Raises
    ------
    PhotoError
        A file cannot be used as a photo.
    ModelError
        A network file is missing or altered.
    """
    tell = on_progress or (lambda _: None)
    tell("before")
    before = look(before_path)
    tell("after")
    after = look(after_path)
    tell("register")
    meant = [p for p in before.packages if _is_central(before.photo, p)]
    matched = (
        match_packages(before.photo, meant, after.photo, after.packages)
        if meant
        else NotFound(reason=NOT_CENTRAL)
    )
    if isinstance(matched, NotFound):
        return _unmatched(before, after, matched)
    before_package, after_package, registration = matched
    tell("compare")
    result = compare_packages(
        before.photo, before_package, after.photo, after_package, registration
    )
    checks = complete(result.checks | {"quality": _quality(before, after)})
    decision, reasons = decide(checks)
    return PairReport(
        before=before,
        after=after,
        before_package=before_package,
        after_package=after_package,
        registration=registration,
        orientation=result.orientation,
        alignment=result.alignment,
        checks=checks,
        decision=decision,
        reasons=reasons,
    )


def _read_package(photo: Photo, outline: Outline) -> Package | None:
    """Look closely, twice; None where no package stands out."""
    first = refine(photo.pixels, np.array(outline.corners_px), turns=(0,))
    if not first or first.corner_share < MIN_CORNER_SHARE:
        return None
    close = refine(photo.pixels, first.corners_px, turns=(0, 1, 2, 3)) or first
    likeliest = np.roll(close.corners_px, -int(close.turn_share.argmax()), axis=0)
    named = name_package(close.family_share, close.count_share, _aspect(likeliest))
    corner, pin1 = judge_pin1(close, named.family)
    corners = np.roll(close.corners_px, -corner, axis=0)
    a, b, c, d = to_points(corners)
    package = Package(
        outline_px=(a, b, c, d),
        confidence=min(1.0, (0.5 + 0.5 * outline.score) * close.corner_share),
        family=named.family,
        family_confidence=named.family_share,
        lead_count=named.lead_count,
        pin1=pin1,
    )
    if named.variant is None:
        return package
    leads, scale = place_leads(corners, named.variant)
    return replace(package, leads=leads, px_per_mm=scale, variant=named.variant.name)


def _prominence(photo: Photo, package: Package) -> float:
    """Size times belief, less towards the edge of the photo: the chip that is meant."""
    corners = np.array(package.outline_px)
    size = np.sqrt(abs(signed_area_px2(corners)))
    middle = np.array([photo.width_px, photo.height_px]) / 2
    away = float(np.hypot(*((corners.mean(0) - middle) / middle)))
    return float(size) * package.confidence * (1 - 0.5 * min(away, 1.0))


def _is_central(photo: Photo, package: Package) -> bool:
    """Tell whether a package lies in the middle half of the photo, where it is meant."""
    middle = np.array(package.outline_px).mean(0)
    off = np.abs(middle / [photo.width_px, photo.height_px] - 0.5)
    return bool((off < CENTRAL_FRAC).all())


def _aspect(corners: npt.NDArray[np.float64]) -> float:
    """Length along the pin-1 row over the length across it."""
    side = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
    return float((side[0] + side[2]) / (side[1] + side[3]))


def _pitch_px(package: Package) -> float | None:
    if len(package.leads) < 2:
        return None
    first, second = package.leads[0].toe_px, package.leads[1].toe_px
    return float(np.hypot(first[0] - second[0], first[1] - second[1]))


def _quality(before: PhotoReport, after: PhotoReport) -> Finding:
    """The worse of the two photos' quality, with all reasons."""
    rank = {"ok": 0, "unsure": 1, "fault": 2}
    worse = max(before.quality.state, after.quality.state, key=rank.__getitem__)
    reasons = tuple(
        f"{name} photo: {reason}"
        for name, report in (("before", before), ("after", after))
        for reason in report.quality.reasons
    )
    return Finding(state=worse, reasons=reasons)


def _unmatched(
    before: PhotoReport, after: PhotoReport, missing: NotFound
) -> PairReport:
    checks = complete(
        {
            "quality": _quality(before, after),
            "registration": Finding(state="unsure", reasons=(missing.reason,)),
        }
    )
    decision, reasons = decide(checks)
    return PairReport(
        before=before,
        after=after,
        before_package=None,
        after_package=None,
        registration=missing,
        orientation=Orientation(
            state="unsure", turn_deg=None, confidence=0.0, reasons=(missing.reason,)
        ),
        alignment=Alignment(state="unsure", reasons=(missing.reason,)),
        checks=checks,
        decision=decision,
        reasons=reasons,
    )
