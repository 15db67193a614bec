"""A board with a chip on it, drawn with known truth; before and after photos of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from vision.geometry import apply_homography
from vision.results import Lead, Package, Photo, Pin1

PX_PER_MM = 36.0
SIDE_PX = 900
MIDDLE = np.array([450.0, 450.0])
BODY_MM = (3.9, 4.9)
"""A narrow SOIC-8, rows left and right, pin 1 at the upper left."""
DRAWN_LARGER = 4
"""Drawn at this multiple and shrunk, so that edges lie at fractions of a pixel."""


@dataclass(frozen=True)
class Chip:
    """What sits on the board: shift right and down, skew and turn counter-clockwise."""

    dx_mm: float = 0.0
    dy_mm: float = 0.0
    skew_deg: float = 0.0
    turn_deg: int = 0
    marking: tuple[str, ...] = ("TG24C", "0817", "KX3")
    scale: float = 1.0

    @property
    def to_photo(self) -> np.ndarray:
        angle = np.radians(self.skew_deg + self.turn_deg)
        c, s = np.cos(angle) * PX_PER_MM, np.sin(angle) * PX_PER_MM
        x, y = MIDDLE + PX_PER_MM * np.array([self.dx_mm, self.dy_mm])
        return np.array([[c, s, x], [-s, c, y], [0, 0, 1.0]])

    @property
    def outline(self) -> np.ndarray:
        w, h = np.array(BODY_MM) / 2 * self.scale
        return apply_homography(self.to_photo, [[-w, -h], [-w, h], [w, h], [w, -h]])


def board(seed: int) -> np.ndarray:
    """A board's surroundings: traces, parts and print; nothing under the chip."""
    rng = np.random.default_rng(seed)
    picture = np.full((SIDE_PX, SIDE_PX, 3), (70, 110, 40), np.uint8)
    for _ in range(60):
        start = rng.integers(0, SIDE_PX, 2)
        end = start + rng.integers(-250, 250, 2)
        cv2.line(picture, start.tolist(), end.tolist(), (80, 130, 55), 5, cv2.LINE_AA)
    for _ in range(60):
        x, y = rng.integers(20, SIDE_PX - 60, 2)
        w, h = rng.integers(10, 45, 2)
        colour = rng.integers(0, 255, 3).tolist()
        cv2.rectangle(picture, (x, y), (x + w, y + h), colour, -1)
        cv2.rectangle(picture, (x - 3, y - 3), (x + w + 3, y + h + 3), (230,) * 3, 1)
    for _ in range(30):
        x, y = rng.integers(20, SIDE_PX - 60, 2)
        word = "".join(rng.choice(list("RCLUQ123456789"), 3))
        cv2.putText(picture, word, (x, y), 0, 0.6, (235,) * 3, 2, cv2.LINE_AA)
    middle, reach = MIDDLE.astype(int), int(4.2 * PX_PER_MM)
    cv2.rectangle(picture, middle - reach, middle + reach, (70, 110, 40), -1)
    return cv2.GaussianBlur(picture, (0, 0), 1.0)


def place(picture: np.ndarray, chip: Chip) -> np.ndarray:
    """Put a chip on a board; the leads turn and move with it."""
    k = DRAWN_LARGER
    side = SIDE_PX // 2 * k
    low = MIDDLE - SIDE_PX // 4
    to_canvas = np.array(
        [
            [k, 0, -k * low[0] + (k - 1) / 2],
            [0, k, -k * low[1] + (k - 1) / 2],
            [0, 0, 1.0],
        ]
    )
    piece = picture[int(low[1]) :, int(low[0]) :][: SIDE_PX // 2, : SIDE_PX // 2]
    canvas = cv2.resize(piece, (side, side), interpolation=cv2.INTER_CUBIC)

    def fill(corners: np.ndarray, colour: tuple[int, int, int]) -> None:
        at = apply_homography(
            to_canvas @ chip.to_photo, np.asarray(corners) * chip.scale
        )
        cv2.fillConvexPoly(canvas, np.round(at).astype(np.int32), colour)

    w, h = np.array(BODY_MM) / 2
    for row in range(4):
        y = (row - 1.5) * 1.27
        for x in (-1, 1):
            tip, root = x * (w + 1.05), x * (w - 0.1)
            fill(
                [[tip, y - 0.2], [root, y - 0.2], [root, y + 0.2], [tip, y + 0.2]],
                (190, 195, 200),
            )
    fill([[-w, -h], [w, -h], [w, h], [-w, h]], (45, 45, 48))
    top = np.full((int(4.9 * 100), int(3.9 * 100), 3), (45, 45, 48), np.uint8)
    for line, word in enumerate(chip.marking):
        cv2.putText(top, word, (60, 190 + 90 * line), 0, 2.2, (150,) * 3, 9)
    if chip.marking:
        cv2.circle(top, (60, 60), 28, (25,) * 3, -1)
    scale = chip.scale / 100
    lay = (
        to_canvas
        @ chip.to_photo
        @ np.array(
            [[scale, 0, -w * chip.scale], [0, scale, -h * chip.scale], [0, 0, 1.0]]
        )
    )
    size = (side, side)
    over = cv2.warpPerspective(top, lay, size)
    full = np.full(top.shape[:2], 255, np.uint8)
    where = cv2.erode(cv2.warpPerspective(full, lay, size), np.ones((9, 9))) == 255
    canvas[where] = over[where]
    small = cv2.resize(canvas, piece.shape[1::-1], interpolation=cv2.INTER_AREA)
    result = picture.copy()
    result[int(low[1]) :, int(low[0]) :][: SIDE_PX // 2, : SIDE_PX // 2] = small
    return cv2.GaussianBlur(result, (0, 0), 0.7)


def view(turn_deg: float, zoom: float = 1.0, tilt: float = 0.0) -> np.ndarray:
    """Map of the scene to a photo taken from elsewhere."""
    c, s = np.cos(np.radians(turn_deg)) * zoom, np.sin(np.radians(turn_deg)) * zoom
    back = np.array([[1, 0, -MIDDLE[0]], [0, 1, -MIDDLE[1]], [0, 0, 1.0]])
    there = np.array([[1, 0, MIDDLE[0] * zoom], [0, 1, MIDDLE[1] * zoom], [0, 0, 1.0]])
    lean = np.array([[1, 0, 0], [0, 1, 0], [tilt / SIDE_PX, -tilt / SIDE_PX, 1.0]])
    return there @ lean @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1.0]]) @ back


def photo(scene: np.ndarray, at: np.ndarray | None = None, *, seed: int = 0) -> Photo:
    """Photograph a scene: viewpoint, uneven light, noise."""
    rng = np.random.default_rng(seed)
    at = np.eye(3) if at is None else at
    zoom = float(np.sqrt(abs(np.linalg.det(at[:2, :2]))))
    size = round(SIDE_PX * zoom)
    seen = cv2.warpPerspective(
        scene, at, (size, size), flags=cv2.INTER_AREA, borderValue=(90, 90, 90)
    ).astype(np.float64)
    light = np.linspace(0.85, 1.1, size)[None, :, None] if seed else 1.0
    seen = seen * light + rng.normal(0, 2.0, seen.shape)
    pixels = np.clip(seen, 0, 255).astype(np.uint8)
    return Photo(
        path=Path("drawn.png"), sha256="", width_px=size, height_px=size, pixels=pixels
    )


def package(
    outline: np.ndarray,
    *,
    pin1: float | None = None,
    px_per_mm: float | None = PX_PER_MM,
    family: str = "SOIC",
    leads: tuple[Lead, ...] = (),
) -> Package:
    """What the networks would have found: ``pin1`` is the confidence where judged."""
    state = "unsure" if pin1 is None else "ok"
    return Package(
        outline_px=tuple((float(x), float(y)) for x, y in outline),
        confidence=0.95,
        family=family,
        family_confidence=0.97,
        lead_count=8,
        pin1=Pin1(state=state, confidence=pin1 or 0.0),
        px_per_mm=px_per_mm,
        leads=leads,
    )


def leads() -> tuple[Lead, ...]:
    """Leads of an unmoved chip, in scene pixels."""
    w, found = BODY_MM[0] / 2, []
    for k in range(8):
        x, y = (-1, (k - 1.5) * 1.27) if k < 4 else (1, (5.5 - k) * 1.27)
        heel, toe = apply_homography(
            Chip().to_photo, [[x * (w + 0.4), y], [x * (w + 1.05), y]]
        )
        found.append(
            Lead(
                number=k + 1,
                toe_px=tuple(toe),
                heel_px=tuple(heel),
                width_px=0.4 * PX_PER_MM,
            )
        )
    return tuple(found)
