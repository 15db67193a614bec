"""Paint a bare board as maps for the renderer.

Copper, solder mask, print, vias and flux become colour, roughness, metal and height.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import cv2
import numpy as np

from models.scenes.description import Trace
from models.scenes.meshes import smooth_step
from models.scenes.paint import Maps, cloud, mix, stamp, text_patch

if TYPE_CHECKING:
    from collections.abc import Iterable

    from models.scenes.description import (
        Board,
        Flux,
        Land,
        PointMm,
        SilkText,
    )

COPPER_MM = 0.034
RELIEF_FRAC = 0.32  # of the copper, left after the mask has flowed
MASK_MM = 0.02
MASK_GAP_MM = 0.055  # mask opening past the land
POUR_GAP_MM = 0.2
SPOKE_MM = 0.25
VIA_MM, DRILL_MM = 0.62, 0.3
_SUB = 4  # bits of sub-pixel drawing


class _Canvas:
    """A board-sized raster that is drawn on in millimetres."""

    def __init__(self, board: Board, px_per_mm: float) -> None:
        self.scale = px_per_mm
        self.origin = (board.width_mm / 2, board.height_mm / 2)
        self.shape = (
            round(board.height_mm * px_per_mm),
            round(board.width_mm * px_per_mm),
        )

    def blank(self) -> np.ndarray:
        return np.zeros(self.shape, np.uint8)

    def px(self, point: PointMm) -> tuple[float, float]:
        x, y = point[0] + self.origin[0], point[1] + self.origin[1]
        return x * self.scale - 0.5, y * self.scale - 0.5

    def fixed(self, point: PointMm) -> tuple[int, int]:
        x, y = self.px(point)
        return round(x * 2**_SUB), round(y * 2**_SUB)

    def lines(
        self, image: np.ndarray, lines: Iterable[Trace], grow_mm: float = 0.0
    ) -> None:
        for line in lines:
            points = np.array([self.fixed(p) for p in line.points_mm], np.int32)
            width = max(1, round((line.width_mm + 2 * grow_mm) * self.scale))
            cv2.polylines(
                image,
                [points],
                isClosed=False,
                color=255,
                thickness=width,
                lineType=cv2.LINE_AA,
                shift=_SUB,
            )

    def discs(
        self, image: np.ndarray, points: Iterable[PointMm], diameter_mm: float
    ) -> None:
        radius = round(diameter_mm / 2 * self.scale * 2**_SUB)
        for p in points:
            cv2.circle(image, self.fixed(p), radius, 255, -1, cv2.LINE_AA, _SUB)

    def lands(
        self, image: np.ndarray, lands: Iterable[Land], grow_mm: float = 0.0
    ) -> None:
        for land in lands:
            if land.is_round:
                centre = (land.pose.x_mm, land.pose.y_mm)
                self.discs(image, [centre], land.length_mm + 2 * grow_mm)
                continue
            outline = land_outline(land, grow_mm=grow_mm)
            points = np.array([self.fixed(p) for p in outline], np.int32)
            cv2.fillPoly(image, [points], 255, cv2.LINE_AA, _SUB)


def land_outline(land: Land, *, grow_mm: float = 0.0) -> list[PointMm]:
    """Outline of a land with rounded corners, in the frame of its pose."""
    hx, hy = land.length_mm / 2, land.width_mm / 2
    radius = min(0.25 * 2 * min(hx, hy), 0.2)
    out = []
    for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        for a in np.linspace(0, math.pi / 2, 6) + k * math.pi / 2:
            r = radius + grow_mm
            corner = (
                sx * (hx - radius) + r * math.cos(a),
                sy * (hy - radius) + r * math.sin(a),
            )
            out.append(land.pose.apply(corner))
    return out


def _silk(
    canvas: _Canvas, lines: Iterable[Trace], texts: Iterable[SilkText]
) -> np.ndarray:
    image = canvas.blank()
    canvas.lines(image, lines)
    for text in texts:
        patch = text_patch(text.text, text.height_mm * canvas.scale)
        stamp(
            image,
            patch,
            canvas.px((text.pose.x_mm, text.pose.y_mm)),
            text.pose.angle_deg,
        )
    return image


def _copper(canvas: _Canvas, board: Board) -> np.ndarray:
    """Lands, tracks and via rings, and the ground poured round them."""
    metal, keep_off = canvas.blank(), canvas.blank()
    for image, grow in ((metal, 0.0), (keep_off, POUR_GAP_MM)):
        canvas.lands(image, board.lands, grow)
        canvas.lines(image, board.traces, grow)
        canvas.discs(image, board.vias_mm, VIA_MM + 2 * grow)
    if not board.has_pour:
        return metal
    spokes = canvas.blank()
    canvas.lines(spokes, [t for p in board.lands if p.is_ground for t in _spokes(p)])
    edge = round(0.5 * canvas.scale)
    pour = np.zeros_like(metal)
    pour[edge:-edge, edge:-edge] = 255
    pour = np.minimum(pour, 255 - keep_off)
    pour = cv2.morphologyEx(pour, cv2.MORPH_OPEN, np.ones((9, 9), np.uint8))
    copper: np.ndarray = np.maximum.reduce([metal, pour, spokes])
    return copper


def _spokes(land: Land) -> list[Trace]:
    """Tie a ground land to the pour by four narrow tracks."""
    hx, hy = land.length_mm / 2 + 0.3, land.width_mm / 2 + 0.3
    ends = ((hx, 0.0), (-hx, 0.0), (0.0, hy), (0.0, -hy))
    centre = land.pose.apply((0.0, 0.0))
    return [
        Trace(points_mm=(centre, land.pose.apply(end)), width_mm=SPOKE_MM)
        for end in ends
    ]


def _flux_depth(
    canvas: _Canvas, spots: Iterable[Flux], rng: np.random.Generator
) -> np.ndarray:
    """Relative thickness of the flux left on the board, 0 to about 1.5."""
    depth = np.zeros(canvas.shape, np.float32)
    rows, cols = np.indices(canvas.shape, dtype=np.float32)
    for spot in spots:
        x, y = canvas.px((spot.x_mm, spot.y_mm))
        radius = spot.radius_mm * canvas.scale
        warp = 0.16 * cloud(canvas.shape, radius * 0.9, rng) + 0.05 * cloud(
            canvas.shape, radius / 5, rng
        )
        r = np.hypot(cols - x, (rows - y) * 1.25) / radius + warp
        body = 1 - smooth_step(r, 0.75, 1.0)
        if spot.is_fingerprint:
            ridge_px = 0.45 * canvas.scale
            swirl = np.hypot((cols - x) * 1.3, rows - y + radius * 0.5)
            ridges = 0.5 + 0.5 * np.sin(2 * math.pi * swirl / ridge_px + 2.5 * warp * 6)
            depth += spot.strength * 0.3 * body * ridges * (0.5 + 0.5 * (warp > -0.05))
            continue
        rim = np.exp(-(((r - 0.86) / 0.07) ** 2))
        depth += spot.strength * (0.55 * body + 0.6 * rim * body)
    return depth


def board_maps(
    board: Board, rng: np.random.Generator, *, px_per_mm: float = 80.0
) -> Maps:
    """Paint the bare board.

    Parameters
    ----------
    board : Board
    rng : numpy.random.Generator
        For weave, wear, ragged print and the shape of flux.
    px_per_mm : float

    Returns
    -------
    Maps
        Covering the whole board.
    """
    canvas = _Canvas(board, px_per_mm)
    unit = np.float32(1 / 255)
    copper = _copper(canvas, board) * unit
    opening = canvas.blank()
    canvas.lands(opening, board.lands, MASK_GAP_MM)
    land = canvas.blank()
    canvas.lands(land, board.lands)
    drill = canvas.blank()
    canvas.discs(drill, board.vias_mm, DRILL_MM)
    opening, land, drill = opening * unit, land * unit, drill * unit
    silk = _silk(canvas, board.silk_lines, board.silk_texts) * unit
    ragged = (
        silk + 0.14 * cloud(canvas.shape, 5, rng) + 0.12 * cloud(canvas.shape, 14, rng)
    )
    silk = smooth_step(ragged, 0.3, 0.75) * (silk > 0.02) * (1 - opening)
    soft = cv2.GaussianBlur(copper, (0, 0), 0.026 * px_per_mm)

    mottle = 1 + 0.05 * cloud(canvas.shape, 2.5 * px_per_mm, rng)
    weave = _weave(canvas.shape, px_per_mm)
    mask = np.array(board.mask_rgb, np.float32)
    over_copper = mask * 1.55 + (0.018, 0.03, 0.004)
    over_laminate = mask * 0.55
    under = soft[..., None]
    colour = (
        over_laminate * (1 + 0.16 * weave[..., None]) * (1 - under)
        + over_copper * under
    )
    colour = colour * mottle[..., None]
    edge = np.abs(cv2.Laplacian(cv2.GaussianBlur(copper, (0, 0), 1.6), cv2.CV_32F)) * 2
    colour = colour * (1 - 0.45 * np.clip(edge, 0, 1)[..., None])
    colour = mix(colour, np.array([0.10, 0.085, 0.045]), opening)
    colour = mix(colour, np.array([0.62, 0.60, 0.56]), land)
    colour = mix(colour, mask * 0.25, drill * 0.85)
    colour = mix(colour, np.array([0.70, 0.71, 0.68]), silk * 0.93)

    smear = cloud(canvas.shape, 3.5 * px_per_mm, rng) + 0.5 * cloud(
        canvas.shape, 0.8 * px_per_mm, rng
    )
    rough = 0.27 + 0.05 * board.wear * smear + 0.3 * silk + 0.25 * opening - 0.2 * land
    swell = cloud(canvas.shape, 1.2 * px_per_mm, rng)
    flux = _flux_depth(canvas, board.flux, rng)
    colour = colour * np.exp(-flux[..., None] * np.array([0.12, 0.38, 1.1]))
    colour = mix(colour, np.array([0.34, 0.24, 0.09]), np.clip(flux, 0, 1.5) * 0.10)
    rough = np.where(flux > 0.03, rough * 0.72, rough)
    height = RELIEF_FRAC * COPPER_MM * soft - MASK_MM * cv2.GaussianBlur(
        opening, (0, 0), 2
    ) * (1 - land)
    height = height - 0.05 * cv2.GaussianBlur(drill, (0, 0), 0.06 * px_per_mm)
    height = height + 0.010 * cv2.GaussianBlur(silk, (0, 0), 1.0) + 0.012 * flux
    height = height + 0.0008 * weave + 0.003 * swell
    return Maps(
        colour.astype(np.float32).clip(0, 1),
        np.clip(rough, 0.08, 0.9).astype(np.float32),
        land.astype(np.float32),
        height.astype(np.float32),
    )


def _weave(shape: tuple[int, int], px_per_mm: float) -> np.ndarray:
    """Glass cloth under the mask: bundles crossing every 0.5 mm, -1 to 1."""
    rows, cols = np.indices(shape, dtype=np.float32) * (2 * math.pi / (0.5 * px_per_mm))
    over = np.sin(rows / 2) * np.sin(cols / 2) > 0
    weave: np.ndarray = np.where(over, np.sin(rows) ** 2, np.sin(cols) ** 2) - 0.5
    return weave
