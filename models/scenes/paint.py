"""Small brushes shared by the painted maps: noise, letters, mixing."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont


@dataclass(frozen=True, slots=True)
class Maps:
    """Textures, row 0 at the upper edge: ``colour`` (r, c, 3) linear, others (r, c)."""

    colour: np.ndarray
    roughness: np.ndarray
    metal: np.ndarray
    height_mm: np.ndarray


def cloud(
    shape: tuple[int, int], size_px: float, rng: np.random.Generator
) -> np.ndarray:
    """Smooth noise of standard deviation 1 and grain ``size_px``."""
    small = tuple(max(4, int(2 * n / size_px) + 3) for n in shape)
    noise = rng.standard_normal(small).astype(np.float32)
    big = cv2.resize(noise, shape[::-1], interpolation=cv2.INTER_CUBIC)
    even: np.ndarray = big / max(float(big.std()), 1e-6)
    return even


def text_patch(text: str, height_px: float) -> np.ndarray:
    """Letters as coverage 0..255; capital height is ``height_px``."""
    font = ImageFont.load_default(height_px * 1.4)
    stroke = max(1, round(height_px * 0.02))
    box = font.getbbox(text, stroke_width=stroke)
    size = (math.ceil(box[2] - box[0]) + 2, math.ceil(box[3] - box[1]) + 2)
    image = Image.new("L", size)
    draw = ImageDraw.Draw(image)
    draw.text((1 - box[0], 1 - box[1]), text, fill=255, font=font, stroke_width=stroke)
    return np.asarray(image)


def stamp(
    image: np.ndarray, patch: np.ndarray, at: tuple[float, float], angle_deg: float
) -> None:
    """Add a patch, centred at a pixel and turned counter-clockwise."""
    rows, cols = patch.shape
    turn = cv2.getRotationMatrix2D(((cols - 1) / 2, (rows - 1) / 2), angle_deg, 1.0)
    turn[:, 2] += np.array(at) - ((cols - 1) / 2, (rows - 1) / 2)
    warped = cv2.warpAffine(patch, turn, image.shape[::-1], flags=cv2.INTER_AREA)
    np.maximum(image, warped, out=image)


def mix(colour: np.ndarray, other: np.ndarray, share: np.ndarray) -> np.ndarray:
    mixed: np.ndarray = colour * (1 - share[..., None]) + other * share[..., None]
    return mixed
