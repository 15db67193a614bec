"""A drawn board with exact truth: lands, gull-wing leads with height, a body on top.

Polygons through a pinhole camera, drawn four times too large and averaged, then blur
and noise.  No light transport: brightness per surface is drawn at random, with a
gradient and a texture, so that no edge model is ever exactly right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.spatial.transform import Rotation

from vision.lands import corners_mm, strips_of
from vision.overhang import Strip
from vision.packages import Variant
from vision.tables import land_positions, lead_positions, variant_named

FINE = 4
SHIFT_BITS = 6
PARTING_FRAC = 0.5
"""Height at which leads leave the body and the body is widest, of its height."""
STANDOFF_MM = 0.15
LEAD_PLACE_SD_MM, LAND_PLACE_SD_MM, TIN_SD_MM = 0.02, 0.01, 0.01
"""What the drawings and boards allow: as counted by ``on_lands``."""
SOLDER_MM, SOLDER_PAST_MM = 0.06, 0.2
"""Most solder that shows on each side of a foot, and past its toe."""
RIM_MM = 1.2
"""Board shown past the lands."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """One chip as it was made, and its lands as they were etched and tinned; mm.

    ``leads_off_mm`` and ``lands_off_mm`` (leads, 2): how far each lies off its drawn
    place, across and outward; ``tin_mm`` (leads, 3): how far the tin that is seen lies
    off the land across and outward, and how much wider it is.
    """

    variant: Variant
    lead_width_mm: float
    foot_length_mm: float
    span_more_mm: float = 0.0
    leads_off_mm: np.ndarray
    lands_off_mm: np.ndarray
    tin_mm: np.ndarray

    @property
    def pitch_mm(self) -> float:
        return self.variant.pitch_mm

    @property
    def reach_mm(self) -> float:
        """From the middle to the edge of what a photo shows."""
        places = [corners_mm(land) for land in strips_of(land_positions(self.variant))]
        return float(np.abs(np.vstack(places)).max()) + RIM_MM


def nominal(family, name):
    """The part as its drawing has it."""
    variant = variant_named(family, name)
    return Part(
        variant=variant,
        lead_width_mm=variant.lead_width_mm[1],
        foot_length_mm=variant.foot_length_mm[1],
        leads_off_mm=np.zeros((variant.lead_count, 2)),
        lands_off_mm=np.zeros((variant.lead_count, 2)),
        tin_mm=np.zeros((variant.lead_count, 3)),
    )


PARTS = (
    nominal("SOIC", "SOIC-8 3.9x4.9 P1.27"),
    nominal("SOT", "SOT-23-6 1.6x2.9 P0.95"),
    nominal("QFP", "LQFP-32 7x7 P0.8"),
    nominal("TSSOP", "TSSOP-8 4.4x3 P0.65"),
    nominal("MSOP", "MSOP-10 3x3 P0.5"),
)


def made(part, rng):
    """One chip and its lands; a drawing's tolerance is three standard deviations."""
    variant, count = part.variant, part.variant.lead_count
    width, span = variant.lead_width_mm, variant.span_x_mm
    off = np.clip(rng.normal(0, 1, 2), -3, 3) / 6
    return replace(
        part,
        lead_width_mm=width[1] + off[0] * (width[2] - width[0]),
        foot_length_mm=variant.foot_length_mm[1] * rng.uniform(0.7, 1.0),
        span_more_mm=off[1] * (span[2] - span[0]),
        leads_off_mm=rng.normal(0, LEAD_PLACE_SD_MM, (count, 2)),
        lands_off_mm=rng.normal(0, LAND_PLACE_SD_MM, (count, 2)),
        tin_mm=rng.normal(0, TIN_SD_MM, (count, 3)),
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
        """Pixels of points (n, 2) at one height, or each at its own."""
        points = np.asarray(points, dtype=float)
        xyz = np.column_stack(
            [points, np.broadcast_to(-np.asarray(height), len(points))]
        )
        seen = xyz @ self.turn.T + self.offset
        return self.focal_px * seen[:, :2] / seen[:, 2:] + (np.array(self.size) - 1) / 2


def moved(points, dx=0.0, dy=0.0, skew_deg=0.0):
    """Points of the chip on the board, turned counter-clockwise as seen."""
    c, s = math.cos(math.radians(skew_deg)), math.sin(math.radians(skew_deg))
    return np.asarray(points) @ np.array([[c, -s], [s, c]]) + [dx, dy]


def strips(part, *, feet, dx=0.0, dy=0.0, skew_deg=0.0):
    """True lands, or true feet moved and turned (counter-clockwise as seen)."""
    if not feet:
        return [
            shifted(land, *off)
            for land, off in zip(
                strips_of(land_positions(part.variant)), part.lands_off_mm, strict=True
            )
        ]
    found = []
    for place in lead_positions(part.variant):
        run = np.array(place.toe_mm) - np.array(place.root_mm)
        out = np.round(run / np.abs(run).max())
        side = np.array([-out[1], out[0]])
        across, more = part.leads_off_mm[place.number - 1]
        toe = np.array(place.toe_mm) + out * (part.span_more_mm / 2 + more)
        centre = toe + across * side - out * part.foot_length_mm / 2
        centre, away = moved([centre, out], dx, dy, skew_deg) - [[0, 0], [dx, dy]]
        found.append(
            Strip(
                number=place.number,
                centre_mm=(float(centre[0]), float(centre[1])),
                length_mm=part.foot_length_mm,
                width_mm=part.lead_width_mm,
                outward=(float(away[0]), float(away[1])),
            )
        )
    return found


def tinned(part):
    """The lands as they are seen: tin or mask do not end where the copper does."""
    return [
        shifted(land, *off)
        for land, off in zip(strips(part, feet=False), part.tin_mm, strict=True)
    ]


def shifted(strip, across, outward, wider=0.0):
    """A strip moved across and outward, and wider by so much."""
    out = np.array(strip.outward)
    side = np.array([-out[1], out[0]])
    x, y = np.array(strip.centre_mm) + across * side + outward * out
    return replace(
        strip, centre_mm=(float(x), float(y)), width_mm=strip.width_mm + wider
    )


def along(strip, start_mm, end_mm):
    """Corners of a piece of a strip's course, from and to so far within the toe."""
    out = np.array(strip.outward)
    side = np.array([-out[1], out[0]]) * strip.width_mm / 2
    toe = np.array(strip.centre_mm) + out * strip.length_mm / 2
    inner, outer = toe - out * start_mm, toe - out * end_mm
    return np.array([inner - side, outer - side, outer + side, inner + side])


class Canvas:
    """A fine grey picture that polygons are drawn on, back to front."""

    def __init__(self, camera, level, rng, texture):
        w, h = camera.size
        self.camera, self.rng, self.texture = camera, rng, texture
        (self.solder_rng,) = rng.spawn(1)
        self.solder = float(self.solder_rng.uniform(90, 240))
        self.fine = np.full((h * FINE, w * FINE), level, np.float32)
        self.fine += self._cloud(0.5 * texture)

    def _cloud(self, size):
        h, w = self.fine.shape
        coarse = self.rng.normal(0, size, (max(h // 160, 2), max(w // 160, 2)))
        coarse = coarse.astype(np.float32)
        return cv2.resize(coarse, (w, h), interpolation=cv2.INTER_CUBIC)

    def draw(self, polygon_mm, level, height=0.0, gradient=0.0):
        self.draw_px(self.camera.see(polygon_mm, height), level, gradient)

    def draw_hull(self, low_px, high_px, level):
        hull = cv2.convexHull(np.vstack([low_px, high_px]).astype(np.float32))
        self.draw_px(hull[:, 0], level)

    def draw_px(self, polygon_px, level, gradient=0.0):
        # Pixel centres at whole numbers, in the fine picture too.
        fine = (np.asarray(polygon_px) + 0.5) * FINE - 0.5
        fixed = np.round(fine * 2**SHIFT_BITS).astype(np.int32)
        low = np.maximum(np.floor(fine.min(axis=0)).astype(int) - 2, 0)
        high = np.ceil(fine.max(axis=0)).astype(int) + 3
        high = np.minimum(high, np.array(self.fine.shape[::-1]))
        if np.any(high <= low):
            return
        view = self.fine[low[1] : high[1], low[0] : high[0]]
        mask = np.zeros(view.shape, np.uint8)
        offset = (low * 2**SHIFT_BITS).astype(np.int32)
        cv2.fillConvexPoly(
            mask, fixed - offset, 1, lineType=cv2.LINE_8, shift=SHIFT_BITS
        )
        yy, xx = (
            np.arange(n, dtype=np.float32) / max(mask.shape) - 0.5 for n in mask.shape
        )
        turn = self.rng.uniform(0, 2 * math.pi)
        slope = gradient * level
        shade = level + slope * (
            xx[None, :] * math.cos(turn) + yy[:, None] * math.sin(turn)
        )
        np.copyto(view, shade, where=mask > 0)

    def photo(self, blur_px, noise):
        w, h = self.camera.size
        small = cv2.resize(self.fine, (w, h), interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), blur_px) if blur_px > 0.1 else small
        noisy = small + self.rng.normal(0, noise, small.shape)
        return np.clip(np.round(noisy), 0, 255).astype(np.uint8)


def draw_board(camera, part, pose, look, rng):
    """The photo: bare lands when ``pose`` is None, else with the chip at that pose."""
    canvas = Canvas(camera, look["mask"], rng, look["texture"])
    for land in tinned(part):
        canvas.draw(corners_mm(land), look["land"], gradient=look["gradient"])
    if pose is None:
        return canvas.photo(look["blur_px"], look["noise"])
    feet = strips(part, feet=True, **pose)
    is_near = [float(np.array(foot.outward) @ camera.place[:2]) > 0 for foot in feet]
    for foot, near in zip(feet, is_near, strict=True):
        _draw_solder(canvas, foot, look)
        _draw_foot(canvas, foot, look)
        if not near:
            _draw_shoulder(canvas, part, foot, look)
    _draw_body(canvas, part, pose)
    for foot, near in zip(feet, is_near, strict=True):
        if near:
            _draw_shoulder(canvas, part, foot, look)
    return canvas.photo(look["blur_px"], look["noise"])


def _draw_solder(canvas, foot, look):
    """Solder beside the foot, on each side its own width, and past its toe."""
    rng = canvas.solder_rng
    most = np.array([SOLDER_MM, SOLDER_MM, SOLDER_PAST_MM]) * look["solder"]
    left, right, past = rng.uniform(0, 1, 3) * most
    level = canvas.solder * rng.uniform(0.85, 1.15)
    wide = shifted(foot, (right - left) / 2, 0.0, left + right)
    canvas.draw(along(wide, foot.length_mm, -past), level, gradient=look["gradient"])


def _draw_foot(canvas, foot, look):
    box = along(foot, foot.length_mm, 0.0)
    high = canvas.camera.see(box, look["foot_top_mm"])
    canvas.draw_hull(canvas.camera.see(box), high, look["wall"])
    canvas.draw_px(high, look["lead"], look["gradient"])


def _draw_shoulder(canvas, part, foot, look):
    """The bend up from the heel, and the level part that enters the body."""
    span, body = part.variant.span_x_mm[1], part.variant.body_x_mm[1]
    reach = (span + part.span_more_mm - body) / 2
    heel, level = foot.length_mm, PARTING_FRAC * part.variant.height_mm[1]
    bend = (max(reach, heel) + heel) / 2
    top = look["foot_top_mm"]
    canvas.draw(along(foot, bend, heel), look["bend"], [level, top, top, level])
    canvas.draw(along(foot, reach + 0.05, bend), look["lead"] * 1.05, level)


def _draw_body(canvas, part, pose):
    """Widest at the parting line, both faces drawn in."""
    variant = part.variant
    w, h = variant.body_x_mm[1] / 2, variant.body_y_mm[1] / 2
    box = np.array([[-w, -h], [w, -h], [w, h], [-w, h]])
    see, level = canvas.camera.see, PARTING_FRAC * variant.height_mm[1]
    low, middle, high = (
        see(moved(box * shrink, **pose), height)
        for shrink, height in (
            (0.95, STANDOFF_MM),
            (1.0, level),
            (0.95, variant.height_mm[1]),
        )
    )
    canvas.draw_hull(low, middle, 24.0)
    canvas.draw_hull(middle, high, 30.0)
    canvas.draw_px(high, 40.0)
