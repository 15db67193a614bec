"""The light round the board: window, ceiling panels, a lamp, the phone's own shade."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from models.scenes.description import Camera, Light

COOL_RGB = np.array([0.86, 0.95, 1.08])
LAMP, WINDOW, PANEL = 110.0, 9.0, 3.5  # radiance, of a mid-grey wall
PHONE_SHADE_FRAC = 0.82


def _patch(
    az: np.ndarray,
    el: np.ndarray,
    at_deg: tuple[float, float],
    half_deg: tuple[float, float],
    *,
    soft_deg: float = 2.0,
) -> np.ndarray:
    """Cover, 0 to 1, of a rectangle of sky round an azimuth and an elevation."""
    away = np.abs((az - at_deg[0] + 180) % 360 - 180) * np.cos(np.radians(el))
    edge = np.maximum(away - half_deg[0], np.abs(el - at_deg[1]) - half_deg[1])
    cover: np.ndarray = 1 / (1 + np.exp(np.clip(4 * edge / soft_deg, -40, 40)))
    return cover


def _phone_shade(az: np.ndarray, el: np.ndarray, camera: Camera) -> np.ndarray:
    """Cover of the phone and the hand behind the lens, as seen from the board."""
    high = np.radians(90 - camera.tilt_deg)
    side = np.radians(180 - camera.azimuth_deg)
    x = np.cos(np.radians(el)) * np.sin(np.radians(az))
    y = np.cos(np.radians(el)) * np.cos(np.radians(az))
    to_x, to_y = np.cos(high) * np.sin(side), np.cos(high) * np.cos(side)
    edge = np.maximum(np.abs(x - to_x - 0.05) / 0.24, np.abs(y - to_y + 0.1) / 0.48)
    cover: np.ndarray = (el > 0) / (1 + np.exp(np.clip((edge - 1) * 14, -40, 40)))
    return cover


def radiance(light: Light, camera: Camera, *, rows: int = 256) -> np.ndarray:
    """Paint the room by direction.

    Parameters
    ----------
    light : Light
    camera : Camera
        Its phone keeps off the light from where it is held.
    rows : int

    Returns
    -------
    ndarray of shape (rows, 2 rows, 3)
        Linear RGB; row 0 straight up, azimuth clockwise from the board's upper edge.
    """
    elevation = 90 - (np.arange(rows) + 0.5) / rows * 180
    azimuth = (np.arange(2 * rows) + 0.5) / (2 * rows) * 360
    az, el = np.meshgrid(azimuth, elevation)
    warm = np.array([1.0, 0.86 - 0.14 * light.warmth, 0.70 - 0.38 * light.warmth])
    wall = 0.10 + 0.22 * np.clip(el / 90, 0, 1) + 0.05 * np.sin(np.radians(az * 2))
    wall = np.where(el < 0, 0.05 + 0.08 * np.exp(np.minimum(el, 0) / 6), wall)
    room = wall[..., None] * (0.6 * warm + 0.4)

    window = light.window_azimuth_deg
    bars = _patch(az, el, (window, 38), (0.9, 40), soft_deg=0.5)
    bars = np.maximum(bars, _patch(az, el, (window, 40), (40, 0.9), soft_deg=0.5))
    panes = _patch(az, el, (window, 38), (19, 17)) * (1 - bars)
    room += light.window_strength * WINDOW * panes[..., None] * COOL_RGB
    for shift, high in ((70, 62), (190, 72)):
        panel = _patch(az, el, (window + shift, high), (9, 5))[..., None]
        room += light.window_strength * PANEL * panel * (0.5 * warm + 0.5)
    at = (light.lamp_azimuth_deg, light.lamp_elevation_deg)
    lamp = _patch(az, el, at, (8, 7), soft_deg=3.0)
    room += light.lamp_strength * LAMP * lamp[..., None] * warm

    shelves = _patch(az, el, (window + 120, 8), (35, 9), soft_deg=3.0)
    shelves = np.maximum(shelves, _patch(az, el, (window - 75, 14), (12, 16)))
    dark = (1 - 0.7 * shelves) * (1 - PHONE_SHADE_FRAC * _phone_shade(az, el, camera))
    radiance_rgb: np.ndarray = np.maximum(room * dark[..., None], 0.01)
    return radiance_rgb
