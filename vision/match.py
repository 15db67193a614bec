"""Finds the package of the one photo again at its place in the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import apply_homography, is_sane_quad, order_ccw, to_points
from vision.leads import place_leads
from vision.overlap import quad_iou_frac
from vision.register import MIN_IOU_FRAC, Place, lay_board, overlap_frac
from vision.results import NotFound
from vision.tables import variant_named

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from vision.packages import Variant
    from vision.results import Package, Photo, Quad, Registration

MAX_CANDIDATES = 4
MAY_BE = 2.0
"""Log-odds below the likeliest size from which a size is thought of no more."""


def match_packages(
    before_photo: Photo,
    before: Package,
    after_photo: Photo,
    after_packages: Sequence[Package],
    read_at: Callable[[Quad], Package | None] = lambda _: None,
) -> tuple[Package, Package, Registration] | NotFound:
    """Find the chip meant in the before photo again in the after photo.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before : Package
        The chip meant.
    after_photo : Photo
        Upright photo.
    after_packages : sequence of Package
        Every chip found in the after photo, best first.
    read_at : function of a Quad, giving Package or None
        Looks closely at a place of the after photo, for a chip that was overlooked.

    Returns
    -------
    (Package, Package, Registration) or NotFound
        The chip before, the same place after, and the board's registration.
    """
    if not after_packages:
        return NotFound(
            reason="no chip found in the after photo. Take it closer, chip centred."
        )
    ranked = list(after_packages)
    place = _place_of(before_photo, before)

    def lay(package: Package) -> Registration | NotFound:
        return lay_board(place, _place_of(after_photo, package))

    lost = []
    for package in ranked[:MAX_CANDIDATES]:
        board = lay(package)
        if isinstance(board, NotFound):
            lost.append(board)
            continue
        shares = [overlap_frac(board, before.outline_px, p.outline_px) for p in ranked]
        there: Package | None = ranked[int(np.argmax(shares))]
        if max(shares) < MIN_IOU_FRAC:
            there = overlooked(board.before_to_after, before, read_at)
        if there is None:
            return NotFound(
                reason="the boards match, but no chip was found in the after photo at "
                "the place of the chip before. Take it again with that place in the "
                "middle; if the chip is off the board, there is nothing to compare."
            )
        board = board if there is package else lay(there)
        return board if isinstance(board, NotFound) else (before, there, board)
    return lost[0]


def _place_of(photo: Photo, package: Package) -> Place:
    """Give the place of a package with its leads, by every size that it may have."""
    placed = [(package.leads, package.px_per_mm or 0.0)]
    if package.px_per_mm is None:
        corners = np.asarray(package.outline_px)
        placed = [place_leads(corners, variant) for variant in _may_be(package)]
    return Place(
        photo,
        order_ccw(package.outline_px),
        tuple(lead.toe_px for leads, _ in placed for lead in leads),
        max((scale for _, scale in placed), default=None),
    )


def _may_be(package: Package) -> list[Variant]:
    """List the sizes that are nearly as likely as the likeliest."""
    scores = package.size_scores.by_size
    best = max(scores.values(), default=0.0)
    likely = [size for size, score in scores.items() if score > best - MAY_BE]
    return [v for size in likely if (v := variant_named(*size))]


def overlooked(
    to_photo: npt.ArrayLike,
    package: Package,
    read_at: Callable[[Quad], Package | None],
    least_iou_frac: float = MIN_IOU_FRAC,
) -> Package | None:
    """Look where one photo shows a package for one that was not found in the other.

    Parameters
    ----------
    to_photo : array_like of shape (3, 3)
        From the photo that shows it to the other.
    package : Package
        In the photo that shows it.
    read_at : function of a Quad, giving Package or None
        Looks closely at a place of the other photo.
    least_iou_frac : float
        How much of both bodies must be the same place.

    Returns
    -------
    Package or None
        In the other photo.
    """
    corners = apply_homography(np.asarray(to_photo), package.outline_px)
    if not is_sane_quad(corners):
        return None
    a, b, c, d = to_points(corners)
    there = read_at((a, b, c, d))
    is_there = there and quad_iou_frac(corners, there.outline_px) >= least_iou_frac
    return there if is_there else None
