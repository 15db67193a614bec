"""From light to a phone's JPEG: exposure, white balance, tone, sharpening, noise."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from models.scenes.description import Phone


def _shake_kernel(length_px: float, angle_deg: float) -> np.ndarray:
    size = int(length_px) * 2 + 3
    kernel = np.zeros((size, size), np.float32)
    a = np.radians(angle_deg)
    for f in np.linspace(-0.5, 0.5, 33):
        x, y = f * length_px * np.cos(a), f * length_px * np.sin(a)
        kernel[round(size // 2 + y), round(size // 2 + x)] += 1
    soft: np.ndarray = cv2.GaussianBlur(kernel / kernel.sum(), (0, 0), 0.5)
    return soft


def develop(light: np.ndarray, phone: Phone, rng: np.random.Generator) -> np.ndarray:
    """Turn linear light into the picture a phone would store, before JPEG.

    Parameters
    ----------
    light : ndarray of shape (rows, cols, 3), float32
        Linear RGB.
    phone : Phone
    rng : numpy.random.Generator
        For the noise.

    Returns
    -------
    ndarray of shape (rows, cols, 3), uint8
        BGR.
    """
    rows, cols = light.shape[:2]
    image = np.maximum(light.astype(np.float32), 0)
    glow = cv2.GaussianBlur(np.minimum(image, 6), (0, 0), cols / 160)
    image = 0.97 * image + 0.03 * glow
    if phone.blur_px:
        image = cv2.GaussianBlur(image, (0, 0), phone.blur_px)
    if phone.shake_px:
        image = cv2.filter2D(image, -1, _shake_kernel(phone.shake_px, phone.shake_deg))
    y, x = np.indices((rows, cols), dtype=np.float32)
    r2 = ((x - cols / 2) ** 2 + (y - rows / 2) ** 2) / (cols / 2) ** 2
    image *= (1 - 0.13 * r2)[..., None]
    image *= phone.exposure * np.array(
        [phone.red_gain, 1.0, phone.blue_gain], np.float32
    )
    shot = rng.standard_normal(image.shape).astype(np.float32)
    chroma = (
        cv2.GaussianBlur(
            rng.standard_normal(image.shape).astype(np.float32), (0, 0), 2.2
        )
        * 3
    )
    sigma = phone.noise * np.sqrt(0.00004 * np.minimum(image, 1) + 0.0000012)
    image = image + sigma * (
        0.75 * cv2.GaussianBlur(shot, (0, 0), 0.7) * 1.7 + 0.35 * chroma
    )
    tone = _tone(np.maximum(image, 0))
    wide = cv2.GaussianBlur(tone, (0, 0), 1.3)
    detail = np.clip(tone - wide, -0.10, 0.10)
    local = cv2.GaussianBlur(tone, (0, 0), cols / 60)
    tone = tone + phone.sharpening * detail + 0.10 * (tone - local)
    luma = tone @ np.array([0.299, 0.587, 0.114], np.float32)
    tone = luma[..., None] + 1.03 * (tone - luma[..., None])
    picture: np.ndarray = (tone[..., ::-1].clip(0, 1) * 255 + 0.5).astype(np.uint8)
    return picture


def _tone(x: np.ndarray) -> np.ndarray:
    """A filmic shoulder over the sRGB curve: highlights roll off, blacks stay deep."""
    a, b, c, d, e = 2.51, 0.03, 2.43, 0.59, 0.14
    shoulder = (x * (a * x + b)) / (x * (c * x + d) + e)
    return np.where(
        shoulder <= 0.0031308,
        12.92 * shoulder,
        1.055 * np.maximum(shoulder, 1e-8) ** (1 / 2.4) - 0.055,
    ).astype(np.float32)


def encode_jpeg(picture: np.ndarray, phone: Phone) -> bytes:
    """Store a BGR picture (rows, cols, 3) as JPEG."""
    good, data = cv2.imencode(
        ".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, phone.jpeg_quality]
    )
    if not good:
        message = "picture: JPEG encoding gave nothing; 3-channel uint8 is needed."
        raise ValueError(message)
    return data.tobytes()
