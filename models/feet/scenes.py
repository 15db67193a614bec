"""Random boards seen from above, for the network that measures feet on their lands.

Numbers only; ``models.feet.render`` path-traces them.
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
from models.scenes.description import Chip, Scene

if TYPE_CHECKING:
    from models.scenes.description import PackageSize

MOST_TILT_DEG = 27.0
MOVED_FRAC, SKEW_DEG = 0.18, 1.0
"""How far chips sit off their lands: of a land's width, and turned."""
FAULTY_SHARE = 0.4


def draw_feet_scene(rng: np.random.Generator, seed: int) -> Scene:
    """Draw a board with a chip that sits more or less on its lands.

    Parameters
    ----------
    rng : numpy.random.Generator
    seed : int
        Settles wear and grain.

    Returns
    -------
    Scene
        Without a camera of its own; see ``shoot_above``.
    """
    drawn = package_size(draw_variant(rng), rng)
    size = replace(
        drawn,
        foot_mm=drawn.foot_mm * float(rng.uniform(0.7, 1.05)),
        land_length_mm=drawn.land_length_mm * float(rng.uniform(0.85, 1.1)),
    )
    reach = reach_mm(size)
    flux = tuple(draw_flux(reach, rng) for _ in range(int(rng.integers(0, 3))))
    return Scene(
        board=replace(draw_board(size, reach, rng), flux=flux),
        chip=_chip(size, rng),
        dust_count=int(rng.integers(0, 9)),
        seed=seed,
        shot_seed=seed,
    )


def shoot_above(scene: Scene, rng: np.random.Generator, width_px: int) -> Scene:
    """Take a photo from above, up to ``MOST_TILT_DEG`` off.

    Parameters
    ----------
    scene : Scene
    rng : numpy.random.Generator
    width_px : int
        Of the square picture.

    Returns
    -------
    Scene
    """
    assert scene.chip is not None
    taken = shoot(scene, reach_mm(scene.chip.size), rng, width_px)
    camera = replace(
        taken.camera,
        tilt_deg=float(rng.uniform(0, MOST_TILT_DEG)),
        distance_mm=float(rng.uniform(50, 150)),
        view_mm=taken.camera.view_mm * float(rng.uniform(0.72, 0.95)),
    )
    return replace(taken, camera=camera)


def reach_mm(size: PackageSize) -> float:
    """From side to side of what matters of a package, its lands too."""
    return max(size.span_x_mm, size.land_span_x_mm, size.body_y_mm, size.land_span_y_mm)


def _chip(size: PackageSize, rng: np.random.Generator) -> Chip:
    is_faulty = rng.random() < FAULTY_SHARE
    joints = draw_joints(size, rng)
    if not is_faulty:
        joints = {n: replace(j, lift_mm=0.0, bend_mm=0.0) for n, j in joints.items()}
    dx, dy, skew = rng.normal(0, 1, 3)
    return Chip(
        size=size,
        mould=draw_mould(rng),
        joints=joints,
        dx_mm=float(dx * MOVED_FRAC * size.land_width_mm),
        dy_mm=float(dy * MOVED_FRAC * size.land_width_mm),
        skew_deg=float(skew * SKEW_DEG),
    )
