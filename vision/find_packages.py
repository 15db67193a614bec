"""Finds every package in a photo and reads each closely."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import (
    apply_homography,
    longest_side,
    mean_sides,
    signed_area_px2,
    to_points,
)
from vision.leads import log_odds, name_package, named_as, rows_differ
from vision.locate import LEVELS_PX, MIN_SCORE, find_outlines
from vision.markings import read_marking
from vision.meant import MIDDLE_REACH
from vision.one_scale import share_scale
from vision.overlap import middle_of, quad_holds, quad_iou_frac
from vision.pin1 import judge_pin1, wants_marking
from vision.refine import refine
from vision.results import Package
from vision.rhythm import STEPS, cut_lead_strips
from vision.small import make_small, picture_for
from vision.spare import start_aside

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from concurrent.futures import Future

    import numpy.typing as npt

    from vision.results import Outline, Photo, Point, Quad
    from vision.small import Small

MIN_CORNER_SHARE = 0.85
"""Share of the corner maps at the four corners; less is no package."""
SURE_SCORE, FAINT_CORNER_SHARE = 0.7, 0.7
"""Where a body was found so surely on the whole photo, this share in the quick look is
enough to look once more."""
MOST_OUTLINES = 20
FEW_OUTLINES = 8
LARGE_FRAC, LARGE_CONFIDENCE = 0.2, 0.9
"""Where a body this long, as a share of the photo's longer side, is found so surely,
the photo is of that package, and only the likeliest few places are looked at."""
MAX_IOU_FRAC = 0.4
HALF_TURN = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundPackages:
    """What was found on a photo.

    ``packages``: the one that is most likely meant first.  ``unread_px``: outlines of
    what looks like a package from afar and gave none when looked at closely.
    """

    packages: tuple[Package, ...]
    unread_px: tuple[Quad, ...]


def find_packages(photo: Photo) -> FoundPackages:
    """Find every package in a photo and read each closely.

    Parameters
    ----------
    photo : Photo
        Upright photo.

    Returns
    -------
    FoundPackages

    Raises
    ------
    ModelError
        A network file is missing or altered.
    """
    small = make_small(photo.pixels, LEVELS_PX[1])
    outlines = find_outlines(photo, small, most=MOST_OUTLINES)
    read = _read_likely(photo, outlines, small)
    if not read:
        tried = set(outlines)
        outlines = find_outlines(photo, small, most=MOST_OUTLINES, is_thorough=True)
        read = _read_likely(photo, [o for o in outlines if o not in tried], small)
    packages = share_scale(read)
    likely = [o.corners_px for o in outlines if o.score > MIN_SCORE]
    return FoundPackages(
        packages=tuple(sorted(packages, key=lambda p: -prominence(photo, p))),
        unread_px=tuple(q for q in likely if not _is_explained(q, packages)),
    )


def _read_likely(
    photo: Photo, outlines: Sequence[Outline], small: Small
) -> list[Package]:
    """Read the likeliest places, and faint ones where the photo's middle lies.

    The place that comes next is read meanwhile on a core that has nothing to do.
    """
    packages: list[Package] = []
    most = MOST_OUTLINES
    middle = middle_of(photo.width_px, photo.height_px)

    def is_faint(k: int) -> bool:
        return k >= most or outlines[k].score <= MIN_SCORE

    def is_wanted(k: int) -> bool:
        quad = outlines[k].corners_px
        is_likely = not is_faint(k) or (
            quad_holds(quad, middle)
            and not any(
                quad_holds(p.outline_px, middle, MIDDLE_REACH) for p in packages
            )
        )
        return is_likely and not _is_among(quad, packages)

    read = partial(read_package, photo, small=small)
    ahead: dict[int, Future[Package | None]] = {}
    for tried, outline in enumerate(outlines):
        if not is_wanted(tried):
            continue
        if tried in ahead:
            package = ahead[tried].result()
        else:
            after = next(filter(is_wanted, range(tried + 1, len(outlines))), None)
            if after is not None and (begun := start_aside(read, outlines[after])):
                ahead[after] = begun
            package = read(outline)
        if not package or _is_among(package.outline_px, packages):
            continue
        if is_faint(tried) and not quad_holds(package.outline_px, middle):
            continue
        packages.append(package)
        is_large = longest_side(package.outline_px) > LARGE_FRAC * max(
            photo.pixels.shape
        )
        if is_large and package.confidence > LARGE_CONFIDENCE:
            most = FEW_OUTLINES
    return packages


def _is_explained(quad: Quad, packages: Iterable[Package]) -> bool:
    """Tell whether a quad is a package that was read, or a place that holds one."""
    return _is_among(quad, packages) or any(
        quad_holds(quad, _centre(p)) for p in packages
    )


def _centre(package: Package) -> Point:
    x, y = np.mean(package.outline_px, axis=0)
    return float(x), float(y)


def _is_among(quad: Quad, packages: Iterable[Package]) -> bool:
    return any(quad_iou_frac(quad, p.outline_px) > MAX_IOU_FRAC for p in packages)


def prominence(photo: Photo, package: Package) -> float:
    """Size times belief, less towards the edge of the photo: the chip that is meant."""
    corners = np.array(package.outline_px)
    size = np.sqrt(abs(signed_area_px2(corners)))
    middle = np.array([photo.width_px, photo.height_px]) / 2
    away = float(np.hypot(*((corners.mean(0) - middle) / middle)))
    return float(size) * package.confidence * (1 - 0.5 * min(away, 1.0))


def read_package(
    photo: Photo, outline: Outline, small: Small | None = None
) -> Package | None:
    """Look closely, twice, at one place of a photo.

    Parameters
    ----------
    photo : Photo
        Upright photo.
    outline : Outline
        Where a body is thought to be.
    small : Small or None
        The photo made smaller, for bodies that it shows large enough.

    Returns
    -------
    Package or None
        None where no package stands out.
    """
    pixels, start = photo.pixels, np.array(outline.corners_px)
    first = refine(pixels, start, turns=(0,), is_quick=True, small=small)
    least = FAINT_CORNER_SHARE if outline.score > SURE_SCORE else MIN_CORNER_SHARE
    if not first or first.corner_share < least:
        return None
    close = refine(pixels, first.corners_px, turns=(0, 2), small=small) or first
    if max(first.corner_share, close.corner_share) < MIN_CORNER_SHARE:
        return None
    turn = int(close.turn_share.argmax())
    likeliest = np.roll(close.corners_px, -turn, axis=0)
    strips = _strips_beside(pixels, small, likeliest)
    shares = close.family_share, close.count_share, aspect_of(likeliest)
    named = name_package(*shares, strips)
    turned, rows = named, 0.0
    if rows_differ(named):
        turned = name_package(*shares, np.roll(strips, HALF_TURN, axis=0))
        rows = log_odds(named, turned)
    marking = None
    if wants_marking(close, named.variant):
        marking = read_marking(pixels, close.corners_px) or None
    corner, pin1 = judge_pin1(close, named.family, marking, rows)
    if (corner - turn) % 4 == HALF_TURN:
        named = turned
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
    return named_as(package, named)


def _strips_beside(
    pixels: npt.NDArray[np.uint8], small: Small | None, corners: npt.NDArray[np.float64]
) -> npt.NDArray[np.float32]:
    picture, from_photo = picture_for(pixels, small, corners, STEPS)
    return cut_lead_strips(picture, apply_homography(from_photo, corners))


def aspect_of(corners: npt.NDArray[np.float64]) -> float:
    """Give the length of a body along its pin-1 row over the length across it.

    Parameters
    ----------
    corners : ndarray of shape (4, 2)
        Pin-1 corner first, counter-clockwise, px.

    Returns
    -------
    float
    """
    along, across = mean_sides(corners)
    return float(along / across)
