"""A drawn board with exact truth: lands, gull-wing feet with height, a body on top.

Polygons through a pinhole camera, drawn four times too large and averaged, then blur
and noise.  No light transport: brightness per surface is drawn at random, with a
gradient and a texture, so that the edge model is never exactly right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from scipy.spatial.transform import Rotation

from vision.overhang import Strip

FINE = 4
SHIFT_BITS = 6


@dataclass(frozen=True, kw_only=True)
class Part:
    """A two-row package on its land pattern, all in mm."""

    pitch_mm: float
    per_side: int
    land_width_mm: float
    land_length_mm: float
    land_x_mm: float
    lead_width_mm: float
    foot_length_mm: float
    span_mm: float
    body_x_mm: float
    top_mm: float = 1.75

    @property
    def body_y_mm(self) -> float:
        return self.pitch_mm * self.per_side - 0.1


# Land and package sizes: open footprint files and size definitions (SOIC-8, TSSOP-8);
# 0.8 and 0.5 mm rows use the land and lead widths of LQFP-32 and LQFP-48.
PARTS = (
    Part(
        pitch_mm=1.27,
        per_side=4,
        land_width_mm=0.6,
        land_length_mm=1.95,
        land_x_mm=2.475,
        lead_width_mm=0.41,
        foot_length_mm=0.835,
        span_mm=6.0,
        body_x_mm=3.9,
    ),
    Part(
        pitch_mm=0.8,
        per_side=4,
        land_width_mm=0.5,
        land_length_mm=1.5,
        land_x_mm=2.6,
        lead_width_mm=0.35,
        foot_length_mm=0.6,
        span_mm=5.85,
        body_x_mm=3.9,
        top_mm=1.4,
    ),
    Part(
        pitch_mm=0.65,
        per_side=4,
        land_width_mm=0.4,
        land_length_mm=1.475,
        land_x_mm=2.8625,
        lead_width_mm=0.235,
        foot_length_mm=0.6,
        span_mm=6.4,
        body_x_mm=4.4,
        top_mm=1.2,
    ),
    Part(
        pitch_mm=0.5,
        per_side=4,
        land_width_mm=0.3,
        land_length_mm=1.475,
        land_x_mm=2.6625,
        lead_width_mm=0.22,
        foot_length_mm=0.6,
        span_mm=6.0,
        body_x_mm=4.4,
        top_mm=1.4,
    ),
)


class Camera:
    """Pinhole looking at the board's middle, tilted towards an azimuth."""

    def __init__(self, tilt_deg, azimuth_deg, roll_deg, px_per_mm, focal_px, size):
        t, a = math.radians(tilt_deg), math.radians(azimuth_deg)
        away = focal_px / px_per_mm
        unit = [math.sin(t) * math.cos(a), math.sin(t) * math.sin(a), math.cos(t)]
        self.place = away * np.array(unit)
        lean = Rotation.from_rotvec(np.array([-math.sin(a), math.cos(a), 0.0]) * t)
        spin = Rotation.from_rotvec([0, 0, math.radians(roll_deg)])
        self.turn = (spin * lean).as_matrix()
        self.offset = -self.turn @ (self.place * [1, 1, -1])
        self.focal_px = focal_px
        self.size = size

    def see(self, points, height=0.0):
        points = np.asarray(points, dtype=float)
        xyz = np.column_stack([points, np.full(len(points), -height)])
        seen = xyz @ self.turn.T + self.offset
        return self.focal_px * seen[:, :2] / seen[:, 2:] + (np.array(self.size) - 1) / 2


def strips(part, *, feet, dx=0.0, dy=0.0, skew_deg=0.0):
    """True lands, or true feet moved and turned (counter-clockwise as seen)."""
    c, s = math.cos(math.radians(skew_deg)), math.sin(math.radians(skew_deg))
    n = part.per_side
    length = part.foot_length_mm if feet else part.land_length_mm
    width = part.lead_width_mm if feet else part.land_width_mm
    x = (part.span_mm - length) / 2 if feet else part.land_x_mm
    found = []
    for left in (True, False):
        for i in range(n):
            px, py = (-x if left else x), (i - (n - 1) / 2) * part.pitch_mm
            ox = -1.0 if left else 1.0
            found.append(
                Strip(
                    number=i + 1 if left else 2 * n - i,
                    centre_mm=(c * px + s * py + dx, -s * px + c * py + dy),
                    length_mm=length,
                    width_mm=width,
                    outward=(c * ox, -s * ox),
                )
            )
    return found


def corners(strip, *, heel_mm=0.0):
    """Four corners of a strip, its heel drawn in by ``heel_mm``."""
    out = np.array(strip.outward)
    side = np.array([-out[1], out[0]]) * strip.width_mm / 2
    toe = np.array(strip.centre_mm) + out * strip.length_mm / 2
    heel = np.array(strip.centre_mm) - out * (strip.length_mm / 2 + heel_mm)
    return np.array([heel - side, toe - side, toe + side, heel + side])


class Canvas:
    """A fine grey picture that polygons are drawn on, back to front."""

    def __init__(self, camera, level, rng, texture):
        w, h = camera.size
        self.camera, self.rng, self.texture = camera, rng, texture
        self.fine = np.full((h * FINE, w * FINE), level, np.float32)
        self.fine += self._cloud(0.5 * texture)

    def _cloud(self, size):
        h, w = self.fine.shape
        coarse = self.rng.normal(0, 1, (max(h // 160, 2), max(w // 160, 2)))
        grown = cv2.resize(coarse, (w, h), interpolation=cv2.INTER_CUBIC)
        return (size * grown).astype(np.float32)

    def draw(self, polygon_mm, level, height=0.0, gradient=0.0):
        self.draw_px(self.camera.see(polygon_mm, height), level, gradient)

    def draw_px(self, polygon_px, level, gradient=0.0):
        # Pixel centres at whole numbers, in the fine picture too.
        fine = (np.asarray(polygon_px) + 0.5) * FINE - 0.5
        fixed = np.round(fine * 2**SHIFT_BITS).astype(np.int32)
        low = np.maximum(np.floor(fine.min(axis=0)).astype(int) - 2, 0)
        high = np.ceil(fine.max(axis=0)).astype(int) + 3
        high = np.minimum(high, np.array(self.fine.shape[::-1]))
        if np.any(high <= low):
            return
        mask = np.zeros((high[1] - low[1], high[0] - low[0]), np.uint8)
        offset = (low * 2**SHIFT_BITS).astype(np.int32)
        cv2.fillConvexPoly(
            mask, fixed - offset, 1, lineType=cv2.LINE_8, shift=SHIFT_BITS
        )
        yy, xx = np.mgrid[: mask.shape[0], : mask.shape[1]] / max(mask.shape) - 0.5
        turn = self.rng.uniform(0, 2 * math.pi)
        slope = gradient * level * (xx * math.cos(turn) + yy * math.sin(turn))
        view = self.fine[low[1] : high[1], low[0] : high[0]]
        view[mask > 0] = (level + slope)[mask > 0]

    def photo(self, blur_px, noise):
        w, h = self.camera.size
        small = cv2.resize(self.fine, (w, h), interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), blur_px) if blur_px > 0.1 else small
        noisy = small + self.rng.normal(0, noise, small.shape)
        return np.clip(np.round(noisy), 0, 255).astype(np.uint8)


def draw_board(camera, part, feet, look, rng):
    """The photo: bare lands when ``feet`` is None, else with the chip."""
    canvas = Canvas(camera, look["mask"], rng, look["texture"])
    for land in strips(part, feet=False):
        canvas.draw(corners(land), look["land"], gradient=look["gradient"])
    if feet is None:
        return canvas.photo(look["blur_px"], look["noise"])
    for foot in feet:
        box = corners(foot, heel_mm=0.4)
        low, high = camera.see(box), camera.see(box, look["foot_top_mm"])
        hull = cv2.convexHull(np.vstack([low, high]).astype(np.float32))[:, 0]
        canvas.draw_px(hull, look["wall"])
        canvas.draw_px(high, look["lead"], look["gradient"])
    centre = np.mean([foot.centre_mm for foot in feet], axis=0)
    lean = np.array(feet[0].outward) * -1
    side = np.array([-lean[1], lean[0]])
    half = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    body = np.array(
        [
            centre + a * lean * part.body_x_mm / 2 + b * side * part.body_y_mm / 2
            for a, b in half
        ]
    )
    low, high = camera.see(body, 0.15), camera.see(body, part.top_mm)
    hull = cv2.convexHull(np.vstack([low, high]).astype(np.float32))[:, 0]
    canvas.draw_px(hull, 28.0)
    canvas.draw_px(high, 40.0)
    return canvas.photo(look["blur_px"], look["noise"])
