"""Finds packages beside the one meant that sit another way round than before."""

from __future__ import annotations

from itertools import compress
from typing import TYPE_CHECKING

import numpy as np

from vision.chipview import likenesses, view_chip
from vision.geometry import apply_homography, is_sane_quad, side_lengths
from vision.match import overlooked
from vision.orientation import allowed_turns, judge_turn
from vision.overlap import quad_iou_frac
from vision.spare import each

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from vision.results import Package, Photo, Quad, Registration

MIN_IOU_FRAC = 0.5
"""The outlines laid over one another; the neighbours of a chip do not move."""
MIN_SIDE_PX = 40.0
"""Shorter bodies show too little of their marking to be told apart by looks."""
MIN_CONFIDENCE = 0.999


def overlooked_packages(
    before_packages: Sequence[Package],
    after_packages: Sequence[Package],
    registration: Registration,
    read_at: Callable[[Quad], Package | None],
) -> tuple[Package, ...]:
    """Look in the before photo where only the after photo shows a package.

    Parameters
    ----------
    before_packages, after_packages : sequence of Package
        Every package found in the two photos.
    registration : Registration
        The board, before to after.
    read_at : function of a Quad, giving Package or None
        Looks closely at a place of the before photo.

    Returns
    -------
    tuple of Package
        Those that the before photo shows there.
    """
    board = np.linalg.inv(registration.before_to_after)
    found: list[Package] = []
    for after in after_packages:
        corners = apply_homography(board, np.array(after.outline_px))
        if not is_sane_quad(corners) or side_lengths(corners).min() < MIN_SIDE_PX:
            continue
        known = [p.outline_px for p in (*before_packages, *found)]
        if any(quad_iou_frac(corners, outline) > 0 for outline in known):
            continue
        there = overlooked(board, after, read_at, MIN_IOU_FRAC)
        found += [there] if there else []
    return tuple(found)


def turned_packages(
    before_photo: Photo,
    before_packages: Sequence[Package],
    after_photo: Photo,
    after_packages: Sequence[Package],
    registration: Registration,
) -> tuple[Package, ...]:
    """Find the packages that are turned on their board.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before_packages : sequence of Package
        Those to look at, found in it.
    after_photo : Photo
        Upright photo.
    after_packages : sequence of Package
        Every package found in it.
    registration : Registration
        The board, before to after.

    Returns
    -------
    tuple of Package
        Those of ``before_packages`` that are, in their order.

    Notes
    -----
    One package is worked on in a job.  Where nobody pointed at it, the one that
    changed is the one that was meant, whatever lies in the middle of the photo.
    """
    board = np.asarray(registration.before_to_after)

    def is_turned(before: Package) -> bool:
        there = apply_homography(board, np.array(before.outline_px))
        if not is_sane_quad(there) or _least_side_px(before) < MIN_SIDE_PX:
            return False
        after = max(after_packages, key=lambda p: quad_iou_frac(there, p.outline_px))
        if quad_iou_frac(there, after.outline_px) < MIN_IOU_FRAC:
            return False
        view = view_chip(
            before_photo, before.outline_px, after_photo, after.outline_px, registration
        )
        seen = likenesses(view, allowed_turns(before, view))
        turn = judge_turn(before, after, registration, seen)
        return turn.state == "fault" and turn.confidence >= MIN_CONFIDENCE

    are_turned = each(is_turned, before_packages)
    return tuple(compress(before_packages, are_turned))


def _least_side_px(package: Package) -> float:
    return float(side_lengths(package.outline_px).min())
