"""Windows on the gaps between neighbouring leads, all at one size, from any photo.

A window shows one gap in its middle, the lead on each side and half of the next gaps:
three spacings wide, from under the body's edge to well beyond the toes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import apply_homography, body_corners_mm, homography
from vision.overlap import lie_inside
from vision.packages import visible_joints
from vision.small import shrunk_part

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.packages import LeadPlace, Variant

    FloatArray = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

PITCH_PX, REACH_PX = 32.0, 40.0
"""Window pixels from lead to lead, and from the body's edge to the toes."""
ROWS, COLS = 80, 96
TOE_ROW = 54.0
MIDDLE_COL = (COLS - 1) / 2
LEFT_COL, RIGHT_COL = MIDDLE_COL - PITCH_PX / 2, MIDDLE_COL + PITCH_PX / 2
"""Columns of the two leads; row ``TOE_ROW - REACH_PX`` is the body's edge."""
JUDGED = ((LEFT_COL - 8, TOE_ROW - REACH_PX), (RIGHT_COL + 8, TOE_ROW + 6))
"""First and last column and row of what has to be seen of a window: both leads from the
body's edge to past the toes."""
AS_SEEN = (1.0, ROWS, COLS)
"""Scale, rows and columns of a window as the networks see it."""
WIDEST_PITCHES = 2.5
"""Leads farther apart than this are no neighbours."""
DENSEST = 1.6
"""Photo pixels a window pixel above which the photo is shrunk before it is warped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapWindow:
    """One window: ``second`` is None where a lead stands alone on its side.

    ``to_photo`` maps window pixels (column, row, 1) to photo pixels; ``spacing_px``
    is the distance of the two leads in the photo.
    """

    first: int
    second: int | None
    to_photo: FloatArray = field(compare=False, repr=False)
    spacing_px: float


def gap_windows(corners_px: npt.ArrayLike, variant: Variant) -> tuple[GapWindow, ...]:
    """Place a window on every gap between neighbouring leads.

    Parameters
    ----------
    corners_px : array_like of shape (4, 2)
        Body corners in photo pixels, pin 1 first, counter-clockwise.
    variant : Variant
        The package's size; its drawing is laid on the outline.

    Returns
    -------
    tuple of GapWindow
        In order of the leads' numbers.
    """
    size = variant.body_x_mm[1], variant.body_y_mm[1]
    to_photo = homography(body_corners_mm(*size), np.asarray(corners_px, float))
    places = visible_joints(variant)
    windows = []
    for k, place in enumerate(places):
        following = places[k + 1] if k + 1 < len(places) else None
        if following is not None and _are_neighbours(place, following, variant):
            windows.append(_window(place, following, variant, to_photo))
        elif not any(
            _are_neighbours(place, places[j], variant)
            for j in (k - 1, k + 1)
            if 0 <= j < len(places)
        ):
            windows.append(_window(place, None, variant, to_photo))
    return tuple(windows)


def cut_windows(
    pixels: ByteImage,
    windows: Sequence[GapWindow],
    *,
    photo_to_pixels: npt.ArrayLike | None = None,
    grow: tuple[float, int, int] = AS_SEEN,
) -> ByteImage:
    """Cut the windows out of a picture.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The photo, or another one laid over it.
    windows : sequence of GapWindow
        From ``gap_windows``.
    photo_to_pixels : array_like of shape (3, 3), optional
        From the photo in which the windows were placed to ``pixels``.
    grow : tuple of (float, int, int)
        Scale, rows and columns of the pictures: larger ones leave room for
        training to look beside the window.

    Returns
    -------
    ndarray of shape (n, rows, cols, 3), uint8
        Black where the picture ends.
    """
    _, rows, cols = grow
    out = np.zeros((len(windows), rows, cols, 3), np.uint8)
    if not windows:
        return out
    maps, quads = _laid(windows, photo_to_pixels, grow)
    density = float(np.median(np.linalg.norm(quads[:, 1] - quads[:, 0], axis=1)))
    density /= cols - 1
    if density <= DENSEST:
        density = 1.0
    part, to_part = shrunk_part(pixels, quads.reshape(-1, 2), density)
    for k, matrix in enumerate(maps):
        cv2.warpPerspective(
            part,
            to_part @ matrix,
            (cols, rows),
            dst=out[k],
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_CONSTANT,
        )
    return out


def are_inside(
    shape: tuple[int, ...],
    windows: Sequence[GapWindow],
    *,
    photo_to_pixels: npt.ArrayLike | None = None,
) -> npt.NDArray[np.bool_]:
    """Tell which windows a picture shows whole.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns of the picture, and more.
    windows : sequence of GapWindow
        From ``gap_windows``.
    photo_to_pixels : array_like of shape (3, 3), optional
        From the photo in which the windows were placed to the picture.

    Returns
    -------
    ndarray of shape (n,), bool
    """
    _, quads = _laid(windows, photo_to_pixels, AS_SEEN)
    height, width = shape[:2]
    return np.array([lie_inside(quad, width, height) for quad in quads], bool)


def show_leads(
    shape: tuple[int, ...], windows: Sequence[GapWindow]
) -> npt.NDArray[np.bool_]:
    """Tell in which windows a photo shows both leads whole, to past their toes.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns of the photo, and more.
    windows : sequence of GapWindow
        Placed in it.

    Returns
    -------
    ndarray of shape (n,), bool
    """
    (left, top), (right, bottom) = JUDGED
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    height, width = shape[:2]
    quads = [apply_homography(w.to_photo, corners) for w in windows]
    return np.array([lie_inside(quad, width, height) for quad in quads], bool)


def _laid(
    windows: Sequence[GapWindow],
    photo_to_pixels: npt.ArrayLike | None,
    grow: tuple[float, int, int],
) -> tuple[list[FloatArray], FloatArray]:
    """Lay windows on a picture: the map of each, and its corners, (n, 4, 2) px."""
    scale, rows, cols = grow
    centre = np.array(
        [
            [1 / scale, 0, MIDDLE_COL - (cols - 1) / 2 / scale],
            [0, 1 / scale, (ROWS - 1) / 2 - (rows - 1) / 2 / scale],
            [0, 0, 1],
        ]
    )
    laid = np.eye(3) if photo_to_pixels is None else np.asarray(photo_to_pixels, float)
    maps = [laid @ w.to_photo @ centre for w in windows]
    corners = np.array([[0, 0], [cols - 1, 0], [cols - 1, rows - 1], [0, rows - 1]])
    return maps, np.array([apply_homography(m, corners) for m in maps])


def _are_neighbours(a: LeadPlace, b: LeadPlace, variant: Variant) -> bool:
    apart = float(np.hypot(*np.subtract(a.toe_mm, b.toe_mm)))
    return a.side == b.side and apart <= WIDEST_PITCHES * variant.pitch_mm


def _window(
    first: LeadPlace,
    second: LeadPlace | None,
    variant: Variant,
    to_photo: FloatArray,
) -> GapWindow:
    toe, root = np.array(first.toe_mm), np.array(first.root_mm)
    reach = float(np.linalg.norm(toe - root))
    outward = (toe - root) / max(reach, 1e-6)
    along = np.array([-outward[1], outward[0]])
    if second is not None:
        step = np.subtract(second.toe_mm, first.toe_mm)
        along = step / np.linalg.norm(step)
        spacing = float(np.linalg.norm(step))
    else:
        along, spacing = -along, variant.pitch_mm
    middle = toe + along * spacing / 2
    x, y = along * spacing / PITCH_PX, outward * reach / REACH_PX
    origin = middle - MIDDLE_COL * x - TOE_ROW * y
    to_mm = np.array([[x[0], y[0], origin[0]], [x[1], y[1], origin[1]], [0, 0, 1]])
    ends = apply_homography(to_photo, np.array([toe, toe + along * spacing]))
    return GapWindow(
        first=first.number,
        second=None if second is None else second.number,
        to_photo=to_photo @ to_mm,
        spacing_px=float(np.linalg.norm(ends[1] - ends[0])),
    )
