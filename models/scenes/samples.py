"""Make the demo's photos: ``python -m models.scenes.samples OUT [--only NAME] [--preview]``.

The scenario is invented: the calibration memory of a harbour tide-gauge logger is
lifted from a failed board and moved to a spare one.  Every photo is path-traced from
``tide_gauge.py``; nothing in it is a real product, and all answers are known.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from pathlib import Path

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

PATIENT_SEED, DONOR_SEED = 11, 23
SAMPLES, PREVIEW_SAMPLES = 64, 8
HEADER = """\
# Answers to the photos beside this file.  Invented data: the tide-gauge logger, its
# boards and its markings do not exist; every photo is path-traced by
# `python -m models.scenes.samples`, so the answers are exact, not measured.
# Pixels: x right, y down, centres at whole numbers.  Millimetres: board frame, x right,
# y down.  Outlines start at pin 1 and run counter-clockwise; angles are counter-clockwise.
# chip shift_mm, skew_deg, turn_deg: how the chip lies on its footprint, not against another photo.
invented = true
licence = "same as the project"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One photo of the demo."""

    name: str
    stage: str
    shows: str
    scene: Scene


def _memory(*, lines: tuple[str, ...] = tide_gauge.CHIP_MOULD.lines) -> Chip:
    mould = replace(tide_gauge.CHIP_MOULD, lines=lines)
    return Chip(size=tide_gauge.SOIC_8, home=tide_gauge.HOME, mould=mould)


def _donor(chip: Chip | None, shot: int, *, flux: tuple[Flux, ...], camera: Camera, light: Light, phone: Phone) -> Scene:
    """Return the spare board; without a chip its lands lie bare and tinned."""
    board = replace(tide_gauge.bare_board(), flux=flux)
    if chip is None:
        board = board_lands(board, (_memory(),), ())
    return Scene(
        board=board, chip=chip, neighbours=tide_gauge.NEIGHBOURS, parts=tuple(tide_gauge.PARTS.values()),
        camera=camera, light=light, phone=phone, dust_count=9, seed=DONOR_SEED, shot_seed=shot,
    )  # fmt: skip


def _patient() -> Scene:
    """Return the failed board: older, duller, dirtier."""
    board = replace(
        tide_gauge.bare_board(),
        mask_rgb=(0.016, 0.078, 0.030),
        wear=0.9,
        flux=(
            Flux(x_mm=-3.4, y_mm=4.9, radius_mm=2.0, strength=0.8),
            Flux(x_mm=6.2, y_mm=-4.6, radius_mm=1.3, strength=0.7),
            Flux(x_mm=4.6, y_mm=1.0, radius_mm=5.0, strength=0.5, is_fingerprint=True),
        ),
    )
    old = {n: Joint(is_dull=n in (2, 3, 6, 8), kind="excess" if n == 5 else "good") for n in range(1, 9)}
    return Scene(
        board=board, chip=replace(_memory(), dx_mm=0.04, dy_mm=-0.03, skew_deg=0.5, joints=old),
        neighbours=tide_gauge.NEIGHBOURS, parts=tuple(tide_gauge.PARTS.values()),
        camera=Camera(target_mm=(0.3, 0.2), view_mm=18.6, tilt_deg=9, azimuth_deg=-25, roll_deg=3.5, aperture_mm=1.2, focus_shift_mm=0.1),
        light=Light(lamp_azimuth_deg=310, lamp_elevation_deg=50, window_azimuth_deg=100, warmth=0.7, window_strength=0.7),
        phone=Phone(exposure=0.46, red_gain=1.05, blue_gain=1.02, noise=1.3),
        dust_count=26, seed=PATIENT_SEED, shot_seed=1,
    )  # fmt: skip


REWORK_FLUX = (
    Flux(x_mm=-1.9, y_mm=3.3, radius_mm=1.35, strength=0.75),
    Flux(x_mm=0.9, y_mm=3.6, radius_mm=1.5, strength=0.6),
    Flux(x_mm=1.1, y_mm=-3.4, radius_mm=1.6, strength=0.7),
)
WIPED_FLUX = (
    Flux(x_mm=0.4, y_mm=0.3, radius_mm=3.3, strength=0.16),
    Flux(x_mm=2.9, y_mm=-3.2, radius_mm=0.9, strength=0.5),
    Flux(x_mm=-3.8, y_mm=0.8, radius_mm=4.0, strength=0.45, is_fingerprint=True),
)


def samples() -> tuple[Sample, ...]:
    """Describe the nine photos."""
    own = replace(_memory(lines=("TIDE-25C", "CAL 0522", "HARBOUR 7")), dx_mm=-0.03, dy_mm=0.02, skew_deg=-0.3)
    good = replace(_memory(), dx_mm=0.03, dy_mm=-0.02, skew_deg=0.4)
    lifted = replace(good, dx_mm=-0.02, dy_mm=0.03, skew_deg=-0.5, joints={3: Joint(lift_mm=0.25)})
    desk = Light(lamp_azimuth_deg=40, lamp_elevation_deg=56, window_azimuth_deg=205, warmth=0.35)
    return (
        Sample(name="patient_before", stage="before", shows="the memory on the failed board, to be lifted", scene=_patient()),
        Sample(
            name="donor_before", stage="before", shows="the spare board with its own memory",
            scene=_donor(own, 2, flux=(), light=desk, phone=Phone(exposure=0.40, red_gain=1.03, blue_gain=1.08),
                camera=Camera(target_mm=(-0.3, 0.1), view_mm=18.2, tilt_deg=7, azimuth_deg=30, roll_deg=-2.5, aperture_mm=1.2)),
        ),
        Sample(
            name="donor_lands", stage="lands", shows="the spare board's lands, cleaned and tinned",
            scene=_donor(None, 3, flux=WIPED_FLUX, light=replace(desk, lamp_azimuth_deg=75, warmth=0.5),
                phone=Phone(exposure=0.42, red_gain=1.06, blue_gain=0.98),
                camera=Camera(target_mm=(0.4, -0.2), view_mm=17.2, tilt_deg=11, azimuth_deg=10, roll_deg=1.5, aperture_mm=1.3)),
        ),
        Sample(
            name="after_good", stage="after", shows="the memory on the spare board, soldered well",
            scene=_donor(good, 4, flux=REWORK_FLUX[:1], light=replace(desk, lamp_azimuth_deg=20),
                phone=Phone(exposure=0.41, red_gain=1.04, blue_gain=1.05),
                camera=Camera(target_mm=(0.2, 0.2), view_mm=17.6, tilt_deg=8, azimuth_deg=-15, roll_deg=2.2, aperture_mm=1.2)),
        ),
        Sample(
            name="after_turned", stage="after", shows="the memory turned by half a turn on its lands",
            scene=_donor(replace(good, turn_deg=180, dx_mm=-0.04, skew_deg=-0.6), 5, flux=REWORK_FLUX[1:],
                light=replace(desk, lamp_azimuth_deg=330, warmth=0.2), phone=Phone(exposure=0.38, red_gain=0.98, blue_gain=1.12),
                camera=Camera(target_mm=(-0.2, 0.0), view_mm=18.8, tilt_deg=10, azimuth_deg=45, roll_deg=-4.0, aperture_mm=1.3)),
        ),
        Sample(
            name="after_shifted", stage="after", shows="the memory shifted along its rows by almost half a millimetre",
            scene=_donor(replace(good, dx_mm=0.43, dy_mm=-0.13, skew_deg=1.4), 6, flux=REWORK_FLUX[:2],
                light=replace(desk, lamp_azimuth_deg=60, lamp_strength=0.8), phone=Phone(exposure=0.44, red_gain=1.02, blue_gain=1.0, noise=1.4),
                camera=Camera(target_mm=(0.1, -0.1), view_mm=17.0, tilt_deg=6, azimuth_deg=-60, roll_deg=3.0, aperture_mm=1.1)),
        ),
        Sample(
            name="after_bridged", stage="after", shows="solder bridging leads 2 and 3",
            scene=_donor(replace(good, joints={2: Joint(kind="excess"), 3: Joint(kind="excess")}, bridges=(Bridge(between=(2, 3)),)), 7,
                flux=REWORK_FLUX, light=replace(desk, lamp_azimuth_deg=45, warmth=0.6), phone=Phone(exposure=0.42, red_gain=1.07, blue_gain=0.99),
                camera=Camera(target_mm=(0.0, 0.5), view_mm=16.6, tilt_deg=13, azimuth_deg=12, roll_deg=-1.2, aperture_mm=1.3)),
        ),
        Sample(
            name="after_lifted", stage="after", shows="lead 3 standing clear of its land",
            scene=_donor(lifted, 8, flux=REWORK_FLUX[2:], light=replace(desk, lamp_azimuth_deg=290, lamp_elevation_deg=42),
                phone=Phone(exposure=0.42, red_gain=1.02, blue_gain=1.06),
                camera=Camera(target_mm=(0.1, 0.6), view_mm=16.8, tilt_deg=15, azimuth_deg=-8, roll_deg=2.6, aperture_mm=1.3)),
        ),
        Sample(
            name="side_lifted", stage="after", shows="lead 3 standing clear of its land, seen from the side",
            scene=_donor(lifted, 9, flux=REWORK_FLUX[2:], light=replace(desk, lamp_azimuth_deg=215, lamp_elevation_deg=38),
                phone=Phone(exposure=0.44, red_gain=1.03, blue_gain=1.04, noise=1.3),
                camera=Camera(target_mm=(0.0, 2.5), view_mm=9.0, distance_mm=55, tilt_deg=66, azimuth_deg=5, roll_deg=-1.0, aperture_mm=0.9)),
        ),
    )  # fmt: skip


def _as_preview(scene: Scene) -> Scene:
    camera = replace(scene.camera, width_px=scene.camera.width_px // 4, height_px=scene.camera.height_px // 4)
    return replace(scene, camera=camera)


def make(sample: Sample, out: Path, *, preview: bool) -> None:
    """Render one photo and store it as a JPEG in ``out``."""
    from models.scenes.pathtrace import render  # noqa: PLC0415  the truth needs no renderer

    scene = _as_preview(sample.scene) if preview else sample.scene
    light = render(scene, samples=PREVIEW_SAMPLES if preview else SAMPLES)
    picture = develop(light, scene.phone, np.random.default_rng(scene.shot_seed))
    (out / f"{sample.name}.jpg").write_bytes(encode_jpeg(picture, scene.phone))


def main() -> None:
    """Render the photos and write their answers."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("out", type=Path, help="folder for the photos and truth.toml")
    parser.add_argument("--only", help="make this photo alone; truth.toml is written in full")
    parser.add_argument("--preview", action="store_true", help="a quarter of the size, few samples, no truth.toml")
    options = parser.parse_args()
    every = samples()
    wanted = [s for s in every if options.only in (None, s.name)]
    if not wanted:
        parser.error(f"--only {options.only}: no such photo; one of {', '.join(s.name for s in every)}.")
    options.out.mkdir(parents=True, exist_ok=True)
    for sample in wanted:
        make(sample, options.out, preview=options.preview)
    if not options.preview:
        tables = [toml_table(s.name, s.stage, s.shows, s.scene) for s in every]
        (options.out / "truth.toml").write_text(HEADER + "\n" + "\n".join(tables), encoding="utf-8")


if __name__ == "__main__":
    main()
