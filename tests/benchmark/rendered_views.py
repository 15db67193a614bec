"""Photograph the demo's spare board anew, path-traced, with known truth.

    python tests/benchmark/rendered_views.py OUT --views 20 [--move] [--seed 1]

Every view has its own viewpoint, light and phone.  Without ``--move`` the chip lies
still (repeatability); with it each view has its own place of the chip, so that any two
views are a pair of known shift.  Needs the ``train`` extras.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from models.scenes.description import Camera, Light
from models.scenes.phone import develop, encode_jpeg
from models.scenes.samples import samples
from models.scenes.truth import toml_table

if TYPE_CHECKING:
    from models.scenes.description import Scene

STILL = {"dx_mm": 0.06, "dy_mm": -0.04, "skew_deg": 0.4}
MOVED_MM, MOVED_DEG = 0.2, 0.8
WIDTH_PX, SAMPLES = 1200, 16


def scene_of(number: int, rng: np.random.Generator, args: argparse.Namespace) -> Scene:
    """Describe one view."""
    base = next(s for s in samples() if s.name == "after_good").scene
    assert base.chip is not None
    pose = dict(STILL)
    if args.move:
        dx, dy, skew = rng.normal(0, 1, 3) * [MOVED_MM, MOVED_MM, MOVED_DEG]
        pose = {"dx_mm": float(dx), "dy_mm": float(dy), "skew_deg": float(skew)}
    camera = Camera(
        target_mm=tuple(rng.uniform(-0.6, 0.6, 2).tolist()),
        view_mm=float(rng.uniform(16, 20)),
        distance_mm=float(rng.uniform(65, 95)),
        tilt_deg=float(abs(rng.normal(0, args.tilt))),
        azimuth_deg=float(rng.uniform(-180, 180)),
        roll_deg=float(rng.normal(0, 8)),
        aperture_mm=1.2,
        width_px=args.width,
        height_px=args.width * 3 // 4,
    )
    light = Light(
        lamp_azimuth_deg=float(rng.uniform(0, 360)),
        lamp_elevation_deg=float(rng.uniform(40, 65)),
        window_azimuth_deg=float(rng.uniform(0, 360)),
        warmth=float(rng.uniform(0.1, 0.8)),
    )
    phone = replace(
        base.phone,
        exposure=float(rng.uniform(0.38, 0.46)),
        red_gain=float(rng.uniform(0.97, 1.08)),
        blue_gain=float(rng.uniform(1.05, 1.2)),
    )
    return replace(
        base,
        chip=replace(base.chip, **pose),
        camera=camera,
        light=light,
        phone=phone,
        shot_seed=1000 * args.seed + number,
    )


def main() -> None:
    """Render the views and write ``truth.toml`` beside them."""
    from models.scenes.pathtrace import render  # noqa: PLC0415  --help is quick

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--views", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--move", action="store_true")
    parser.add_argument("--tilt", type=float, default=9.0, help="sd, degrees")
    parser.add_argument("--width", type=int, default=WIDTH_PX, help="pixels")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(args.seed)
    tables = []
    for number in range(args.views):
        scene = scene_of(number, rng, args)
        name = f"view_{number:02d}"
        light = render(scene, samples=SAMPLES)
        noise = np.random.default_rng(scene.shot_seed)
        picture = encode_jpeg(develop(light, scene.phone, noise), scene.phone)
        (args.out / f"{name}.jpg").write_bytes(picture)
        tables.append(toml_table(name, "after", f"view {number}", scene))
        (args.out / "truth.toml").write_text("\n".join(tables), encoding="utf-8")
        print(json.dumps({"view": name, "tilt_deg": round(scene.camera.tilt_deg, 1)}))


if __name__ == "__main__":
    main()
