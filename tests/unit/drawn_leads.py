"""Plain pictures of packages: a dark body and its leads, nothing else."""

from __future__ import annotations

import cv2
import numpy as np

from vision.geometry import apply_homography, body_corners_mm, homography
from vision.tables import lead_positions

SIZE_PX, SCALE_FRAC = 900, 0.5


def drawn(variant, *, off_frac=0.0, noise=6.0):
    """A plain picture of a package and the outline, a little off."""
    body = body_corners_mm(variant.body_x_mm[1], variant.body_y_mm[1])
    scale = SCALE_FRAC * SIZE_PX / max(variant.body_x_mm[1], variant.body_y_mm[1])
    corners = body * scale + SIZE_PX / 2
    to_picture = homography(body, corners)
    picture = np.full((SIZE_PX, SIZE_PX), 70, np.uint8)
    cv2.fillConvexPoly(picture, np.round(corners).astype(np.int32), 30)
    for place in lead_positions(variant):
        ends = apply_homography(to_picture, np.array([place.toe_mm, place.heel_mm]))
        ends = [tuple(round(v * 16) for v in e) for e in ends]
        width = max(1, round(place.width_mm * scale))
        cv2.line(picture, *ends, 190, width, cv2.LINE_AA if width > 1 else 8, 4)
    rng = np.random.default_rng(3)
    noisy = picture[..., None] + rng.normal(0, noise, (SIZE_PX, SIZE_PX, 3))
    pixels = noisy.clip(0, 255).astype(np.uint8)
    return pixels, corners * (1 + off_frac) - (off_frac * SIZE_PX / 2)
