"""Make the demo's photos: ``python -m models.scenes.samples OUT [--only NAME]``.

The scenario is invented, see ``samples.toml``.  Every photo is path-traced, so its
answers, written to ``truth.toml`` beside it, are known exactly.
"""

from __future__ import annotations

import argparse
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from models.scenes import tide_gauge
from models.scenes.assemble import board_lands
from models.scenes.description import (
    Bridge,
    Camera,
    Chip,
    Flux,
    Joint,
    Light,
    Phone,
    Scene,
)
from models.scenes.phone import develop, encode_jpeg
from models.scenes.truth import toml_table

SAMPLES, PREVIEW_SAMPLES = 24, 8
HEADER = """\
# Answers to the photos beside this file.  Invented data: the tide-gauge logger, its
# boards and its markings do not exist; every photo is path-traced by
# `python -m models.scenes.samples`, so the answers are exact, not measured.
# Pixels: x right, y down, centres at whole numbers.  Millimetres: board frame, x
# right, y down.  Outlines start at pin 1 and run counter-clockwise; angles are
# counter-clockwise.  shift_mm, skew_deg and turn_deg say how the chip lies on its own
# footprint, not against another photo.
invented = true
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One photo of the demo."""

    name: str
    stage: str
    shows: str
    scene: Scene


def _chip(row: dict[str, Any]) -> Chip | None:
    """Place the memory as a row of the table says; None where its lands lie bare."""
    if "chip" not in row:
        return None
    chip = tide_gauge.chips()[tide_gauge.MEMORY]
    lines = tuple(row.get("marking", chip.mould.lines))
    joints = {int(n): Joint(**joint) for n, joint in row.get("joints", {}).items()}
    bridges = tuple(
        Bridge(between=tuple(b["between"]), kind=b["kind"])
        for b in row.get("bridges", ())
    )
    mould = replace(chip.mould, lines=lines)
    return replace(chip, mould=mould, joints=joints, bridges=bridges, **row["chip"])


def _scene(row: dict[str, Any], data: dict[str, Any], shot: int) -> Scene:
    wear = dict(data["board"][row["board"]])
    seed, dust = wear.pop("seed"), wear.pop("dust_count")
    flux = tuple(Flux(**data["flux"][name]) for name in row.get("flux", ()))
    board = replace(tide_gauge.bare_board(), flux=flux, **wear)
    chip = _chip(row)
    neighbours = dict(tide_gauge.chips())
    memory = neighbours.pop(tide_gauge.MEMORY)
    if chip is None:
        board = board_lands(board, (memory,), ())
    return Scene(
        board=board,
        chip=chip,
        neighbours=tuple(neighbours.values()),
        parts=tuple(tide_gauge.parts().values()),
        camera=Camera(**row["camera"]),
        light=Light(**row["light"]),
        phone=Phone(**row["phone"]),
        dust_count=dust,
        seed=seed,
        shot_seed=shot,
    )


def samples() -> tuple[Sample, ...]:
    """Describe the demo's photos."""
    text = Path(__file__).with_suffix(".toml").read_text(encoding="utf-8")
    data = tomllib.loads(text)
    return tuple(
        Sample(
            name=row["name"],
            stage=row["stage"],
            shows=row["shows"],
            scene=_scene(row, data, shot),
        )
        for shot, row in enumerate(data["photo"], start=1)
    )


def _as_preview(scene: Scene) -> Scene:
    width, height = scene.camera.width_px // 4, scene.camera.height_px // 4
    return replace(
        scene, camera=replace(scene.camera, width_px=width, height_px=height)
    )


def make(sample: Sample, out: Path, *, preview: bool) -> None:
    """Render one photo and store it as a JPEG in ``out``."""
    from models.scenes.pathtrace import render  # noqa: PLC0415  truth needs no renderer

    scene = _as_preview(sample.scene) if preview else sample.scene
    light = render(scene, samples=PREVIEW_SAMPLES if preview else SAMPLES)
    picture = develop(light, scene.phone, np.random.default_rng(scene.shot_seed))
    (out / f"{sample.name}.jpg").write_bytes(encode_jpeg(picture, scene.phone))


def main() -> None:
    """Render the photos and write their answers."""
    parser = argparse.ArgumentParser(description="Make the demo's photos.")
    parser.add_argument("out", type=Path, help="folder for the photos and truth.toml")
    parser.add_argument("--only", metavar="NAME", help="make this photo alone")
    parser.add_argument(
        "--preview",
        action="store_true",
        help="a quarter of the size, few samples, no truth.toml",
    )
    options = parser.parse_args()
    every = samples()
    names = [s.name for s in every]
    if options.only not in (None, *names):
        known = ", ".join(names)
        parser.error(f"--only {options.only}: no such photo; one of {known}.")
    options.out.mkdir(parents=True, exist_ok=True)
    if not options.preview:
        tables = [toml_table(s.name, s.stage, s.shows, s.scene) for s in every]
        text = HEADER + "\n" + "\n".join(tables)
        (options.out / "truth.toml").write_text(text, encoding="utf-8")
    for sample in every:
        if options.only in (None, sample.name):
            make(sample, options.out, preview=options.preview)


if __name__ == "__main__":
    main()
