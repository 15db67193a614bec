"""Triangle meshes of bodies, leads and neighbours, built from a variant's numbers.

Vertices are in millimetres, x right, y down, z up from the copper's surface.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from models.scenes.description import Joint, Mould, PackageSize, Pose

FLASH_MM = 0.012  # step between the two mould halves
DRAFT_DEG = 8.0  # of the side walls; drawings allow 5 to 15
EDGE_MM = 0.07  # rounding between wall and top
FOOT_GAP_MM = 0.02  # solder under a seated foot


@dataclass(frozen=True, slots=True)
class Mesh:
    """Triangles: ``vertices_mm`` (n, 3), ``faces`` (m, 3), ``uv`` (n, 2)."""

    vertices_mm: np.ndarray
    faces: np.ndarray
    uv: np.ndarray


def merge(meshes: Sequence[Mesh]) -> Mesh:
    """Put several meshes into one."""
    starts = np.cumsum([0, *(len(m.vertices_mm) for m in meshes[:-1])])
    return Mesh(
        np.concatenate([m.vertices_mm for m in meshes]),
        np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=True)]),
        np.concatenate([m.uv for m in meshes]),
    )


def place(mesh: Mesh, pose: Pose, *, z_mm: float = 0.0) -> Mesh:
    """Bring a mesh from the frame of ``pose`` to the frame around it."""
    a = math.radians(pose.angle_deg)
    c, s = math.cos(a), math.sin(a)
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    moved = mesh.vertices_mm @ turn.T + (pose.x_mm, pose.y_mm, z_mm)
    return Mesh(moved, mesh.faces, mesh.uv)


def in_frame(pose: Pose, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Express many points in the frame of ``pose``."""
    a = math.radians(pose.angle_deg)
    dx, dy = x - pose.x_mm, y - pose.y_mm
    return (
        math.cos(a) * dx - math.sin(a) * dy,
        math.sin(a) * dx + math.cos(a) * dy,
    )


def raised(mesh: Mesh, rise_mm: Callable[[Any, Any], Any]) -> Mesh:
    """Lift every point by what ``rise_mm`` gives for its x and y."""
    v = mesh.vertices_mm.copy()
    v[:, 2] += rise_mm(v[:, 0], v[:, 1])
    return Mesh(v, mesh.faces, mesh.uv)


def grid_mesh(
    x: np.ndarray, y: np.ndarray, z: np.ndarray, *, keep: np.ndarray | None = None
) -> Mesh:
    """Join a grid of points, each (rows, cols), into triangles.

    Parameters
    ----------
    x, y, z : ndarray of shape (rows, cols)
        In mm.
    keep : ndarray of bool, optional
        Cells with a corner outside it are left out.

    Returns
    -------
    Mesh
        With ``uv`` running 0..1 over the grid.
    """
    rows, cols = x.shape
    index = np.arange(rows * cols).reshape(rows, cols)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, :-1], index[1:, 1:]
    corners = np.stack([a, b, c, d], axis=-1).reshape(-1, 4)
    if keep is not None:
        corners = corners[keep.ravel()[corners].all(axis=1)]
    faces = np.concatenate([corners[:, [0, 2, 1]], corners[:, [1, 2, 3]]])
    v, u = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, cols), indexing="ij")
    used, faces = np.unique(faces, return_inverse=True)
    points = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    return Mesh(
        points[used], faces.reshape(-1, 3), np.stack([u, v], -1).reshape(-1, 2)[used]
    )


def box_distance(
    x: np.ndarray, y: np.ndarray, half_x: float, half_y: float, radius: float
) -> np.ndarray:
    """Signed distance in mm to a rectangle with rounded corners, negative inside."""
    qx, qy = np.abs(x) - half_x + radius, np.abs(y) - half_y + radius
    outside = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0))
    distance: np.ndarray = outside + np.minimum(np.maximum(qx, qy), 0) - radius
    return distance


def smooth_step(x: np.ndarray, low: float, high: float) -> np.ndarray:
    """Run from 0 at ``low`` to 1 at ``high`` without a kink."""
    t = np.clip((x - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def _axis(half: float) -> np.ndarray:
    """Grid positions from -half to half, dense in the rounded border."""
    border = np.linspace(0, min(0.2, half / 2), 22)[:-1]
    inner = half - min(0.2, half / 2)
    count = max(6, min(400, math.ceil(2 * inner / 0.022)))
    return np.concatenate(
        [border - half, np.linspace(-inner, inner, count), half - border[::-1]]
    )


def _half_body(
    size_mm: tuple[float, float],
    face_z: np.ndarray | float,
    *,
    corner: float,
    step: float,
) -> Mesh:
    """Make a moulded half over z = 0: a drafted wall under a face ``face_z`` high."""
    half_x, half_y = size_mm[0] / 2, size_mm[1] / 2
    x, y = np.meshgrid(_axis(half_x), _axis(half_y))
    d = box_distance(x, y, half_x, half_y, corner)
    corner_x = np.sign(x) * (half_x - corner)
    corner_y = np.sign(y) * (half_y - corner)
    out = (d > 0)[..., None]
    from_corner = np.stack([x - corner_x, y - corner_y], -1)
    length = np.maximum(np.linalg.norm(from_corner, axis=-1, keepdims=True), 1e-9)
    on_edge = np.stack([corner_x, corner_y], -1) + from_corner / length * corner
    xy = np.where(out, on_edge, np.stack([x, y], -1))
    wall = np.maximum(0, -np.minimum(d, 0) - step) / math.tan(math.radians(DRAFT_DEG))
    k = EDGE_MM * 2
    blend = np.clip(0.5 + 0.5 * (face_z - wall) / k, 0, 1)
    z = face_z * (1 - blend) + wall * blend - k * blend * (1 - blend)
    return grid_mesh(xy[..., 0], xy[..., 1], np.maximum(z, 0))


def parting_z_mm(size: PackageSize) -> float:
    """Height of the seam between the mould halves, where leads come out."""
    if not size.has_leads:
        return 0.05
    return size.standoff_mm + 0.5 * (size.height_mm - size.standoff_mm)


def face_relief(
    size: PackageSize, mould: Mould, x: np.ndarray, y: np.ndarray
) -> np.ndarray:
    """Height of the top face at package points, over the seam, in mm."""
    rise = size.height_mm - parting_z_mm(size)
    z = np.full_like(x, rise)
    mark_x, mark_y = pin_mark_at(size, mould)
    radius = mould.mark_mm / 2
    if mould.pin_mark in ("dimple", "notch"):
        r = np.hypot(x - mark_x, y - mark_y)
        z -= 0.13 * (1 - smooth_step(r, 0.72 * radius, radius))
    if mould.ejector_mm:
        ex, ey = ejector_at(size, mould)
        r = np.hypot(x - ex, y - ey)
        z -= 0.02 * (
            1 - smooth_step(r, mould.ejector_mm / 2 - 0.05, mould.ejector_mm / 2)
        )
    if mould.has_bevel:
        z = np.minimum(z, rise + 0.9 * (x + size.body_x_mm / 2 - 0.45))
    relief: np.ndarray = np.maximum(z, 0.05)
    return relief


def pin_mark_at(size: PackageSize, mould: Mould) -> tuple[float, float]:
    """Centre of the pin-1 mark in the package frame, mm."""
    if mould.pin_mark == "notch":
        return (0.0, -size.body_y_mm / 2 + 0.1)
    inset = mould.mark_mm / 2 + (0.55 if mould.has_bevel else 0.3)
    return (-size.body_x_mm / 2 + inset, -size.body_y_mm / 2 + mould.mark_mm / 2 + 0.3)


def ejector_at(size: PackageSize, mould: Mould) -> tuple[float, float]:
    """Centre of the ejector mark, a decoy: towards the corner opposite pin 1."""
    inset = mould.ejector_mm / 2 + 0.35
    return (size.body_x_mm / 2 - inset, size.body_y_mm / 2 - inset)


def body_meshes(size: PackageSize, mould: Mould) -> tuple[Mesh, Mesh]:
    """Return the upper and the lower half of a body in the package frame."""
    bx, by = size.body_x_mm, size.body_y_mm
    seam = parting_z_mm(size)
    x, y = np.meshgrid(_axis(bx / 2), _axis(by / 2))
    upper = _half_body(
        (bx, by), face_relief(size, mould, x, y), corner=0.09, step=FLASH_MM
    )
    upper = Mesh(
        upper.vertices_mm + np.array([0, 0, seam]), upper.faces, _unfold(size, upper)
    )
    low = _half_body(
        (bx, by), max(seam - size.standoff_mm, 0.03), corner=0.09, step=0.0
    )
    below = low.vertices_mm * (1, 1, -1) + (0, 0, seam)
    return upper, Mesh(below, low.faces[:, ::-1], _unfold(size, low))


def face_margin_mm(size: PackageSize) -> float:
    """Width of the border round a face map onto which the walls unfold."""
    return size.height_mm - parting_z_mm(size)


def _unfold(size: PackageSize, half: Mesh) -> np.ndarray:
    """Texture coordinates (n, 2) of a half body, its walls folded outward."""
    x, y, z = half.vertices_mm.T
    top = float(z.max())
    half_x, half_y, margin = (
        size.body_x_mm / 2,
        size.body_y_mm / 2,
        face_margin_mm(size),
    )
    near_x, near_y = np.abs(x) - half_x, np.abs(y) - half_y
    drop = (
        np.where(np.maximum(near_x, near_y) > -0.22, top - z, 0.0)
        * margin
        / max(top, 1e-6)
    )
    on_x = near_x > near_y
    u = x + np.where(on_x, np.sign(x) * drop, 0.0)
    v = y + np.where(on_x, 0.0, np.sign(y) * drop)
    return np.stack(
        [u / (2 * (half_x + margin)) + 0.5, v / (2 * (half_y + margin)) + 0.5], -1
    )


def round_polyline(points: np.ndarray, radius: float, *, steps: int = 8) -> np.ndarray:
    """Replace the inner corners of a polyline (n, 2) by arcs of ``radius``."""
    out = [points[0]]
    for before, at, after in zip(points, points[1:], points[2:], strict=False):
        u, v = before - at, after - at
        lu, lv = float(np.linalg.norm(u)), float(np.linalg.norm(v))
        u, v = u / lu, v / lv
        half = math.acos(min(max(float(u @ v), -1.0), 1.0)) / 2
        cut = min(radius / math.tan(half), 0.48 * lu, 0.48 * lv)
        r = cut * math.tan(half)
        centre = at + (u + v) / np.linalg.norm(u + v) * r / math.sin(half)
        a, b = at + u * cut - centre, at + v * cut - centre
        angle = math.pi - 2 * half
        for f in np.linspace(0, 1, steps):
            mix = math.sin((1 - f) * angle) * a + math.sin(f * angle) * b
            out.append(centre + mix / max(math.sin(angle), 1e-9))
    return np.array([*out, points[-1]])


def lead_line(size: PackageSize, joint: Joint) -> np.ndarray:
    """Middle line of a gull-wing lead: (n, 2) of distance from the toe and height, mm.

    The distance is 0 at the toe and negative towards the body.
    """
    reach = (size.span_x_mm - size.body_x_mm) / 2
    top, low = parting_z_mm(size), size.lead_thickness_mm / 2 + FOOT_GAP_MM
    heel = -min(size.foot_mm, 0.75 * reach) + size.lead_thickness_mm * 0.6
    knee = max(heel - (top - low) * 0.14, -reach + 0.1)
    corners = np.array(
        [
            (-reach - 0.25, top),
            (knee, top),
            (heel, low + 0.02 + 0.85 * joint.lift_mm),
            (0.0, low + joint.lift_mm),
        ]
    )
    return round_polyline(corners, 1.1 * size.lead_thickness_mm)


def sweep(line: np.ndarray, section: np.ndarray) -> Mesh:
    """Move a closed section (k, 2: across, up) along a line (n, 3); close its ends."""
    along = np.gradient(line, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.cross(np.broadcast_to((0.0, 0.0, 1.0), along.shape), along)
    flat = np.linalg.norm(across, axis=1) < 1e-6
    across[flat] = (0.0, 1.0, 0.0)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    up = np.cross(along, across)
    ring = (
        line[:, None]
        + section[None, :, :1] * across[:, None]
        + section[None, :, 1:] * up[:, None]
    )
    closed = np.concatenate([ring, ring[:, :1]], axis=1)
    tube = grid_mesh(closed[..., 0], closed[..., 1], closed[..., 2])
    return merge([tube, _cap(ring[0]), _cap(ring[-1][::-1])])


def _cap(ring: np.ndarray) -> Mesh:
    n = len(ring)
    points = np.concatenate([ring, ring.mean(axis=0, keepdims=True)])
    index = np.arange(n)
    faces = np.stack([index, np.full(n, n), np.roll(index, -1)], axis=-1)
    return Mesh(points, faces, np.zeros((n + 1, 2)))


def rounded_section(width: float, thickness: float, radius: float) -> np.ndarray:
    """Outline (k, 2) of a rectangle with rounded corners, counter-clockwise."""
    out = []
    for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        centre = np.array([sx * (width / 2 - radius), sy * (thickness / 2 - radius)])
        angles = np.linspace(0, math.pi / 2, 4) + k * math.pi / 2
        out.append(centre + radius * np.stack([np.cos(angles), np.sin(angles)], -1))
    return np.concatenate(out)


def lead_path(size: PackageSize, joint: Joint) -> np.ndarray:
    """Middle line of a lead with its bend: (n, 3) from the toe, aside, height, mm."""
    line = lead_line(size, joint)
    run = smooth_step(line[:, 0], line[0, 0] + 0.3, 0.0)
    return np.stack([line[:, 0], joint.bend_mm * run, line[:, 1]], axis=-1)


def lead_mesh(size: PackageSize, joint: Joint) -> Mesh:
    """Return one gull-wing lead; origin below the toe, x outward."""
    c = size.lead_thickness_mm
    path = lead_path(size, joint)
    return sweep(path, rounded_section(size.lead_width_mm, c, 0.22 * c))


def rounded_box(size_mm: tuple[float, float, float], radius: float) -> Mesh:
    """Return a box standing on z = 0 with rounded edges."""
    length, width, height = size_mm
    section = rounded_section(width, height, radius)
    inset = radius * (1 - np.cos(np.linspace(0, math.pi / 2, 4)))[::-1]
    scale = np.concatenate([inset, inset[::-1]])
    x = np.concatenate(
        [
            -length / 2 + radius * (1 - np.sin(np.linspace(0, math.pi / 2, 4))),
            length / 2 - radius * (1 - np.sin(np.linspace(math.pi / 2, 0, 4))),
        ]
    )
    rings = np.stack(
        [
            np.stack(
                [
                    np.full(len(section), xi),
                    section[:, 0] * (1 - 2 * s / width),
                    section[:, 1] * (1 - 2 * s / height) + height / 2,
                ],
                -1,
            )
            for xi, s in zip(x, scale, strict=True)
        ]
    )
    closed = np.concatenate([rings, rings[:, :1]], axis=1)
    side = grid_mesh(closed[..., 0], closed[..., 1], closed[..., 2])
    box = merge([side, _cap(rings[0]), _cap(rings[-1][::-1])])
    uv = box.vertices_mm[:, :2] / (length, width) + 0.5
    return Mesh(box.vertices_mm, box.faces, uv)


def tube(points_mm: np.ndarray, radius_mm: float) -> Mesh:
    """Return a round thread along points (n, 3)."""
    angles = np.linspace(0, 2 * math.pi, 9)[:-1]
    return sweep(points_mm, radius_mm * np.stack([np.cos(angles), np.sin(angles)], -1))


def sphere(radius_mm: float) -> Mesh:
    """Return a ball round the origin."""
    down, round_ = np.meshgrid(
        np.linspace(0, math.pi, 13), np.linspace(0, 2 * math.pi, 25), indexing="ij"
    )
    x, y = np.sin(down) * np.cos(round_), np.sin(down) * np.sin(round_)
    return grid_mesh(radius_mm * x, radius_mm * y, radius_mm * np.cos(down))


def vertex_normals(mesh: Mesh) -> np.ndarray:
    """Area-weighted unit normals (n, 3)."""
    p = mesh.vertices_mm[mesh.faces]
    face = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    total = np.zeros_like(mesh.vertices_mm)
    for k in range(3):
        np.add.at(total, mesh.faces[:, k], face)
    normals: np.ndarray = total / np.maximum(
        np.linalg.norm(total, axis=1, keepdims=True), 1e-12
    )
    return normals
