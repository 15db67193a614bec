"""Random rows of feet seen from the side, for the network that finds feet there.

Numbers only; ``models.side.render`` path-traces them.  The row that matters faces the
lower edge of the board, above which the camera leans.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from models.joints.scenes import (
    draw_board,
    draw_flux,
    draw_joints,
    draw_mould,
    draw_variant,
    package_size,
    shoot,
)
from models.scenes.description import Camera, Chip, Part, Pose, Scene
from vision.tables import variants_of

if TYPE_CHECKING:
    from models.scenes.description import PackageSize
    from vision.packages import Variant

PLACES = ("toe_px", "land_px", "shoulder_px")
"""What is known of each lead of a row, in the order of the network's maps."""
SOIC_SHARE = 0.5
"""Most rows that are looked at from the side are of these."""
SIDE_TILT_DEG, ABOVE_TILT_DEG = (58.0, 82.0), (0.0, 35.0)
"""From the side; and from above, where no row is to be found."""
ABOVE_SHARE = 0.12
SMALL_PARTS = (
    # length, width, height, land length, land width, land span, mm
    ("resistor", 1.6, 0.8, 0.45, 0.8, 0.9, 2.4),
    ("capacitor", 1.6, 0.8, 0.8, 0.8, 0.9, 2.4),
    ("resistor", 2.0, 1.25, 0.5, 1.0, 1.3, 3.0),
    ("capacitor", 2.0, 1.25, 1.25, 1.0, 1.3, 3.0),
    ("capacitor", 1.0, 0.5, 0.5, 0.5, 0.6, 1.5),
)


def draw_side_scene(rng: np.random.Generator, seed: int) -> Scene:
    """Draw a board with a chip, parts about it, and now and then a second chip.

    Parameters
    ----------
    rng : numpy.random.Generator
    seed : int
        Settles wear and grain.

    Returns
    -------
    Scene
        Without a camera of its own; see ``shoot_side``.
    """
    size = package_size(_variant(rng), rng)
    chip = replace(_chip(size, rng), home=Pose(angle_deg=_facing(rng)))
    reach = max(size.span_x_mm, size.span_y_mm, size.body_y_mm, size.land_span_x_mm)
    board = draw_board(size, 2.2 * reach, rng)
    flux = tuple(draw_flux(reach, rng) for _ in range(int(rng.integers(0, 3))))
    return Scene(
        board=replace(board, flux=flux, traces=(), silk_lines=board.silk_lines[:1]),
        chip=chip,
        neighbours=_neighbours(reach, rng),
        parts=_parts(reach, rng),
        dust_count=int(rng.integers(0, 9)),
        seed=seed,
        shot_seed=seed,
    )


def shoot_side(
    scene: Scene, rng: np.random.Generator, width_px: int, *, from_above: bool
) -> Scene:
    """Take a photo of the chip's lower row from the side, or of the chip from above.

    Parameters
    ----------
    scene : Scene
    rng : numpy.random.Generator
    width_px : int
        Of the picture; it is three quarters as high.
    from_above : bool

    Returns
    -------
    Scene
    """
    chip = scene.chip
    assert chip is not None
    size = chip.size
    row_mm = size.pitch_mm * size.lead_count / size.side_count
    taken = shoot(scene, row_mm, rng, width_px)
    tilt = ABOVE_TILT_DEG if from_above else SIDE_TILT_DEG
    camera = Camera(
        target_mm=(
            float(rng.normal(0, 0.1 * row_mm)),
            size.span_x_mm / 2 + float(rng.uniform(-0.6, 0.4)),
        ),
        distance_mm=float(rng.uniform(45, 110)),
        view_mm=row_mm / float(rng.uniform(0.3, 0.9)),
        tilt_deg=float(rng.uniform(*tilt)),
        azimuth_deg=float(rng.normal(0, 8)),
        roll_deg=float(rng.normal(0, 5)),
        aperture_mm=float(rng.uniform(0.2, 1.0)),
        focus_shift_mm=float(rng.normal(0, 0.6)),
        width_px=width_px,
        height_px=width_px * 3 // 4,
    )
    return replace(taken, camera=camera)


def _variant(rng: np.random.Generator) -> Variant:
    if rng.random() < SOIC_SHARE:
        sizes = [v for v in variants_of("SOIC") if 8 <= v.lead_count <= 16]
        return sizes[int(rng.integers(len(sizes)))]
    while (variant := draw_variant(rng)).leads_per_side[0] < 3:
        pass
    return variant


def _facing(rng: np.random.Generator) -> float:
    return float(rng.choice([90.0, 270.0]))


def _chip(size: PackageSize, rng: np.random.Generator) -> Chip:
    joints = draw_joints(size, rng)
    lean = float(rng.normal(0, 0.15)) if rng.random() < 0.15 else 0.0
    return Chip(
        size=size,
        mould=draw_mould(rng),
        joints=joints,
        dx_mm=float(rng.normal(0, 0.05)),
        dy_mm=float(rng.normal(0, 0.05)),
        skew_deg=float(rng.normal(0, 0.7)),
        lean_mm=lean,
    )


def _neighbours(reach_mm: float, rng: np.random.Generator) -> tuple[Chip, ...]:
    if rng.random() > 0.3:
        return ()
    size = package_size(_variant(rng), rng)
    apart = (reach_mm + max(size.span_x_mm, size.body_y_mm)) / 2 + 1.0
    home = Pose(x_mm=float(rng.choice([-apart, apart])), angle_deg=_facing(rng))
    return (replace(_chip(size, rng), home=home),)


def _parts(reach_mm: float, rng: np.random.Generator) -> tuple[Part, ...]:
    """Small parts round the chip, before its row too, none on another."""
    parts: list[Part] = []
    for _ in range(int(rng.integers(0, 9))):
        kind, length, width, high, land, land_width, span = SMALL_PARTS[
            int(rng.integers(len(SMALL_PARTS)))
        ]
        x = float(rng.uniform(-1.0, 1.0)) * reach_mm
        y = float(rng.choice([-1, 1], p=[0.4, 0.6])) * (
            reach_mm / 2 + float(rng.uniform(1.2, 3.5))
        )
        if any(abs(x - p.pose.x_mm) + abs(y - p.pose.y_mm) < 4.0 for p in parts):
            continue
        parts.append(
            Part(
                kind=kind,
                pose=Pose(x_mm=x, y_mm=y, angle_deg=float(rng.choice([0, 90]))),
                length_mm=length,
                width_mm=width,
                height_mm=high,
                land_length_mm=land,
                land_width_mm=land_width,
                land_span_mm=span,
            )
        )
    return tuple(parts)
