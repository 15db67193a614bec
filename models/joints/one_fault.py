"""Boards of ``scenes.py`` with one fault alone: loose balls, or a tilted chip."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from models.joints.scenes import sound_joints
from models.scenes.description import Ball, package_lands

if TYPE_CHECKING:
    from models.joints.scenes import Case
    from models.scenes.description import PackageSize

BALL_SHARE = 0.7


def with_balls(case: Case, rng: np.random.Generator) -> Case:
    """Lay loose balls of solder between and beside the leads, on some boards.

    Parameters
    ----------
    case : Case
    rng : numpy.random.Generator

    Returns
    -------
    Case
        Only the board after is another one.
    """
    chip = case.after.chip
    assert chip is not None
    if rng.random() > BALL_SHARE:
        return case
    balls = tuple(_ball(chip.size, rng) for _ in range(int(rng.integers(1, 5))))
    return replace(case, after=replace(case.after, chip=replace(chip, balls=balls)))


def with_tilt(case: Case, rng: np.random.Generator) -> Case:
    """Tilt the chip across, all joints made as sound ones are, on half of the boards.

    Parameters
    ----------
    case : Case
    rng : numpy.random.Generator

    Returns
    -------
    Case
        Only the chip after is another one: level, or one row 0.05 to 0.4 mm high.
    """
    chip = case.after.chip
    assert chip is not None
    size = chip.size
    side, high_mm = int(rng.choice([-1, 0, 0, 1])), float(rng.uniform(0.05, 0.4))
    ratio = size.body_x_mm / size.span_x_mm
    # The body turns about its own edge: the low row is brought back to its lands.
    up_mm = abs(side) * high_mm * (1 - side * ratio) / 2
    sound = sound_joints(size, rng).items()
    after = replace(
        chip,
        joints={n: replace(joint, lift_mm=up_mm) for n, joint in sound},
        bridges=(),
        tilt_mm=side * high_mm * ratio,
    )
    return replace(case, after=replace(case.after, chip=after))


def _ball(size: PackageSize, rng: np.random.Generator) -> Ball:
    lands = package_lands(size)[: size.lead_count]
    per_side = size.lead_count // size.side_count
    k = int(rng.integers(per_side - 1)) + per_side * int(rng.integers(size.side_count))
    gap = size.pitch_mm - size.land_width_mm
    x, y = np.mean([(p.pose.x_mm, p.pose.y_mm) for p in lands[k : k + 2]], axis=0)
    middle = replace(lands[k].pose, x_mm=float(x), y_mm=float(y))
    out = float(rng.uniform(-0.8, 0.7)) * size.land_length_mm
    aside = float(rng.uniform(-0.2, 0.2)) * gap
    if rng.random() < 0.2:
        out, aside = (float(v) for v in rng.uniform(-1.5, 1.5, 2))
    return Ball(
        at_mm=middle.apply((out, aside)),
        radius_mm=min(float(rng.uniform(0.15, 0.45)) * gap, 0.3),
    )
