"""Whole scenes as meshes, for packages and joints of every kind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.scenes.assemble import assemble
from models.scenes.description import (
    Ball,
    Board,
    Bridge,
    Camera,
    Chip,
    Joint,
    Mould,
    PackageSize,
    Scene,
)
from tests.unit.scenes.sizes import DUAL, QUAD

SON = PackageSize(
    family="SON",
    lead_count=8,
    pitch_mm=1.27,
    body_x_mm=6.0,
    body_y_mm=5.0,
    span_x_mm=6.0,
    lead_width_mm=0.4,
    foot_mm=0.6,
    height_mm=0.75,
    standoff_mm=0.02,
    land_length_mm=0.75,
    land_width_mm=0.5,
    land_span_x_mm=6.15,
    thermal_pad_mm=(3.4, 4.3),
)
JOINTS = {
    1: Joint(kind="starved"),
    2: Joint(kind="excess", is_dull=True),
    3: Joint(lift_mm=0.2),
    4: Joint(bend_mm=0.1),
}


def _scene(size: PackageSize) -> Scene:
    bridges = (
        Bridge(between=(5, 6), kind="toe"),
        Bridge(between=(6, 7), kind="shoulder"),
        Bridge(between=(7, 8), kind="whisker"),
    )
    mould = Mould(lines=("EEL 8",), ejector_mm=1.0, paint_dot_mm=(1.0, 1.0))
    chip = Chip(size=size, mould=mould, joints=JOINTS, bridges=bridges, tilt_mm=0.02)
    board = Board(width_mm=13.0, height_mm=13.0)
    return Scene(board=board, chip=chip, camera=Camera(view_mm=12.0), dust_count=2)


@pytest.mark.parametrize("size", [DUAL, QUAD, SON], ids=lambda s: s.family)
def test_every_kind_of_joint_becomes_a_sound_mesh(size: PackageSize) -> None:
    items = assemble(_scene(size))
    names = [item.name for item in items]
    assert len(set(names)) == len(names)
    leads = [name for name in names if name.startswith("chip_lead_")]
    assert len(leads) == size.lead_count
    assert {"chip_body", "chip_solder", "chip_dull_solder", "chip_whiskers"} < set(
        names
    )
    for item in items:
        assert np.isfinite(item.mesh.vertices_mm).all()
        assert item.mesh.faces.max() < len(item.mesh.vertices_mm)
        assert np.abs(item.mesh.vertices_mm[:, 2]).max() < 4.0


def test_every_whisker_and_ball_is_there_and_balls_lie_on_the_board() -> None:
    scene = _scene(DUAL)
    assert scene.chip is not None
    threads = tuple(Bridge(between=(n, n + 1), kind="whisker") for n in (1, 3, 5))
    balls = (Ball(at_mm=(3.0, 1.0), radius_mm=0.1), Ball(at_mm=(-3, 0), radius_mm=0.2))
    chip = replace(scene.chip, bridges=threads, balls=balls)
    meshes = {i.name: i.mesh for i in assemble(replace(scene, chip=chip))}
    one = {i.name: i.mesh for i in assemble(scene)}["chip_whiskers"]
    assert len(meshes["chip_whiskers"].faces) == 3 * len(one.faces)
    points = meshes["chip_balls"].vertices_mm
    for ball in balls:
        middle = np.array([*ball.at_mm, ball.radius_mm])
        away = np.linalg.norm(points - middle, axis=1)
        assert np.isclose(away, ball.radius_mm, rtol=1e-6).sum() == len(points) / 2


def test_same_seeds_same_meshes() -> None:
    first, again = assemble(_scene(DUAL)), assemble(_scene(DUAL))
    for one, two in zip(first, again, strict=True):
        assert (one.mesh.vertices_mm == two.mesh.vertices_mm).all()


def test_shot_seed_changes_the_chip_and_not_the_board() -> None:
    scene = _scene(DUAL)
    first = {i.name: i for i in assemble(scene)}
    other = {i.name: i for i in assemble(replace(scene, shot_seed=5))}
    old, new = first["board"].maps, other["board"].maps
    assert old is not None
    assert new is not None
    assert (old.colour == new.colour).all()
    heights = [d["chip_solder"].mesh.vertices_mm[:, 2] for d in (first, other)]
    assert not np.array_equal(*heights)


@pytest.mark.parametrize(("what", "axis"), [("tilt_mm", 0), ("lean_mm", 1)])
def test_a_chip_leans_to_the_side_it_is_told_to(what: str, axis: int) -> None:
    scene = _scene(DUAL)
    flat_chip = replace(scene.chip, tilt_mm=0.0, bridges=())
    level = replace(scene, chip=flat_chip)
    leaning = replace(scene, chip=replace(flat_chip, **{what: 0.3}))
    flat, risen = (
        next(i for i in assemble(s) if i.name == "chip_body").mesh.vertices_mm
        for s in (level, leaning)
    )
    rise = (risen - flat)[:, 2]
    size = (DUAL.body_x_mm, DUAL.body_y_mm)[axis]
    assert np.allclose(rise, 0.3 * (flat[:, axis] / size + 0.5))
