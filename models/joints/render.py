"""Path-trace chips with sound and faulty joints, with exact truth.

    python -m models.joints.render OUT --boards 600 --seed 1 [--balls | --tilted]

Each board gives one photo of before and two of after.  OUT gets ``NNNNN_V.jpg``
and ``truth.jsonl``, one line a photo: the package, its outline and leads in pixels,
and what is wrong with each joint.  A run can be stopped and taken up again.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from models.joints.one_fault import with_balls, with_tilt
from models.joints.scenes import Case, draw_case, shoot
from models.scenes.assemble import assemble
from models.scenes.pathtrace import render
from models.scenes.phone import develop, encode_jpeg
from models.scenes.viewpoint import (
    board_homography,
    body_outline_px,
    lead_truth,
    px_per_mm,
)
from vision.geometry import apply_homography

if TYPE_CHECKING:
    from models.scenes.description import Scene

SAMPLES = 16
AFTER_VIEWS = 2


def main() -> None:
    """Render boards until so many are there."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--boards", type=int, default=600)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--width", type=int, default=288)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--samples", type=int, default=SAMPLES)
    only = parser.add_mutually_exclusive_group()
    only.add_argument("--balls", action="store_true", help="loose balls of solder")
    only.add_argument("--tilted", action="store_true", help="one row high, or none")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for k in range(args.first, args.first + args.boards):
        if (args.out / f"{k:05d}.json").exists():
            continue
        rng = np.random.default_rng((args.seed, k))
        case = draw_case(rng, args.seed * 100_000 + k, args.width)
        if args.balls:
            case = with_balls(case, np.random.default_rng((args.seed, k, 1)))
        if args.tilted:
            case = with_tilt(case, np.random.default_rng((args.seed, k, 2)))
        rows = photograph(case, k, args.out, rng, samples=args.samples)
        text = "".join(json.dumps(row) + "\n" for row in rows)
        (args.out / f"{k:05d}.json").write_text(text)


def photograph(
    case: Case,
    number: int,
    out: Path,
    rng: np.random.Generator,
    *,
    samples: int = SAMPLES,
) -> list[dict[str, Any]]:
    """Render the photos of one board and return their truth."""
    rows = []
    for stage, scene, views in (
        ("before", case.before, 1),
        ("after", case.after, AFTER_VIEWS),
    ):
        items = assemble(scene)
        reach = scene.camera.view_mm / 1.45
        for v in range(views):
            shot = scene if v == 0 else shoot(scene, reach, rng, scene.camera.width_px)
            light = render(shot, samples=samples, items=items)
            picture = develop(light, shot.phone, rng)
            name = f"{number:05d}_{stage}{v}.jpg"
            (out / name).write_bytes(encode_jpeg(picture, shot.phone))
            rows.append(
                {"file": name, "board": number, "stage": stage} | truth(case, shot)
            )
    return rows


def truth(case: Case, scene: Scene) -> dict[str, Any]:
    """Say what a photo shows."""
    chip = scene.chip
    assert chip is not None
    scale = px_per_mm(scene.camera)
    to_px = board_homography(scene.camera)
    joints = [chip.joint(n) for n in range(1, chip.size.lead_count + 1)]
    return {
        "variant": case.variant.name,
        "family": case.variant.family,
        "outline_px": np.round(body_outline_px(chip, scene.camera), 2).tolist(),
        "toe_px": [
            np.round(row["toe_px"], 2).tolist()
            for row in lead_truth(chip, scene.camera)
        ],
        "board_mm_to_px": to_px.tolist(),
        "px_per_mm": scale,
        "kind": [j.kind for j in joints],
        "lift_mm": [round(j.lift_mm, 3) for j in joints],
        "bend_mm": [round(j.bend_mm, 3) for j in joints],
        "tilt_mm": chip.tilt_mm,
        "bridges": [[*b.between] for b in chip.bridges],
        "bridge_kinds": [b.kind for b in chip.bridges],
        "balls_px": [
            [
                *apply_homography(to_px, [chip.home.apply(b.at_mm)])[0]
                .round(2)
                .tolist(),
                round(b.radius_mm * scale, 2),
            ]
            for b in chip.balls
        ],
    }


if __name__ == "__main__":
    main()
