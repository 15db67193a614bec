"""How much of two bodies is the same place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import signed_area_px2

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]


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
