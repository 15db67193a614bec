"""Lay copper tracks between lands on a 45-degree grid, so that boards look routed."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from models.scenes.description import Trace
from models.scenes.solder import land_distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from models.scenes.description import Land, PointMm

STEP_MM = 0.2
CLEARANCE_MM = 0.18
BEND_COST = 0.6  # in grid steps
MOVES = ((0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0), (1, 1))

Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class _Grid:
    """A raster over the board; ``used`` counts what keeps a track off each cell."""

    x0_mm: float
    y0_mm: float
    x: np.ndarray
    y: np.ndarray
    used: np.ndarray

    def cell(self, point: PointMm) -> Cell:
        rows, cols = self.used.shape
        col = round((point[0] - self.x0_mm) / STEP_MM)
        row = round((point[1] - self.y0_mm) / STEP_MM)
        return (min(max(row, 0), rows - 1), min(max(col, 0), cols - 1))


def line_distance(
    x: np.ndarray, y: np.ndarray, start: PointMm, end: PointMm
) -> np.ndarray:
    """Distance in mm from points to the straight line between two others."""
    ax, ay = start
    dx, dy = end[0] - ax, end[1] - ay
    f = ((x - ax) * dx + (y - ay) * dy) / max(dx * dx + dy * dy, 1e-12)
    f = np.clip(f, 0, 1)
    return np.hypot(x - ax - f * dx, y - ay - f * dy)


def route(
    size_mm: tuple[float, float],
    lands: Sequence[Land],
    nets: Sequence[tuple[PointMm, PointMm, float]],
    *,
    vias_mm: Sequence[PointMm] = (),
) -> tuple[Trace, ...]:
    """Connect pairs of points without touching other lands or tracks.

    Parameters
    ----------
    size_mm : tuple of float
        Width and height of the board.
    lands : sequence of Land
        In the board frame.
    nets : sequence of (start, end, width)
        Board mm; an end inside a land belongs to that land.
    vias_mm : sequence of point

    Returns
    -------
    tuple of Trace
        Nets for which no way was found are left out.
    """
    width, height = size_mm
    xs = np.arange(-width / 2 + 0.6, width / 2 - 0.6, STEP_MM)
    ys = np.arange(-height / 2 + 0.6, height / 2 - 0.6, STEP_MM)
    x, y = np.meshgrid(xs, ys)
    grid = _Grid(float(xs[0]), float(ys[0]), x, y, np.zeros(x.shape, np.int32))
    shapes = [land_distance(p, x, y) for p in lands]
    shapes += [np.hypot(x - v[0], y - v[1]) - 0.3 for v in vias_mm]
    for d in shapes:
        grid.used[d < CLEARANCE_MM + 0.1] += 1
    traces: list[Trace] = []
    for start, end, track_mm in nets:
        a, b = grid.cell(start), grid.cell(end)
        extra = CLEARANCE_MM + track_mm / 2
        blocked = grid.used.copy()
        for d in shapes:
            if min(d[a], d[b]) < STEP_MM:
                blocked[d < CLEARANCE_MM + 0.1] -= 1
        cells = _shortest(blocked > 0, a, b)
        if not cells:
            continue
        inner = [(float(x[c]), float(y[c])) for c in _corners(cells)]
        points = (start, *inner[1:-1], end) if len(inner) > 2 else (start, end)
        traces.append(Trace(points_mm=points, width_mm=track_mm))
        away = [line_distance(x, y, p, q) for p, q in pairwise(points)]
        grid.used[np.minimum.reduce(away) < extra + 0.1] += 1
    return tuple(traces)


def _shortest(blocked: np.ndarray, start: Cell, end: Cell) -> list[Cell]:
    """A* over (row, col, direction); a bend costs, turning back is forbidden."""
    rows, cols = blocked.shape

    def rest(cell: Cell) -> float:
        dr, dc = abs(cell[0] - end[0]), abs(cell[1] - end[1])
        return max(dr, dc) + (math.sqrt(2) - 1) * min(dr, dc)

    best = {(start, -1): 0.0}
    came: dict[tuple[Cell, int], tuple[Cell, int]] = {}
    heap = [(rest(start), 0.0, start, -1)]
    while heap:
        _, cost, at, heading = heapq.heappop(heap)
        if at == end:
            path, key = [at], (at, heading)
            while key in came:
                key = came[key]
                path.append(key[0])
            return path[::-1]
        if cost > best[(at, heading)]:
            continue
        for k, (dr, dc) in enumerate(MOVES):
            turn = 0 if heading < 0 else min((k - heading) % 8, (heading - k) % 8)
            cell = (at[0] + dr, at[1] + dc)
            if (
                turn > 1
                or not (0 <= cell[0] < rows and 0 <= cell[1] < cols)
                or blocked[cell]
            ):
                continue
            new = cost + math.hypot(dr, dc) + BEND_COST * turn
            if new < best.get((cell, k), math.inf):
                best[(cell, k)] = new
                came[(cell, k)] = (at, heading)
                heapq.heappush(heap, (new + rest(cell), new, cell, k))
    return []


def _corners(cells: list[Cell]) -> list[Cell]:
    """Keep the ends of a path and the cells where it bends."""
    kept = [cells[0]]
    for before, at, after in zip(cells, cells[1:], cells[2:], strict=False):
        if (at[0] - before[0], at[1] - before[1]) != (
            after[0] - at[0],
            after[1] - at[1],
        ):
            kept.append(at)
    return [*kept, cells[-1]]
