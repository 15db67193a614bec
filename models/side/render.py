"""Path-trace rows of feet seen from the side, with exact truth.

    python -m models.side.render OUT --boards 500 --seed 1 [--views 4] [--samples 64]

OUT gets ``NNNNN_V.jpg`` and ``NNNNN.json``: of each photo the rows that face the
camera, with toes, outer ends of lands and shoulders in pixels and each lead's lift.
A run can be stopped and taken up again.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from models.scenes.assemble import assemble, toe_poses
from models.scenes.description import package_lands
from models.scenes.meshes import lead_line, parting_z_mm
from models.scenes.pathtrace import render
from models.scenes.phone import develop, encode_jpeg
from models.scenes.viewpoint import eye, project, px_per_mm
from models.side.scenes import ABOVE_SHARE, PLACES, draw_side_scene, shoot_side

if TYPE_CHECKING:
    from models.scenes.description import Chip, Scene

WIDTH_PX, SAMPLES, VIEWS = 640, 64, 4
LEAST_FACING = 0.5
"""Cosine between a row's direction outward and that to the camera, on the board."""


def main() -> None:
    """Render boards until so many are there."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--boards", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--views", type=int, default=VIEWS)
    parser.add_argument("--width", type=int, default=WIDTH_PX)
    parser.add_argument("--samples", type=int, default=SAMPLES)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for k in range(args.first, args.first + args.boards):
        told = args.out / f"{k:05d}.json"
        if told.exists():
            continue
        rng = np.random.default_rng((args.seed, k))
        scene = draw_side_scene(rng, args.seed * 100_000 + k)
        items = assemble(scene)
        rows = []
        for v in range(args.views):
            shot = shoot_side(
                scene, rng, args.width, from_above=bool(rng.random() < ABOVE_SHARE)
            )
            light = render(shot, samples=args.samples, items=items)
            name = f"{k:05d}_{v}.jpg"
            picture = develop(light, shot.phone, rng)
            (args.out / name).write_bytes(encode_jpeg(picture, shot.phone))
            rows.append(truth(shot, name))
        told.write_text(json.dumps(rows))


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
