"""Paint the faces of bodies and small parts: laser marking, paint, mould texture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from models.scenes.meshes import ejector_at, face_margin_mm, pin_mark_at, smooth_step
from models.scenes.paint import Maps, cloud, mix, stamp, text_patch

if TYPE_CHECKING:
    from models.scenes.description import Mould, PackageSize, PointMm

FACE_PX_PER_MM = 110.0
LID_RGB, ETCH_RGB = (0.60, 0.58, 0.54), (0.14, 0.13, 0.12)  # metal lid and its letters
GLAZE_RGB, PRINT_RGB = (0.02, 0.02, 0.022), (0.75, 0.75, 0.72)


def face_maps(size: PackageSize, mould: Mould, rng: np.random.Generator) -> Maps:
    """Paint the top face of a body: laser marking, paint dot, worn mould texture."""
    half_x, half_y = (
        n / 2 + face_margin_mm(size) for n in (size.body_x_mm, size.body_y_mm)
    )
    scale = min(FACE_PX_PER_MM, 850 / max(half_x, half_y))
    shape = (round(2 * half_y * scale), round(2 * half_x * scale))
    x, y = np.meshgrid(
        (np.arange(shape[1]) + 0.5) / scale - half_x,
        (np.arange(shape[0]) + 0.5) / scale - half_y,
    )

    def to_px(point: PointMm) -> tuple[float, float]:
        return (point[0] + half_x) * scale, (point[1] + half_y) * scale

    ink = np.zeros(shape, np.uint8)
    turn = math.radians(mould.text_turn_deg)
    for i, line in enumerate(mould.lines):
        down = (
            i - (len(mould.lines) - 1) / 2
        ) * 1.55 * mould.line_height_mm - mould.text_up_mm
        at = to_px((down * math.sin(turn), down * math.cos(turn)))
        stamp(
            ink, text_patch(line, mould.line_height_mm * scale), at, mould.text_turn_deg
        )
    fine, coarse = cloud(shape, 0.022 * scale, rng), cloud(shape, 0.06 * scale, rng)
    laser = ink / 255.0 * np.clip(0.74 + 0.22 * fine + 0.16 * coarse, 0, 1)
    grey = mould.grey * (1 + 0.10 * fine + 0.05 * cloud(shape, 0.9 * scale, rng))
    colour = grey[..., None] * np.array([1.0, 0.98, 0.95])
    colour = mix(colour, np.array([0.25, 0.25, 0.235]), laser * 0.78)
    rough = 0.55 + 0.05 * fine + 0.1 * laser
    mark = np.hypot(
        *(v - m for v, m in zip((x, y), pin_mark_at(size, mould), strict=True))
    )
    height = 0.0018 * fine + 0.0018 * coarse - 0.003 * laser
    height *= np.where(
        (np.abs(x) > size.body_x_mm / 2) | (np.abs(y) > size.body_y_mm / 2), 0.5, 1.0
    )
    if mould.pin_mark == "dimple":
        polished = 1 - smooth_step(
            mark, mould.mark_mm / 2 * 0.7, mould.mark_mm / 2 * 0.85
        )
        rough, height = rough - 0.16 * polished, height * (1 - 0.8 * polished)
    if mould.pin_mark == "dot":
        colour = mix(
            colour, np.array([0.5, 0.5, 0.47]), (mark < mould.mark_mm / 2) * 0.9
        )
    if mould.pin_mark == "bar":
        colour = mix(
            colour,
            np.array([0.5, 0.5, 0.47]),
            (np.abs(y + size.body_y_mm / 2 - 0.5) < 0.12) * 0.9,
        )
    if mould.ejector_mm:
        r = np.hypot(
            *(v - m for v, m in zip((x, y), ejector_at(size, mould), strict=True))
        )
        flat = 1 - smooth_step(r, mould.ejector_mm / 2 - 0.06, mould.ejector_mm / 2)
        rough, height = rough - 0.13 * flat, height * (1 - 0.6 * flat)
    if mould.paint_dot_mm:
        r = (
            np.hypot(x - mould.paint_dot_mm[0], y - mould.paint_dot_mm[1])
            + 0.03 * coarse
        )
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
    is_metal: bool,
    rng: np.random.Generator,
) -> Maps:
    """Paint the lettered top of a small part: black glaze, or a laser-marked lid."""
    scale = FACE_PX_PER_MM
    shape = (round(size_mm[1] * scale), round(size_mm[0] * scale))
    ground, ink = (LID_RGB, ETCH_RGB) if is_metal else (GLAZE_RGB, PRINT_RGB)
    letters = np.zeros(shape, np.uint8)
    if text:
        letter_mm = min(0.5 * size_mm[1], 1.1 * size_mm[0] / len(text))
        patch = text_patch(text, letter_mm * scale)
        stamp(letters, patch, (shape[1] / 2, shape[0] / 2), 0.0)
    fine, coarse = cloud(shape, 0.03 * scale, rng), cloud(shape, 0.5 * scale, rng)
    cover = letters / 255.0 * np.clip(0.85 + 0.15 * fine, 0, 1)
    shade = 1 + 0.03 * coarse + 0.015 * fine
    colour = mix(shade[..., None] * np.array(ground), np.array(ink), cover)
    bump_mm = 0.00008 if is_metal else 0.0004
    return Maps(
        colour.astype(np.float32).clip(0, 1),
        np.clip(0.35 + 0.02 * coarse + 0.2 * cover, 0.1, 0.9).astype(np.float32),
        (float(is_metal) * (1 - cover)).astype(np.float32),
        (bump_mm * coarse).astype(np.float32),
    )
