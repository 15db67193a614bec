"""Solder as a membrane: the surface h over the lands that solves  lap(h) = -p.

The rim of the land holds h at 0, wetted metal holds it at the height to which the
solder climbs, and p, 1/mm, makes it bulge (too much) or sink (too little).  The
same sheet solved over two lands and a strip between them is a bridge.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from models.scenes.meshes import Mesh, box_distance, grid_mesh, in_frame

if TYPE_CHECKING:
    from models.scenes.description import JointKind, Land, PointMm, Pose

PRESSURE = {"good": 0.6, "starved": -0.2, "excess": 5.0}  # 1/mm
WET = {
    "good": 0.35,
    "starved": -0.3,
    "excess": 0.6,
}  # of the thickness, from its middle
CLIMB = {
    "good": 0.5,
    "starved": 0.12,
    "excess": 0.9,
}  # of the lead's height, at the heel
BRIDGE_PRESSURE = 5.5
BARE_PRESSURE = 1.4  # a tinned land without a lead


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """A wetted piece of metal; ``line``: (n, 2) distance from its end, height, mm."""

    pose: Pose
    line: np.ndarray
    width_mm: float
    thickness_mm: float
    kind: JointKind = "good"
    bend_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A bridge of solder from one lead to another."""

    start_mm: PointMm
    end_mm: PointMm
    half_width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Solder that hangs together: its lands, the feet in it, the strips between."""

    lands: tuple[Land, ...]
    feet: tuple[Foot, ...] = ()
    strips: tuple[Strip, ...] = field(default=())
    is_dull: bool = False


def land_distance(land: Land, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Signed distance in mm to the edge of a land, negative inside."""
    lx, ly = in_frame(land.pose, x, y)
    short = min(land.length_mm, land.width_mm)
    radius = short / 2 if land.is_round else min(0.25 * short, 0.2)
    return box_distance(lx, ly, land.length_mm / 2, land.width_mm / 2, radius)


def solve_membrane(
    fixed: np.ndarray, height: np.ndarray, pressure: np.ndarray, step: float
) -> np.ndarray:
    """Solve lap(h) = -pressure on a grid where ``fixed`` points keep ``height``.

    Parameters
    ----------
    fixed : ndarray of bool, shape (rows, cols)
        Must hold all along the border of the grid.
    height, pressure : ndarray of shape (rows, cols)
        mm and 1/mm.
    step : float
        Grid step in mm.

    Returns
    -------
    ndarray of shape (rows, cols)
        h in mm.
    """
    free = ~fixed
    number = np.cumsum(free.ravel()).reshape(free.shape) - 1
    rows, cols = np.nonzero(free)
    n = len(rows)
    right = pressure[free] * step * step
    at, to = [np.arange(n)], [np.arange(n)]
    values = [np.full(n, 4.0)]
    for dr, dc in ((0, 1), (0, -1), (1, 0), (-1, 0)):
        r, c = rows + dr, cols + dc
        inner = free[r, c]
        at.append(np.nonzero(inner)[0])
        to.append(number[r, c][inner])
        values.append(np.full(int(inner.sum()), -1.0))
        right = right + np.where(inner, 0.0, height[r, c])
    matrix = coo_matrix(
        (np.concatenate(values), (np.concatenate(at), np.concatenate(to)))
    ).tocsc()
    out = height.copy()
    if n:
        out[free] = spsolve(matrix, right)
    return out


def _wet(foot: Foot, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where solder meets a foot, and how high it stands there."""
    t, s = in_frame(foot.pose, x, y)
    s = s - foot.bend_mm * np.clip(1 + t / 0.6, 0, 1)
    order = np.argsort(foot.line[:, 0], kind="stable")
    middle = np.interp(t, foot.line[order, 0], foot.line[order, 1])
    low, high = foot.line[:, 1].min(), foot.line[:, 1].max()
    wet = middle + WET[foot.kind] * foot.thickness_mm
    limit = low + max(
        CLIMB[foot.kind] * (high - low), WET[foot.kind] * foot.thickness_mm
    )
    on = (
        (np.abs(s) < foot.width_mm / 2 - 0.01)
        & (t < -0.01)
        & (t > foot.line[:, 0].min())
    )
    on &= middle - foot.thickness_mm / 2 < limit
    toe_drop = 0.3 * foot.thickness_mm * np.clip(1 + t / 0.12, 0, 1)
    level = np.minimum(wet, limit)
    if foot.kind == "excess":  # the lead is buried under a round back
        back = np.sqrt(np.clip(1 - (2 * s / foot.width_mm) ** 2, 0, 1))
        end = np.sqrt(np.clip(-t / 0.2, 0, 1))
        return on, level + 0.6 * foot.thickness_mm * back * end
    return on, np.maximum(level - toe_drop, 0.01)


def _strip_distance(strip: Strip, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    a, b = np.array(strip.start_mm), np.array(strip.end_mm)
    along = b - a
    px, py = x - a[0], y - a[1]
    f = np.clip((px * along[0] + py * along[1]) / (along @ along), 0, 1)
    waist = strip.half_width_mm * (1 - 0.22 * np.sin(np.pi * f))
    distance: np.ndarray = np.hypot(px - f * along[0], py - f * along[1]) - waist
    return distance


def pool_mesh(pool: Pool, rng: np.random.Generator, *, step_mm: float = 0.016) -> Mesh:
    """Return the surface of a pool in the frame of its lands.

    Parameters
    ----------
    pool : Pool
    rng : numpy.random.Generator
        For the grain of the surface and the amount of solder.
    step_mm : float

    Returns
    -------
    Mesh
        Ends exactly on the edge of the wetted area, at z = 0.
    """
    reach = max(max(p.length_mm, p.width_mm) for p in pool.lands) / 2 + 0.25
    at = np.array([(p.pose.x_mm, p.pose.y_mm) for p in pool.lands])
    low, high = at.min(axis=0) - reach, at.max(axis=0) + reach
    for strip in pool.strips:
        rim = strip.half_width_mm + 0.1
        ends = np.array([strip.start_mm, strip.end_mm])
        low = np.minimum(low, ends.min(axis=0) - rim)
        high = np.maximum(high, ends.max(axis=0) + rim)
    x, y = np.meshgrid(
        np.arange(low[0], high[0], step_mm), np.arange(low[1], high[1], step_mm)
    )
    parts = [land_distance(p, x, y) for p in pool.lands]
    parts += [_strip_distance(s, x, y) for s in pool.strips]
    d = np.minimum.reduce(parts)
    inside = d < 0
    height = np.zeros_like(x)
    fixed = ~inside
    wet_any = np.zeros_like(inside)
    kind = pool.feet[0].kind if pool.feet else None
    for foot in pool.feet:
        on, wet = _wet(foot, x, y)
        on &= inside
        height[on], wet_any = wet[on], wet_any | on
    p = BRIDGE_PRESSURE if pool.strips else PRESSURE[kind] if kind else BARE_PRESSURE
    lean = rng.normal(0, 0.35, 2) @ np.stack([x - x.mean(), y - y.mean()]).reshape(
        2, -1
    )
    pressure = (
        p * rng.uniform(0.75, 1.25) * (1 + np.clip(lean.reshape(x.shape), -0.6, 0.6))
    )
    h = solve_membrane(fixed | (wet_any & inside), height, pressure, step_mm)
    if pool.strips or kind == "excess":
        h = gaussian_filter(h, 2.5) * (1 - np.exp(np.minimum(d, 0) / 0.02))
    film = 0.03 * (1 - np.exp(np.minimum(d, 0) / 0.06))
    h = np.where(inside, np.maximum(h, film), 0.0)
    grain = gaussian_filter(rng.standard_normal(x.shape), 3) * 6
    swell = gaussian_filter(rng.standard_normal(x.shape), 9) * 18
    rough = (0.0022 if pool.is_dull else 0.0006) * grain + 0.003 * swell
    h = h + rough * (1 - np.exp(np.minimum(d, 0) / 0.05)) * ~wet_any
    gy, gx = np.gradient(d, step_mm)
    norm = np.maximum(np.hypot(gx, gy), 1e-6) ** 2
    outside = np.maximum(d, 0)
    keep = d < 1.5 * step_mm
    return grid_mesh(x - outside * gx / norm, y - outside * gy / norm, h, keep=keep)
