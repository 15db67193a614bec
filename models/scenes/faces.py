"""Paint the faces of bodies and small parts: laser marking, paint, mould texture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from models.scenes.meshes import ejector_at, pin_mark_at, smooth_step
from models.scenes.paint import Maps, cloud, mix, stamp, text_patch

if TYPE_CHECKING:
    from models.scenes.description import Mould, PackageSize, PointMm

FACE_PX_PER_MM = 110.0


def face_maps(size: PackageSize, mould: Mould, rng: np.random.Generator) -> Maps:
    """Paint the top face of a body: laser marking, paint dot, worn mould texture."""
    scale = min(FACE_PX_PER_MM, 1500 / max(size.body_x_mm, size.body_y_mm))
    shape = (round(size.body_y_mm * scale), round(size.body_x_mm * scale))
    x, y = np.meshgrid(
        (np.arange(shape[1]) + 0.5) / scale - size.body_x_mm / 2,
        (np.arange(shape[0]) + 0.5) / scale - size.body_y_mm / 2,
    )

    def to_px(point: PointMm) -> tuple[float, float]:
        return (point[0] + size.body_x_mm / 2) * scale, (point[1] + size.body_y_mm / 2) * scale

    ink = np.zeros(shape, np.uint8)
    turn = math.radians(mould.text_turn_deg)
    for i, line in enumerate(mould.lines):
        down = (i - (len(mould.lines) - 1) / 2) * 1.55 * mould.line_height_mm - mould.text_up_mm
        at = to_px((down * math.sin(turn), down * math.cos(turn)))
        stamp(ink, text_patch(line, mould.line_height_mm * scale), at, mould.text_turn_deg)
    fine, coarse = cloud(shape, 0.022 * scale, rng), cloud(shape, 0.06 * scale, rng)
    laser = ink / 255.0 * np.clip(0.74 + 0.22 * fine + 0.16 * coarse, 0, 1)
    grey = mould.grey * (1 + 0.10 * fine + 0.05 * cloud(shape, 0.9 * scale, rng))
    colour = grey[..., None] * np.array([1.0, 0.98, 0.95])
    colour = mix(colour, np.array([0.25, 0.25, 0.235]), laser * 0.78)
    rough = 0.52 + 0.05 * fine + 0.1 * laser
    mark = np.hypot(*(v - m for v, m in zip((x, y), pin_mark_at(size, mould), strict=True)))
    height = 0.0022 * fine + 0.0022 * coarse - 0.003 * laser
    if mould.pin_mark == "dimple":
        polished = 1 - smooth_step(mark, mould.mark_mm / 2 * 0.7, mould.mark_mm / 2 * 0.85)
        rough, height = rough - 0.16 * polished, height * (1 - 0.8 * polished)
    if mould.pin_mark == "dot":
        colour = mix(colour, np.array([0.5, 0.5, 0.47]), (mark < mould.mark_mm / 2) * 0.9)
    if mould.pin_mark == "bar":
        colour = mix(colour, np.array([0.5, 0.5, 0.47]), (np.abs(y + size.body_y_mm / 2 - 0.5) < 0.12) * 0.9)
    if mould.ejector_mm:
        r = np.hypot(*(v - m for v, m in zip((x, y), ejector_at(size, mould), strict=True)))
        flat = 1 - smooth_step(r, mould.ejector_mm / 2 - 0.06, mould.ejector_mm / 2)
        rough, height = rough - 0.13 * flat, height * (1 - 0.6 * flat)
    if mould.paint_dot_mm:
        r = np.hypot(x - mould.paint_dot_mm[0], y - mould.paint_dot_mm[1]) + 0.03 * coarse
        paint = 1 - smooth_step(r, 0.4, 0.46)
        colour = mix(colour, np.array([0.55, 0.04, 0.03]), paint)
        rough, height = rough - 0.2 * paint, height * (1 - paint) + 0.02 * paint
    return Maps(
        colour.astype(np.float32).clip(0, 1),
        np.clip(rough, 0.2, 0.95).astype(np.float32),
        np.zeros(shape, np.float32),
        height.astype(np.float32),
    )


def label_maps(
    size_mm: tuple[float, float],
    text: str,
    *,
    ground_rgb: tuple[float, float, float],
    ink_rgb: tuple[float, float, float],
    metal: float,
    rng: np.random.Generator,
) -> Maps:
    """Paint the lettered top of a small part, text along its length."""
    scale = FACE_PX_PER_MM
    shape = (round(size_mm[1] * scale), round(size_mm[0] * scale))
    ink = np.zeros(shape, np.uint8)
    if text:
        patch = text_patch(text, min(0.5 * size_mm[1], 1.1 * size_mm[0] / len(text)) * scale)
        stamp(ink, patch, (shape[1] / 2, shape[0] / 2), 0.0)
    fine, coarse = cloud(shape, 0.03 * scale, rng), cloud(shape, 0.3 * scale, rng)
    cover = ink / 255.0 * np.clip(0.85 + 0.15 * fine, 0, 1)
    colour = np.ones((*shape, 3)) * ground_rgb * (1 + 0.06 * coarse + 0.03 * fine)[..., None]
    colour = mix(colour, np.array(ink_rgb), cover)
    return Maps(
        colour.astype(np.float32).clip(0, 1),
        np.clip(0.35 + 0.03 * coarse + 0.2 * cover, 0.1, 0.9).astype(np.float32),
        (metal * (1 - cover)).astype(np.float32),
        (0.0003 * fine + 0.0006 * coarse).astype(np.float32),
    )
