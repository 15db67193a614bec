"""How much of two bodies is the same place, and which body holds a place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import longest_side, signed_area_px2

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

MAX_OUTSIDE_FRAC = 0.03
"""A corner this far off the photo, body lengths, is more than an outline's error."""


def quad_iou_frac(first: npt.ArrayLike, second: npt.ArrayLike) -> float:
    """Share of two convex quads that both cover: intersection over union.

    Parameters
    ----------
    first, second : array_like of shape (4, 2)
        Convex corners in order, either sense, pixels.

    Returns
    -------
    float
        0 (apart) to 1 (the same).

    References
    ----------
    I. Sutherland and G. Hodgman, "Reentrant polygon clipping", Comm. ACM 17 (1974),
    doi:10.1145/360767.360802.
    """
    clipped = np.array(first, dtype=np.float64)
    frame = np.array(second, dtype=np.float64)
    if (clipped.min(axis=0) >= frame.max(axis=0)).any() or (
        frame.min(axis=0) >= clipped.max(axis=0)
    ).any():
        return 0.0
    if signed_area_px2(frame) < 0:
        frame = frame[::-1]
    area = abs(signed_area_px2(clipped)) + abs(signed_area_px2(frame))
    for start, end in zip(frame, np.roll(frame, -1, axis=0), strict=True):
        clipped = _keep_left(clipped, start, end)
        if len(clipped) < 3:
            return 0.0
    shared = abs(signed_area_px2(clipped))
    return float(shared / (area - shared)) if area > shared else 0.0


def quad_holds(
    corners_px: npt.ArrayLike, at_px: tuple[float, float], reach: float = 1.0
) -> bool:
    """Tell whether a place lies on a body.

    Parameters
    ----------
    corners_px : array_like of shape (4, 2)
        Convex corners in order, either sense, pixels.
    at_px : (float, float)
        The place, pixels.
    reach : float
        How many times its size the body is grown about its middle first.

    Returns
    -------
    bool
    """
    corners = np.asarray(corners_px, dtype=np.float64)
    middle = corners.mean(axis=0)
    return bool(quads_hold(middle + (corners - middle) * reach, at_px))


def quads_hold(
    quads_px: npt.ArrayLike, at_px: tuple[float, float]
) -> npt.NDArray[np.bool_]:
    """Tell of many bodies whether a place lies on them.

    Parameters
    ----------
    quads_px : array_like of shape (..., 4, 2)
        Convex corners in order, either sense, pixels.
    at_px : (float, float)
        The place, pixels.

    Returns
    -------
    ndarray of shape (...), bool
    """
    corners = np.asarray(quads_px, dtype=np.float64)
    side, to = np.roll(corners, -1, axis=-2) - corners, np.asarray(at_px) - corners
    cross = side[..., 0] * to[..., 1] - side[..., 1] * to[..., 0]
    return np.asarray((cross >= 0).all(axis=-1) | (cross <= 0).all(axis=-1))


def is_cut_off(corners_px: npt.ArrayLike, width_px: int, height_px: int) -> bool:
    """Tell whether a body reaches over the edge of its photo.

    Parameters
    ----------
    corners_px : array_like of shape (4, 2)
        Corners in order, pixels.
    width_px, height_px : int
        The photo.

    Returns
    -------
    bool
    """
    corners = np.asarray(corners_px, dtype=np.float64)
    slack = MAX_OUTSIDE_FRAC * longest_side(corners)
    return not lie_inside(corners, width_px, height_px, slack_px=slack)


def lie_inside(
    points_px: npt.ArrayLike, width_px: int, height_px: int, *, slack_px: float = 0.0
) -> bool:
    """Tell whether a picture shows every one of some points.

    Parameters
    ----------
    points_px : array_like of shape (n, 2)
        Places in the picture, pixels.
    width_px, height_px : int
        The picture.
    slack_px : float
        How far outside a point may lie.

    Returns
    -------
    bool
    """
    points = np.asarray(points_px, dtype=np.float64)
    last = np.array([width_px - 1, height_px - 1]) + slack_px
    return bool(((points >= -slack_px) & (points <= last)).all())


def middle_of(width_px: int, height_px: int) -> tuple[float, float]:
    """Give the middle of a photo, pixel centres at whole numbers.

    Parameters
    ----------
    width_px, height_px : int

    Returns
    -------
    (float, float)
    """
    return (width_px - 1) / 2, (height_px - 1) / 2


def _keep_left(polygon: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Cut off what lies to the right of a directed line, as seen with y down."""
    along = end - start
    side = along[1] * (polygon[:, 0] - start[0]) - along[0] * (polygon[:, 1] - start[1])
    kept: list[FloatArray] = []
    for i, (point, here) in enumerate(zip(polygon, side, strict=True)):
        if here >= 0:
            kept.append(point)
        following, there = polygon[(i + 1) % len(polygon)], side[(i + 1) % len(polygon)]
        if here * there < 0:
            kept.append(point + (following - point) * (here / (here - there)))
    return np.array(kept).reshape(-1, 2)
