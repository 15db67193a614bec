"""Reads the joints after reflow beside the same joints before: what is new matters."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.joints import JointsSeen, read_joints
from vision.leads import sized_as
from vision.results import Finding
from vision.shared_size import likeliest_size

if TYPE_CHECKING:
    from vision.packages import Variant
    from vision.results import Package, Photo, Registration


def compare_joints(
    before_photo: Photo,
    before: Package,
    after_photo: Photo,
    after: Package,
    registration: Registration,
) -> JointsSeen:
    """Judge the joints of the chip after, with the photo before as the reference.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before : Package
        The chip that was there before.
    after_photo : Photo
        Upright photo.
    after : Package
        The chip after.
    registration : Registration
        The board, before to after.

    Returns
    -------
    JointsSeen
        Numbered as the outline of the chip after starts, in pixels of its photo.  Where
        the size is not known only bridges are judged, by the likeliest size: what is
        new in a gap is seen wherever the windows lie, and nothing is called sound.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    board = np.asarray(registration.before_to_after, float)
    sized = _by_surer_size(before, after)
    reference = before_photo.pixels, np.linalg.inv(board)
    seen = read_joints(after_photo.pixels, sized, before=reference)
    size = None if sized.variant else likeliest_size(before, after)
    if not size or size.lead_style != "gull_wing":
        return seen
    likeliest = sized_as(replace(sized, family=size.family), size)
    by_size = read_joints(after_photo.pixels, likeliest, before=reference)
    is_bridged = by_size.bridges_check.state == "fault"
    return _with_bridges(seen, by_size, size) if is_bridged else seen


def _with_bridges(unsized: JointsSeen, seen: JointsSeen, size: Variant) -> JointsSeen:
    """Add the bridges that were seen by a size that is only likely."""
    counted = f"leads are counted as on {size.name}, the likeliest size"
    return replace(
        unsized,
        bridges=tuple(b for b in seen.bridges if b.state == "fault"),
        bridges_check=Finding(
            state="fault", reasons=(*seen.bridges_check.reasons, counted)
        ),
    )


def _by_surer_size(before: Package, after: Package) -> Package:
    """Give the chip after the size of the one before, where that was named surer."""
    is_surer = before.variant and before.family_confidence > after.family_confidence
    if before.variant == after.variant or (after.variant and not is_surer):
        return after
    return replace(after, variant=before.variant, family=before.family, leads=())
