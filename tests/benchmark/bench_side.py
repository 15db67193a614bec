"""How many lifted feet a side view shows, and how many sound ones it doubts.

    python tests/benchmark/bench_side.py FOLDER --photos 40
    python tests/benchmark/bench_side.py ALONG --photos 14 --seed 21 --lean along
    python tests/benchmark/bench_side.py ACROSS --photos 7 --seed 22 --lean across

Path-traces the demo's side view anew (20 s a photo, needs mitsuba) with other joints,
lifts, cameras and lamps, keeps photos and truth in FOLDER, and counts the answers.
With ``--lean`` no foot is lifted, but the whole chip leans along the row, or across it,
so that the whole row stands high or low.
"""

from __future__ import annotations

import argparse
import json
import math
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
LEANS_MM = (0.0, 0.1, -0.1, 0.2, -0.2, 0.3, -0.3)
"""How much higher the body stands at one of its edges than at the other."""
ROW = 4


def main() -> None:
    """Render what is not there yet, then count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--photos", type=int, default=40)
    parser.add_argument("--width", type=int, default=800)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--lean", choices=("along", "across"))
    args = parser.parse_args()
    args.folder.mkdir(parents=True, exist_ok=True)
    known = {}
    for number in range(args.photos):
        path = args.folder / f"{number:03d}.jpg"
        truth = path.with_suffix(".json")
        if not truth.exists():
            render_one(number, args, path)
        known[path] = json.loads(truth.read_text())
    (print_leans if args.lean else print_lifts)(known)


def print_lifts(known: dict[Path, dict[str, float]]) -> None:
    """Count how feet were judged, by how high they truly stood."""
    counts: Counter[tuple[float, str]] = Counter()
    for path, truth in known.items():
        counts.update(answers(path, truth["lift"], int(truth["lead"])))
    for lift in LIFTS_MM:
        said = {s: n for (mm, s), n in counts.items() if mm == lift}
        print(f"lifted {lift:.2f} mm: {sum(said.values()):3d} feet", end="")
        for state in ("ok", "unsure", "fault", "row not read"):
            print(f"  {state} {said.get(state, 0)}", end="")
        print()


def print_leans(known: dict[Path, dict[str, float]]) -> None:
    """Say what is told of a row whose chip leans, beside how much it does."""
    for path, truth in known.items():
        side = read_side(load_photo(path).pixels, variants_of("SOIC", 8)[0])
        said = f"not read: {side.reason}" if isinstance(side, NotFound) else side.state
        print(f"{path.name}: leans by {truth['lean_deg']:+.1f} degrees; {said}")


def answers(path: Path, lift_mm: float, lead: int) -> list[tuple[float, str]]:
    """Give each foot's lift and the state it was given."""
    side = read_side(load_photo(path).pixels, variants_of("SOIC", 8)[0])
    states = (
        ["row not read"] * ROW
        if isinstance(side, NotFound)
        else [foot.state for foot in side.feet]
    )
    return [(lift_mm if k == lead else 0.0, state) for k, state in enumerate(states, 1)]


def render_one(number: int, args: argparse.Namespace, path: Path) -> None:
    """Path-trace one side view and write its truth beside it."""
    from models.scenes.pathtrace import render  # noqa: PLC0415  only where one is made

    width = args.width
    rng = np.random.default_rng((args.seed, number))
    base = next(s.scene for s in samples() if s.name == "side_lifted")
    lift, lead = LIFTS_MM[number % len(LIFTS_MM)], int(rng.integers(1, ROW + 1))
    lean, lift = (LEANS_MM[number % len(LEANS_MM)], 0.0) if args.lean else (0.0, lift)
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
        lean_mm=lean if args.lean == "along" else 0.0,
        tilt_mm=lean if args.lean == "across" else 0.0,
    )
    scene = replace(
        base, chip=chip, camera=camera, light=light, seed=number, shot_seed=number
    )
    picture = develop(
        render(scene, samples=16), scene.phone, np.random.default_rng(number)
    )
    path.write_bytes(encode_jpeg(picture, scene.phone))
    truth = {
        "lift": lift,
        "lead": lead if lift else 0,
        "tilt_deg": camera.tilt_deg,
        "lean_deg": math.degrees(
            math.atan2(
                lean,
                chip.size.body_x_mm if args.lean == "across" else chip.size.body_y_mm,
            )
        ),
    }
    path.with_suffix(".json").write_text(json.dumps(truth))


if __name__ == "__main__":
    main()
