"""Reads the joints after reflow beside the same joints before: what is new matters."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import to_points
from vision.joints import JointsSeen, read_joints
from vision.leads import sized_as
from vision.numbering import corner_like_before
from vision.results import Finding
from vision.shared_size import likeliest_size

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.packages import Variant
    from vision.results import Package, Photo, Registration


def compare_joints(
    before_photo: Photo,
    before: Package,
    after_photo: Photo,
    after: Package,
    registration: Registration,
    *,
    turn_deg: int | None,
) -> JointsSeen:
    """Judge the joints of the chip after, with the photo before as the reference.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before : Package
        The chip that was there before; its pin 1 numbers the leads where it is known.
    after_photo : Photo
        Upright photo.
    after : Package
        The chip after.
    registration : Registration
        The board, before to after.
    turn_deg : int or None
        How far the chip is turned on its board, counter-clockwise; None if unsure.

    Returns
    -------
    JointsSeen
        Numbered from the pin 1 of the chip after, in pixels of the after photo.  Where
        the size is not known only bridges are judged, by the likeliest size: what is
        new in a gap is seen wherever the windows lie, and nothing is called sound.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    board = np.asarray(registration.before_to_after, float)
    numbered = number_like_before(before, after, board, turn_deg)
    reference = before_photo.pixels, np.linalg.inv(board)
    seen = read_joints(after_photo.pixels, numbered, before=reference)
    size = None if numbered.variant else likeliest_size(before, after)
    if not size or size.lead_style != "gull_wing":
        return seen
    by_size = read_joints(
        after_photo.pixels, sized_as(numbered, size), before=reference
    )
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


def number_like_before(
    before: Package,
    after: Package,
    board: npt.NDArray[np.float64],
    turn_deg: int | None,
) -> Package:
    """Start the chip's outline at the corner that the photo before says is pin 1.

    Parameters
    ----------
    before, after : Package
        The chip in both photos.
    board : ndarray of shape (3, 3)
        Before pixels to after pixels.
    turn_deg : int or None
        Turn of the chip on its board.

    Returns
    -------
    Package
        The chip after, of the size in which the surer of the two was named; unchanged
        where its own pin 1 is known and that before is not, or less surely.
    """
    sized = after
    is_surer = before.variant and before.family_confidence > after.family_confidence
    if is_surer or not after.variant:
        sized = replace(
            after, variant=before.variant, family=before.family, leads=after.leads
        )
    first = corner_like_before(before, after, board, turn_deg)
    if first is None:
        return _without_leads_of_another(sized, after)
    a, b, c, d = to_points(np.roll(np.array(after.outline_px), -first, axis=0))
    turned = replace(sized, outline_px=(a, b, c, d))
    return turned if first == 0 and sized is after else replace(turned, leads=())


def _without_leads_of_another(sized: Package, after: Package) -> Package:
    return sized if sized.variant == after.variant else replace(sized, leads=())
