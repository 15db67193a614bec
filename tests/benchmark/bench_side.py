"""How many lifted feet a side view shows, and how many sound ones it doubts.

    python tests/benchmark/bench_side.py FOLDER --photos 40

Path-traces the demo's side view anew (20 s a photo, needs mitsuba) with other joints,
lifts, cameras and lamps, keeps photos and truth in FOLDER, and counts the answers.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

from models.scenes.description import Joint
from models.scenes.phone import develop, encode_jpeg
from models.scenes.samples import samples
from vision.load import load_photo
from vision.results import NotFound
from vision.side_view import read_side
from vision.tables import variants_of

LIFTS_MM = (0.0, 0.05, 0.1, 0.2, 0.3)
KINDS = ("good", "good", "good", "starved", "excess")
ROW = 4


def main() -> None:
    """Render what is not there yet, then count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--photos", type=int, default=40)
    parser.add_argument("--width", type=int, default=800)
    parser.add_argument("--seed", type=int, default=7)
    args = parser.parse_args()
    args.folder.mkdir(parents=True, exist_ok=True)
    counts: Counter[tuple[float, str]] = Counter()
    for number in range(args.photos):
        path = args.folder / f"{number:03d}.jpg"
        truth = path.with_suffix(".json")
        if not truth.exists():
            render_one(number, args.seed, args.width, path)
        known = json.loads(truth.read_text())
        counts.update(answers(path, known["lift"], known["lead"]))
    for lift in LIFTS_MM:
        said = {s: n for (mm, s), n in counts.items() if mm == lift}
        print(f"lifted {lift:.2f} mm: {sum(said.values()):3d} feet", end="")
        for state in ("ok", "unsure", "fault", "row not read"):
            print(f"  {state} {said.get(state, 0)}", end="")
        print()


def answers(path: Path, lift_mm: float, lead: int) -> list[tuple[float, str]]:
    """Give each foot's lift and the state it was given."""
    side = read_side(load_photo(path).pixels, variants_of("SOIC", 8)[0])
    states = (
        ["row not read"] * ROW
        if isinstance(side, NotFound)
        else [foot.state for foot in side.feet]
    )
    return [(lift_mm if k == lead else 0.0, state) for k, state in enumerate(states, 1)]


def render_one(number: int, seed: int, width: int, path: Path) -> None:
    """Path-trace one side view and write its truth beside it."""
    from models.scenes.pathtrace import render  # noqa: PLC0415  only where one is made

    rng = np.random.default_rng((seed, number))
    base = next(s.scene for s in samples() if s.name == "side_lifted")
    lift, lead = LIFTS_MM[number % len(LIFTS_MM)], int(rng.integers(1, ROW + 1))
    joints = {
        n: Joint(
            kind=KINDS[rng.integers(5)] if rng.random() < 0.4 else "good",
            is_dull=bool(rng.random() < 0.25),
        )
        for n in range(1, ROW + 1)
    }
    if lift:
        joints[lead] = Joint(lift_mm=lift)
    camera = replace(
        base.camera,
        tilt_deg=float(rng.uniform(62, 78)),
        azimuth_deg=float(rng.uniform(-4, 4)),
        roll_deg=float(rng.uniform(-4, 4)),
        view_mm=float(rng.uniform(7.5, 11)),
        target_mm=(float(rng.uniform(-0.4, 0.4)), float(rng.uniform(1.2, 2.2))),
        width_px=width,
        height_px=width * 3 // 4,
    )
    light = replace(
        base.light,
        lamp_azimuth_deg=float(rng.uniform(150, 300)),
        lamp_elevation_deg=float(rng.uniform(30, 60)),
    )
    chip = replace(
        base.chip,
        joints=joints,
        skew_deg=float(rng.normal(0, 0.5)),
        dx_mm=float(rng.normal(0, 0.04)),
        dy_mm=float(rng.normal(0, 0.04)),
    )
    scene = replace(
        base, chip=chip, camera=camera, light=light, seed=number, shot_seed=number
    )
    picture = develop(
        render(scene, samples=16), scene.phone, np.random.default_rng(number)
    )
    path.write_bytes(encode_jpeg(picture, scene.phone))
    truth = {"lift": lift, "lead": lead if lift else 0, "tilt_deg": camera.tilt_deg}
    path.with_suffix(".json").write_text(json.dumps(truth))


if __name__ == "__main__":
    main()
