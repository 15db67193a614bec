"""Path-trace rows of feet seen from the side, with exact truth.

    python -m models.side.render OUT --boards 500 --seed 1 [--views 4] [--samples 64]

OUT gets ``NNNNN_V.jpg`` and ``NNNNN.json``: of each photo the rows that face the
camera, with toes, outer ends of lands and shoulders in pixels and each lead's lift.
A run can be stopped and taken up again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from models.scenes.assemble import toe_poses
from models.scenes.boards import render_boards
from models.scenes.description import package_lands
from models.scenes.meshes import lead_line, parting_z_mm
from models.scenes.viewpoint import eye, project, px_per_mm
from models.side.scenes import ABOVE_SHARE, PLACES, draw_side_scene, shoot_side

if TYPE_CHECKING:
    from models.scenes.description import Chip, Scene

WIDTH_PX, SAMPLES = 640, 64
LEAST_FACING = 0.5
"""Cosine between a row's direction outward and that to the camera, on the board."""


def main() -> None:
    """Render boards until so many are there."""
    render_boards(
        (__doc__ or "").splitlines()[0], draw_side_scene, _shoot, truth,
        width_px=WIDTH_PX, samples=SAMPLES,
    )  # fmt: skip


def _shoot(scene: Scene, rng: np.random.Generator, width_px: int) -> Scene:
    from_above = bool(rng.random() < ABOVE_SHARE)
    return shoot_side(scene, rng, width_px, from_above=from_above)


def truth(scene: Scene, name: str) -> dict[str, Any]:
    """Say which rows of feet a photo shows, and where.

    Parameters
    ----------
    scene : Scene
    name : str
        Of the file.

    Returns
    -------
    dict
        ``rows``: those that face the camera, the chip that matters first; leads
        from left to right, places in px.
    """
    chips = (*((scene.chip,) if scene.chip else ()), *scene.neighbours)
    return {
        "file": name,
        "tilt_deg": scene.camera.tilt_deg,
        "px_per_mm": px_per_mm(scene.camera),
        "rows": [row for chip in chips for row in _rows(chip, scene)],
    }


def _rows(chip: Chip, scene: Scene) -> list[dict[str, Any]]:
    size = chip.size
    back = -eye(scene.camera).forward * (1.0, -1.0, 1.0)
    per_side = size.lead_count // size.side_count
    toes, lands = toe_poses(size), package_lands(size)
    out = []
    for side in range(size.side_count):
        numbers = range(side * per_side, (side + 1) * per_side)
        start, end = (
            np.array(chip.pose.apply(toes[numbers[0]].apply((t, 0.0)))) for t in (0, 1)
        )
        if (end - start) @ back[:2] / np.hypot(*back[:2]) < LEAST_FACING:
            continue
        leads = [
            _lead_points(chip, k, toes[k], lands[k].pose, lands[k].length_mm)
            for k in numbers
        ]
        px = project(scene.camera, np.array(leads).reshape(-1, 3)).reshape(-1, 3, 2)
        order = np.argsort(px[:, 0, 0])
        out.append(
            {
                "family": size.family,
                "pitch_mm": size.pitch_mm,
                "numbers": [numbers[i] + 1 for i in order],
                "lift_mm": [chip.joint(numbers[i] + 1).lift_mm for i in order],
                "lean_mm": chip.lean_mm,
                **{
                    key: np.round(px[order, c], 2).tolist()
                    for c, key in enumerate(PLACES)
                },
            }
        )
    return out


def _lead_points(
    chip: Chip, index: int, toe: Any, land: Any, land_mm: float
) -> list[tuple[float, float, float]]:
    """Toe, outer end of the land and shoulder of one lead, board frame, mm."""
    size, joint = chip.size, chip.joint(index + 1)
    line = lead_line(size, joint)
    inward = -(size.span_x_mm - size.body_x_mm) / 2
    out = []
    for (x, y), z in (
        (toe.apply((0.0, joint.bend_mm)), float(line[-1, 1])),
        (toe.apply((inward, 0.0)), parting_z_mm(size)),
    ):
        bx, by = chip.pose.apply((x, y))
        out.append((bx, by, z + chip.rise_mm(x, y)))
    end = chip.home.apply(land.apply((land_mm / 2, 0.0)))
    return [out[0], (*end, 0.0), out[1]]


if __name__ == "__main__":
    main()
