"""Shapes of leads, bodies and solder against what their numbers demand."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from models.scenes.assemble import chip_pools, toe_poses
from models.scenes.description import Bridge, Chip, Joint, Land, Mould, Pose, Trace
from models.scenes.meshes import body_meshes, lead_line, lead_mesh, round_polyline
from models.scenes.routing import route
from models.scenes.solder import Pool, pool_mesh, solve_membrane
from tests.tolerances import ROUNDING_MM
from tests.unit.scenes.sizes import DUAL, QUAD

SOLVED_MM = 1e-9  # left by a direct sparse solver


@pytest.mark.parametrize("size", [DUAL, QUAD])
def test_lead_ends_at_the_toe_and_stands_on_the_board(size) -> None:
    line = lead_line(size, Joint())
    assert line[-1, 0] == 0.0
    bottom = line[-1, 1] - size.lead_thickness_mm / 2
    assert 0 < bottom < 0.05
    assert (np.diff(line[:, 0]) > 0).all()


def test_lift_raises_the_toe_by_what_was_asked() -> None:
    seated, lifted = lead_line(DUAL, Joint()), lead_line(DUAL, Joint(lift_mm=0.25))
    assert lifted[-1, 1] - seated[-1, 1] == pytest.approx(0.25, abs=ROUNDING_MM)
    assert lifted[0, 1] == seated[0, 1]


def test_lead_is_as_wide_as_the_variant_says() -> None:
    mesh = lead_mesh(DUAL, Joint())
    assert np.ptp(mesh.vertices_mm[:, 1]) == pytest.approx(
        DUAL.lead_width_mm, abs=ROUNDING_MM
    )


def test_bent_toe_moves_sideways() -> None:
    straight, bent = lead_mesh(DUAL, Joint()), lead_mesh(DUAL, Joint(bend_mm=0.2))
    moved = bent.vertices_mm[:, 1].max() - straight.vertices_mm[:, 1].max()
    assert moved == pytest.approx(0.2, abs=0.01)  # the lead also swings a little


@pytest.mark.parametrize("size", [DUAL, QUAD])
def test_body_has_the_sizes_of_the_variant(size) -> None:
    upper, lower = body_meshes(size, Mould(has_bevel=True))
    both = np.concatenate([upper.vertices_mm, lower.vertices_mm])
    assert np.ptp(both[:, 0]) == pytest.approx(size.body_x_mm, abs=1e-6)
    assert np.ptp(both[:, 1]) == pytest.approx(size.body_y_mm, abs=1e-6)
    assert both[:, 2].max() == pytest.approx(size.height_mm, abs=0.005)
    assert both[:, 2].min() == pytest.approx(size.standoff_mm, abs=0.005)


def test_dimple_lies_in_the_pin_1_quadrant() -> None:
    upper, _ = body_meshes(DUAL, Mould(pin_mark="dimple"))
    x, y, z = upper.vertices_mm.T
    inner = (np.abs(x) < DUAL.body_x_mm / 2 - 0.25) & (
        np.abs(y) < DUAL.body_y_mm / 2 - 0.25
    )
    sunk = inner & (z < DUAL.height_mm - 0.05)
    assert sunk.any()
    assert (x[sunk] < 0).all()
    assert (y[sunk] < 0).all()


def test_rounded_corner_keeps_its_distance() -> None:
    corner = np.array([(0.0, 0.0), (2.0, 0.0), (2.0, 2.0)])
    arc = round_polyline(corner, 0.5)[1:-1]
    centre = np.array([1.5, 0.5])
    assert np.linalg.norm(arc - centre, axis=1) == pytest.approx(0.5, abs=ROUNDING_MM)


def test_membrane_over_a_long_strip_is_a_parabola() -> None:
    step, cells, pressure = 0.01, 41, 2.0
    fixed = np.ones((3, cells), bool)
    fixed[1, 1:-1] = False
    tall = np.repeat(fixed[1:2], 400, axis=0)
    tall[0], tall[-1] = True, True
    zero = np.zeros(tall.shape)
    h = solve_membrane(tall, zero, zero + pressure, step)
    x = np.arange(cells) * step
    exact = pressure / 2 * x * (x[-1] - x)
    assert h[200] == pytest.approx(exact, abs=1e-6)  # the ends are five widths away


def test_membrane_keeps_what_is_fixed() -> None:
    rng = np.random.default_rng(3)
    fixed = rng.random((20, 30)) < 0.4
    fixed[0], fixed[-1], fixed[:, 0], fixed[:, -1] = True, True, True, True
    height = rng.random(fixed.shape)
    h = solve_membrane(fixed, height, np.zeros(fixed.shape), 0.1)
    assert (h[fixed] == height[fixed]).all()
    assert h.max() <= height[fixed].max() + SOLVED_MM


def test_pool_ends_on_the_edge_of_its_land() -> None:
    land = Land(pose=Pose(), length_mm=1.2, width_mm=0.6)
    mesh = pool_mesh(Pool(lands=(land,)), np.random.default_rng(0))
    assert np.abs(mesh.vertices_mm[:, 0]).max() == pytest.approx(0.6, abs=0.002)
    assert np.abs(mesh.vertices_mm[:, 1]).max() == pytest.approx(0.3, abs=0.002)
    assert mesh.vertices_mm[:, 2].max() > 0.02


def test_each_seated_lead_has_its_own_pool() -> None:
    pools = chip_pools(Chip(size=DUAL))
    assert [len(p.lands) for p in pools] == [1] * 8
    assert [len(p.feet) for p in pools] == [1] * 8


def test_lifted_lead_leaves_its_solder_alone() -> None:
    pools = chip_pools(Chip(size=DUAL, joints={3: Joint(lift_mm=0.25)}))
    assert [len(p.feet) for p in pools] == [1, 1, 0, 1, 1, 1, 1, 1]


def test_bridge_joins_two_pools() -> None:
    pools = chip_pools(Chip(size=DUAL, bridges=(Bridge(between=(2, 3)),)))
    assert sorted(len(p.lands) for p in pools) == [1] * 6 + [2]
    joined = next(p for p in pools if len(p.lands) == 2)
    heights = {round(p.pose.y_mm, 3) for p in joined.lands}
    assert heights == {-0.635, 0.635}


def test_half_turn_puts_lead_1_on_the_land_of_lead_5() -> None:
    chip = Chip(size=DUAL, turn_deg=180)
    toe = chip.pose.apply((toe_poses(DUAL)[0].x_mm, toe_poses(DUAL)[0].y_mm))
    home = toe_poses(DUAL)[4]
    assert toe == pytest.approx((home.x_mm, home.y_mm), abs=ROUNDING_MM)


def test_tracks_keep_clear_of_lands_that_are_not_theirs() -> None:
    lands = tuple(
        Land(pose=Pose(x_mm=x), length_mm=1.0, width_mm=1.0) for x in (-4, 0, 4)
    )
    (track,) = route((16.0, 10.0), lands, [((-4.0, 0.0), (4.0, 0.0), 0.2)])
    assert track.points_mm[0] == (-4.0, 0.0)
    assert track.points_mm[-1] == (4.0, 0.0)
    assert _clearance(track) > 0.5 + 0.1


def test_no_way_no_track() -> None:
    wall = Land(pose=Pose(), length_mm=0.5, width_mm=12.0)
    assert route((16.0, 10.0), (wall,), [((-4.0, 0.0), (4.0, 0.0), 0.2)]) == ()


def _clearance(track: Trace) -> float:
    """Least distance, in the larger of x and y, of a track from the origin."""
    points = np.array(track.points_mm)
    f = np.linspace(0, 1, 200)[:, None]
    along = [a + f * (b - a) for a, b in pairwise(points)]
    return float(np.abs(np.concatenate(along)).max(axis=1).min())
