"""Where things land in the picture: an exact pinhole projection, without a renderer.

Points are ``_mm`` in the board frame (x right, y down, z up), pixels have their
centres at whole numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from models.scenes.assemble import toe_poses
from models.scenes.description import package_lands
from models.scenes.meshes import DRAFT_DEG, lead_line, parting_z_mm

if TYPE_CHECKING:
    from models.scenes.description import Camera, Chip


@dataclass(frozen=True, slots=True)
class Eye:
    """A camera's position and axes in the renderer's world (x right, y up, z up)."""

    origin: np.ndarray
    right: np.ndarray
    down: np.ndarray
    forward: np.ndarray
    focal_px: float


def eye(camera: Camera) -> Eye:
    """Return where a camera stands and how it is turned."""
    tilt, azimuth = math.radians(camera.tilt_deg), math.radians(camera.azimuth_deg)
    back = np.array(
        [
            math.sin(tilt) * math.sin(azimuth),
            -math.sin(tilt) * math.cos(azimuth),
            math.cos(tilt),
        ]
    )
    target = np.array([camera.target_mm[0], -camera.target_mm[1], 0.0])
    up = np.array([0.0, 1.0, 0.0])
    right = np.cross(up, back)
    right /= np.linalg.norm(right)
    down = np.cross(right, back)
    roll = math.radians(camera.roll_deg)
    turned = math.cos(roll) * right - math.sin(roll) * down
    down = math.sin(roll) * right + math.cos(roll) * down
    focal = camera.width_px * camera.distance_mm / camera.view_mm
    return Eye(target + camera.distance_mm * back, turned, down, -back, focal)


def project(camera: Camera, points_mm: np.ndarray) -> np.ndarray:
    """Project board points to pixels.

    Parameters
    ----------
    camera : Camera
    points_mm : ndarray of shape (n, 3)
        Board frame.

    Returns
    -------
    ndarray of shape (n, 2)
        Pixels.
    """
    view = eye(camera)
    rays = np.asarray(points_mm, float) * (1.0, -1.0, 1.0) - view.origin
    depth = rays @ view.forward
    x, y = rays @ view.right / depth, rays @ view.down / depth
    centre = ((camera.width_px - 1) / 2, (camera.height_px - 1) / 2)
    return np.stack([x, y], -1) * view.focal_px + centre


def board_homography(camera: Camera) -> np.ndarray:
    """Return the 3x3 matrix from board millimetres (x, y, 1) at z = 0 to pixels."""
    view = eye(camera)
    axes = np.stack([view.right, view.down, view.forward])
    flip = np.diag([1.0, -1.0])
    pose = np.column_stack([axes[:, :2] @ flip, -axes @ view.origin])
    lens = np.array(
        [
            [view.focal_px, 0.0, (camera.width_px - 1) / 2],
            [0.0, view.focal_px, (camera.height_px - 1) / 2],
            [0.0, 0.0, 1.0],
        ]
    )
    h = lens @ pose
    unit: np.ndarray = h / h[2, 2]
    return unit


def _chip_points(chip: Chip, points: np.ndarray) -> np.ndarray:
    """Bring package points (n, 3) to the board frame, with the chip's tilt."""
    out = []
    for x, y, z in points:
        bx, by = chip.pose.apply((x, y))
        out.append((bx, by, z + chip.rise_mm(x, y)))
    return np.array(out)


def body_outline_px(chip: Chip, camera: Camera) -> np.ndarray:
    """Corners (4, 2) of the body's silhouette: pin 1 first, then counter-clockwise.

    Each corner is the one of its vertical edge's three ends (lower rim, seam, upper
    rim) that lies farthest out in the picture.
    """
    size = chip.size
    seam = parting_z_mm(size)
    draft = math.tan(math.radians(DRAFT_DEG))
    levels = [
        (seam, 0.0),
        (size.height_mm, (size.height_mm - seam) * draft),
        (size.standoff_mm, (seam - size.standoff_mm) * draft),
    ]
    signs = ((-1, -1), (-1, 1), (1, 1), (1, -1))
    rings = []
    for z, inset in levels:
        hx, hy = size.body_x_mm / 2 - inset, size.body_y_mm / 2 - inset
        rings.append(
            project(
                camera,
                _chip_points(
                    chip, np.array([(sx * hx, sy * hy, z) for sx, sy in signs])
                ),
            )
        )
    stack = np.stack(rings)
    out = np.linalg.norm(stack - stack[0].mean(axis=0), axis=-1)
    corners: np.ndarray = stack[out.argmax(axis=0), np.arange(4)]
    return corners


def lead_truth(chip: Chip, camera: Camera) -> list[dict[str, object]]:
    """Return number, toe, heel and width of every lead in pixels."""
    out: list[dict[str, object]] = []
    size = chip.size
    for n, toe in enumerate(toe_poses(size), 1):
        joint = chip.joint(n)
        line = (
            lead_line(size, joint)
            if size.has_leads
            else np.array([(-size.foot_mm, 0.05), (0, 0.05)])
        )
        z = line[-1, 1]
        half = size.lead_width_mm / 2
        along = [(0.0, 0.0), (-size.foot_mm, -joint.bend_mm), (0.0, half), (0.0, -half)]
        points = [(*toe.apply((t, s + joint.bend_mm)), z) for t, s in along]
        px = project(camera, _chip_points(chip, np.array(points)))
        out.append(
            {
                "number": n,
                "toe_px": px[0],
                "heel_px": px[1],
                "width_px": float(np.linalg.norm(px[2] - px[3])),
            }
        )
    return out


def land_truth(chip: Chip, camera: Camera) -> np.ndarray:
    """Return the corners (n, 4, 2) in pixels of the lands of leads 1..n."""
    corners = []
    for land in package_lands(chip.size)[: chip.size.lead_count]:
        hx, hy = land.length_mm / 2, land.width_mm / 2
        pose = chip.home.then(land.pose)
        corners += [
            (*pose.apply(p), 0.0) for p in ((hx, -hy), (-hx, -hy), (-hx, hy), (hx, hy))
        ]
    return project(camera, np.array(corners)).reshape(-1, 4, 2)


def px_per_mm(camera: Camera) -> float:
    """Return the scale along the picture's rows, at the camera's target."""
    return camera.width_px / camera.view_mm
