"""Tilt and parallax from drawn cameras with known truth."""

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from vision.planes import (
    estimate_view,
    parallax,
    stand_at,
)

SIZE = (2400, 1800)
SOIC_LANDS = np.array(
    [
        (sx * x, (i - 1.5) * 1.27 + sy * 0.3)
        for sx in (-1, 1)
        for i in range(4)
        for x in (1.5, 3.45)
        for sy in (-1, 1)
    ]
)
BOARD_ROUND_CHIP = np.array(
    [(x, y) for x in range(-9, 10, 3) for y in range(-9, 10, 3)]
)


class Camera:
    """Pinhole at a distance, tilted by ``tilt_deg`` towards ``azimuth_deg``."""

    def __init__(self, tilt_deg, azimuth_deg, *, px_per_mm=60, focal_px=2200):
        t, a = math.radians(tilt_deg), math.radians(azimuth_deg)
        away = focal_px / px_per_mm
        self.place = away * np.array(
            [math.sin(t) * math.cos(a), math.sin(t) * math.sin(a), math.cos(t)]
        )
        axis = np.array([-math.sin(a), math.cos(a), 0.0])
        # Board frame: x right, y down, z into the board.
        self.turn = Rotation.from_rotvec(axis * t).as_matrix()
        self.focal_px = focal_px
        centre = np.array([self.place[0], self.place[1], -self.place[2]])
        self.offset = -self.turn @ centre

    def see(self, points, height=0.0):
        points = np.asarray(points, dtype=float)
        xyz = np.column_stack([points, np.full(len(points), -height)])
        seen = xyz @ self.turn.T + self.offset
        middle = (np.array(SIZE) - 1) / 2
        return self.focal_px * seen[:, :2] / seen[:, 2:] + middle


def test_the_drawn_camera_looks_at_the_middle():
    middle = Camera(20, 40).see([(0, 0)])[0]
    assert middle == pytest.approx((1199.5, 899.5))


@pytest.mark.parametrize("tilt_deg", [0, 5, 12, 25])
@pytest.mark.parametrize("azimuth_deg", [0, 75, 200])
def test_tilt_and_place_without_noise(tilt_deg, azimuth_deg):
    camera = Camera(tilt_deg, azimuth_deg)
    view = estimate_view(
        BOARD_ROUND_CHIP,
        camera.see(BOARD_ROUND_CHIP),
        SIZE,
        point_sd_px=0.01,
        focal_px=2200,
    )
    assert view.tilt_deg == pytest.approx(tilt_deg, abs=0.1)
    assert view.camera_mm == pytest.approx(tuple(camera.place), abs=0.15)
    assert view.mirror_mm is None or tilt_deg == 0


def test_parallax_is_height_times_slope():
    camera = Camera(25, 0)
    view = estimate_view(
        BOARD_ROUND_CHIP,
        camera.see(BOARD_ROUND_CHIP),
        SIZE,
        point_sd_px=0.01,
        focal_px=2200,
    )
    shift = parallax(view, (0.0, 0.0), 1.75)
    assert shift.dx_mm == pytest.approx(-1.75 * math.tan(math.radians(25)), abs=0.01)
    assert shift.dy_mm == pytest.approx(0, abs=0.005)


def test_a_lifted_point_comes_back_to_its_place():
    camera = Camera(18, 130)
    view = estimate_view(
        BOARD_ROUND_CHIP,
        camera.see(BOARD_ROUND_CHIP),
        SIZE,
        point_sd_px=0.01,
        focal_px=2200,
    )
    truth = np.array([(1.0, -2.0), (3.0, 0.5)])
    # Carry the raised points to the board by the camera that drew them.
    raised = np.column_stack([truth, np.full(2, 1.75)])
    seen = truth + (truth - camera.place[:2]) * 1.75 / (camera.place[2] - 1.75)
    np.testing.assert_allclose(camera.see(seen), camera.see(raised[:, :2], 1.75))
    np.testing.assert_allclose(stand_at(view, seen, 1.75), truth, atol=0.01)


@pytest.mark.parametrize(
    "points", [SOIC_LANDS, BOARD_ROUND_CHIP], ids=["lands", "board"]
)
def test_the_parallax_spread_covers_the_truth(points):
    rng = np.random.default_rng(5)
    inside, total = 0, 0
    for _ in range(80):
        tilt, azimuth = rng.uniform(2, 25), rng.uniform(0, 360)
        camera = Camera(tilt, azimuth, px_per_mm=40, focal_px=rng.uniform(1700, 3500))
        seen = camera.see(points) + rng.normal(0, 0.3, (len(points), 2))
        view = estimate_view(points, seen, SIZE, point_sd_px=0.3)
        shift = parallax(view, (0.0, 0.0), 1.75)
        truth = -1.75 * camera.place[:2] / camera.place[2]
        error = np.array([shift.dx_mm, shift.dy_mm]) - truth
        inside += np.sum(
            np.abs(error) <= 2 * np.array([shift.dx_sd_mm, shift.dy_sd_mm])
        )
        total += 2
    assert inside / total > 0.90


def test_an_unsure_side_widens_the_spread():
    # Far away and coarse: perspective drowns in noise, foreshortening does not.
    rng = np.random.default_rng(2)
    camera = Camera(25, 10, px_per_mm=20, focal_px=20000)
    seen = camera.see(SOIC_LANDS) + rng.normal(0, 0.3, SOIC_LANDS.shape)
    view = estimate_view(SOIC_LANDS, seen, SIZE, point_sd_px=0.3, focal_px=20000)
    assert view.mirror_mm is not None
    assert view.tilt_deg == pytest.approx(25, abs=3)
    shift = parallax(view, (0.0, 0.0), 1.75)
    assert shift.sd_mm > 0.5
