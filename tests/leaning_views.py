"""A chip with heights, drawn from any side: what stands up is seen off its place."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from vision.leads import place_leads
from vision.results import Package, Photo, Pin1, Registration
from vision.tables import variants_of

PX_PER_MM = 48.0
SIDE_PX = 520
DRAWN_LARGER = 4
SOIC8 = variants_of("SOIC", 8)[0]
BODY_MM = np.array([3.9, 4.9])
FOOT_MM, SHOULDER_MM, TOP_MM = 0.18, 0.80, 1.55
ROWS_MM = (-1.905, -0.635, 0.635, 1.905)


@dataclass(frozen=True)
class Pose:
    """Where the chip sits, and how the view leans (mm seen a mm of height)."""

    dx_mm: float = 0.0
    dy_mm: float = 0.0
    skew_deg: float = 0.0
    lean: tuple[float, float] = (0.0, 0.0)
    light: float = 1.0
    bent: dict[int, float] = field(default_factory=dict)
    with_leads: bool = True
    with_body: bool = True

    def seen(self, points: np.ndarray, height_mm: float) -> np.ndarray:
        """Pixels of points of the chip at a height."""
        angle = np.radians(self.skew_deg)
        c, s = np.cos(angle), np.sin(angle)
        turned = np.asarray(points, float) @ np.array([[c, -s], [s, c]])
        moved = turned + np.array([self.dx_mm, self.dy_mm])
        return (moved + np.array(self.lean) * height_mm) * PX_PER_MM + SIDE_PX / 2


def draw(pose: Pose, seed: int = 1) -> np.ndarray:
    """Draw lands, solder, leads and body as the view shows them."""
    k = DRAWN_LARGER
    big = np.full((SIDE_PX * k, SIDE_PX * k, 3), (70, 110, 40), np.uint8)

    def fill(corners: np.ndarray, grey: float) -> None:
        at = (np.asarray(corners) + 0.5) * k - 0.5
        colour = (float(np.clip(grey, 0, 255)),) * 3
        cv2.fillConvexPoly(big, np.round(at).astype(np.int32), colour)

    flat = Pose()
    for x in (-1, 1):
        for y in ROWS_MM:
            box = _box(x * 2.475, y, 1.95, 0.6)
            fill(flat.seen(box, 0.0), 120 * pose.light)
            if pose.with_body:
                fill(flat.seen(_box(x * 3.1, y, 0.4, 0.45), 0.0), 230 * pose.light)
    number = 0
    for x, rows in ((-1, ROWS_MM), (1, ROWS_MM[::-1])):
        for y in rows:
            number += 1
            if not pose.with_leads:
                continue
            y_at = y + pose.bent.get(number, 0.0)
            foot = pose.seen(_box(x * 2.68, y_at, 0.64, 0.41), FOOT_MM)
            shoulder = pose.seen(_box(x * 2.1, y, 0.36, 0.41), SHOULDER_MM)
            inner = foot[[0, 1]] if x > 0 else foot[[2, 3]]
            outer = shoulder[[2, 3]] if x > 0 else shoulder[[0, 1]]
            fill(np.vstack([inner, outer]), 150 * pose.light)
            fill(shoulder, 205 * pose.light)
            fill(foot, 190 * pose.light)
    if not pose.with_body:
        return _photographed(big, seed)
    fill(pose.seen(_box(0, 0, *BODY_MM), SHOULDER_MM), 45)
    fill(pose.seen(_box(0, 0, *(BODY_MM - 0.3)), TOP_MM), 52)
    for x, y in ((-0.9, -1.2), (0.4, -0.3), (-0.3, 0.9), (0.9, 1.4)):
        fill(pose.seen(_box(x, y, 0.5, 0.16), TOP_MM), 160)
    return _photographed(big, seed)


def _photographed(big: np.ndarray, seed: int) -> np.ndarray:
    """Shrink to the photo's size; blur and noise."""
    small = cv2.resize(big, (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(small, (0, 0), 0.8).astype(np.float64)
    noisy = soft + np.random.default_rng(seed).normal(0, 2.0, soft.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8)


def photograph(pose: Pose, seed: int = 1) -> tuple[Photo, Package]:
    """Give the photo and what would have been found in it."""
    pixels = draw(pose, seed)
    photo = Photo(
        path=Path("drawn.png"),
        sha256="",
        width_px=SIDE_PX,
        height_px=SIDE_PX,
        pixels=pixels,
    )
    w, h = BODY_MM / 2
    outline = pose.seen(np.array([[-w, -h], [-w, h], [w, h], [w, -h]]), SHOULDER_MM)
    leads, scale = place_leads(outline, SOIC8)
    a, b, c, d = ((float(x), float(y)) for x, y in outline)
    return photo, Package(
        outline_px=(a, b, c, d),
        confidence=0.95,
        family="SOIC",
        family_confidence=0.97,
        lead_count=8,
        pin1=Pin1(state="ok", confidence=0.999),
        px_per_mm=scale,
        variant=SOIC8.name,
        leads=leads,
    )


def flat_map() -> np.ndarray:
    """Map from the board's frame (mm, the lands' middle) to the photo."""
    half = SIDE_PX / 2
    return np.array([[PX_PER_MM, 0, half], [0, PX_PER_MM, half], [0, 0, 1.0]])


def same_board() -> Registration:
    """Both photos show the board at the same place."""
    return Registration(
        before_to_after=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
        inliers=300,
        residual_px=0.3,
    )


def _box(x: float, y: float, width: float, height: float) -> np.ndarray:
    w, h = width / 2, height / 2
    return np.array([[x - w, y - h], [x - w, y + h], [x + w, y + h], [x + w, y - h]])
