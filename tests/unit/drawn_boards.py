"""Drawn boards with exact truth, as tests of lands and feet need them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.benchmark.flat_scene import PARTS, Camera, draw_board
from vision.geometry import homography
from vision.planes import View, estimate_view

PART = PARTS[0]
GAP = PART.pitch_mm - PART.variant.land.width_mm
LOOK = {
    "mask": 50.0,
    "land": 205.0,
    "lead": 150.0,
    "solder": 0.0,
    "wall": 90.0,
    "bend": 120.0,
    "blur_px": 1.1,
    "noise": 2.0,
    "gradient": 0.05,
    "texture": 2.0,
    "foot_top_mm": 0.22,
}


@dataclass(frozen=True)
class DrawnBoard:
    """The picture, the map from the board to it, and where the camera stood."""

    gray: np.ndarray
    to_image: np.ndarray
    view: View
    camera: Camera


def drawn_board(
    tilt_deg, *, px_per_mm=45, seed=0, azimuth_deg=70, solder=0.0, part=PART, **move
):
    """Bare lands, or with ``move`` (dx, dy, skew_deg) the chip on them."""
    rng = np.random.default_rng(seed)
    size = (int(9.5 * px_per_mm), int(8 * px_per_mm))
    camera = Camera(tilt_deg, azimuth_deg, 8, px_per_mm, 1.5 * max(size), size)
    gray = draw_board(camera, part, move or None, LOOK | {"solder": solder}, rng)
    corners = np.array([(-4, -3), (4, -3), (4, 3), (-4, 3), (0, 3), (0, -3)], float)
    seen = camera.see(corners)
    view = estimate_view(
        corners, seen, size, point_sd_px=0.05, focal_px=1.5 * max(size)
    )
    return DrawnBoard(gray, homography(corners, seen), view, camera)
