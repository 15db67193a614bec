"""Signs and frames on cases small enough to check by eye."""

import numpy as np
import pytest

from tests.tolerances import ROUNDING_DEG, ROUNDING_PX
from vision import angles, geometry
from vision.overlap import quad_iou_frac

UPRIGHT = [(0.0, 0.0), (0.0, 5.0), (4.0, 5.0), (4.0, 0.0)]


def test_pins_run_down_the_left_side_and_that_is_counter_clockwise():
    assert geometry.signed_area_px2(UPRIGHT) == pytest.approx(20.0)
    assert geometry.order_ccw(UPRIGHT[::-1]).tolist() == [list(p) for p in UPRIGHT]
    assert geometry.body_corners_mm(4, 5).tolist() == [
        [-2, -2.5],
        [-2, 2.5],
        [2, 2.5],
        [2, -2.5],
    ]


def test_a_small_counter_clockwise_turn_is_positive():
    # Counter-clockwise as seen: the right end of a line goes up, y gets smaller.
    tilted = [(x + y * 0.1, y - x * 0.1) for x, y in UPRIGHT]
    theta_deg = angles.rotation_between_deg(UPRIGHT, tilted)
    assert theta_deg == pytest.approx(np.degrees(np.arctan(0.1)), abs=ROUNDING_DEG)


def test_a_known_map():
    target = [(10, 10), (10, 60), (50, 60), (50, 10)]
    h = geometry.homography(UPRIGHT, target)
    expected = [[10, 0, 10], [0, 10, 10], [0, 0, 1]]
    assert np.abs(h - expected).max() < ROUNDING_PX
    assert geometry.px_per_mm(target, 4, 5) == pytest.approx(10.0)


def test_shared_area_of_two_known_squares():
    square = np.array([(0, 0), (0, 2), (2, 2), (2, 0)], dtype=float)
    beside, apart = square + np.array([1, 0]), square + np.array([5, 0])
    assert quad_iou_frac(square, beside) == pytest.approx(1 / 3)
    assert quad_iou_frac(square, apart) == 0.0


@pytest.mark.parametrize(
    ("points", "message"),
    [
        (UPRIGHT[:3], "4 pairs"),
        ([(0, 0), (1, 1), (2, 2), (3, 3)], "one line"),
        ([(1, 1)] * 4, "coincide"),
        ([(0, 0, 0)] * 4, "shape"),
    ],
)
def test_points_that_fix_no_map_are_refused(points, message):
    with pytest.raises(ValueError, match=message):
        geometry.homography(points, points)


@pytest.mark.parametrize(
    "quad",
    [
        [(0, 0), (0, 1), (1, 1)],
        [(0, 0), (0, 0), (1, 1), (1, 0)],
        [(0, 0), (0, 5), (4, 5), (float("nan"), 0)],
        [(0, 0), (0, 1), (0, 2), (0, 3)],
    ],
)
def test_what_is_no_body(quad):
    assert not geometry.is_sane_quad(quad)


@pytest.mark.parametrize(
    ("theta_deg", "turn_deg", "skew_deg"),
    [(0, 0, 0), (44, 0, 44), (46, 90, -44), (-90, 270, 0), (181, 180, 1), (359, 0, -1)],
)
def test_turn_and_skew(theta_deg, turn_deg, skew_deg):
    assert angles.nearest_turn_deg(theta_deg) == turn_deg
    assert angles.skew_deg(theta_deg) == pytest.approx(skew_deg)


def test_records_hold_plain_numbers():
    points = geometry.to_points(np.array(UPRIGHT, dtype=np.float32))
    assert points == tuple(UPRIGHT)
    assert type(points[0][0]) is float
