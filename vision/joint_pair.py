"""Reads the joints after reflow beside the same joints before: what is new matters."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import apply_homography, to_points
from vision.joints import JointsSeen, read_joints

if TYPE_CHECKING:
    import numpy.typing as npt

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
        Numbered from the pin 1 of the chip after, in pixels of the after photo.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    board = np.asarray(registration.before_to_after, float)
    numbered = number_like_before(before, after, board, turn_deg)
    return read_joints(
        after_photo.pixels,
        numbered,
        before=(before_photo.pixels, np.linalg.inv(board)),
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
        where its own pin 1 is known and that before is not.
    """
    sized = after
    is_surer = before.variant and before.family_confidence > after.family_confidence
    if is_surer or not after.variant:
        sized = replace(
            after, variant=before.variant, family=before.family, leads=after.leads
        )
    if before.pin1.state != "ok" or turn_deg is None:
        return _without_leads_of_another(sized, after)
    corners = np.array(after.outline_px)
    laid = apply_homography(board, np.array(before.outline_px))
    start = laid[(turn_deg // 90) % 4] - laid.mean(axis=0)
    reach = corners - corners.mean(axis=0)
    first = int(np.argmin(np.linalg.norm(reach - start, axis=1)))
    a, b, c, d = to_points(np.roll(corners, -first, axis=0))
    turned = replace(sized, outline_px=(a, b, c, d))
    return turned if first == 0 and sized is after else replace(turned, leads=())


def _without_leads_of_another(sized: Package, after: Package) -> Package:
    return sized if sized.variant == after.variant else replace(sized, leads=())
