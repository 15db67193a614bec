"""What must hold for every quad, turn and map."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.tolerances import ROUNDING_DEG, ROUNDING_PX
from vision import angles, geometry
from vision.overlap import quad_iou_frac

SIZES_MM = st.floats(1.0, 30.0)
PLACES_PX = st.floats(-4000.0, 4000.0)
ANGLES_DEG = st.floats(-180.0, 179.0)


@st.composite
def bodies(draw):
    """Draw the corners of a turned rectangle seen a little obliquely, ccw."""
    scale = draw(st.floats(5.0, 100.0))
    corners = geometry.body_corners_mm(draw(SIZES_MM), draw(SIZES_MM)) * scale
    theta = np.radians(draw(ANGLES_DEG))
    cos, sin = np.cos(theta), np.sin(theta)
    nudge = np.array(draw(st.lists(st.floats(-1, 1), min_size=8, max_size=8)))
    corners = corners + nudge.reshape(4, 2) * scale * 0.05
    place = np.array([draw(PLACES_PX), draw(PLACES_PX)])
    return corners @ np.array([[cos, -sin], [sin, cos]]) + place


def turn_picture(points, quarter_turns, size_px=4000):
    """Turn a square picture counter-clockwise by quarter turns, as seen."""
    for _ in range(quarter_turns % 4):
        points = np.stack([points[:, 1], size_px - 1 - points[:, 0]], axis=1)
    return points


@given(bodies(), st.integers(0, 3), st.integers(0, 3))
def test_turning_the_picture_adds_the_turn(quad, quarters, earlier):
    before = geometry.roll(quad, earlier)
    after = turn_picture(before, quarters)
    assert angles.turn_between_deg(before, after) == 90 * quarters
    theta = angles.rotation_between_deg(before, after)
    assert abs(angles.wrap_deg(theta - 90 * quarters)) < ROUNDING_DEG


def test_the_turn_of_the_picture_is_the_one_numpy_makes():
    picture = np.zeros((5, 5))
    picture[1, 3] = 1
    row, col = np.argwhere(np.rot90(picture) == 1)[0]
    assert turn_picture(np.array([[3.0, 1.0]]), 1, size_px=5).tolist() == [[col, row]]


@given(bodies(), st.integers(1, 3))
def test_moving_corner_zero_by_one_adds_a_quarter_turn_for_squares(quad, steps):
    square = geometry.body_corners_mm(4.0, 4.0) + quad[0]
    moved = geometry.roll(square, steps)
    assert angles.turn_between_deg(square, moved) == 90 * steps


@given(bodies())
def test_a_mirrored_picture_breaks(quad):
    mirrored = quad * [-1.0, 1.0]
    assert geometry.signed_area_px2(quad) > 0 > geometry.signed_area_px2(mirrored)
    with pytest.raises(ValueError, match="mirror"):
        angles.turn_between_deg(quad, mirrored)


@given(bodies(), SIZES_MM, SIZES_MM, st.floats(-2, 2), st.floats(-2, 2))
def test_px_and_mm_round_trip(quad, body_x_mm, body_y_mm, x, y):
    corners_mm = geometry.body_corners_mm(body_x_mm, body_y_mm)
    to_image = geometry.homography(corners_mm, quad)
    point_mm = np.array([[x * body_x_mm / 4, y * body_y_mm / 4]])
    point_px = geometry.apply_homography(to_image, point_mm)
    back_mm = geometry.apply_homography(np.linalg.inv(to_image), point_px)
    assert np.abs(back_mm - point_mm).max() < ROUNDING_PX
    corners_px = geometry.apply_homography(to_image, corners_mm)
    assert np.abs(corners_px - quad).max() < ROUNDING_PX


@given(SIZES_MM, SIZES_MM, st.floats(-3, 3))
def test_the_sides_of_a_turned_rectangle(x, y, angle):
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    turned = geometry.body_corners_mm(x, y) @ spin.T
    assert np.allclose(geometry.side_lengths(turned), [y, x, y, x])
    assert np.allclose(geometry.mean_sides(turned), [y, x])


@given(bodies(), st.permutations(range(4)))
def test_order_does_not_depend_on_the_order_given(quad, permutation):
    ordered = geometry.order_ccw(quad)
    assert np.array_equal(ordered, geometry.order_ccw(quad[permutation]))
    assert geometry.signed_area_px2(ordered) > 0
    assert geometry.is_sane_quad(ordered)


@given(bodies())
def test_crossing_quads_are_refused(quad):
    assert geometry.is_sane_quad(quad)
    assert geometry.is_sane_quad(quad[::-1])
    assert not geometry.is_sane_quad(quad[[0, 2, 1, 3]])
    dented = quad.copy()
    dented[2] = quad[[0, 1, 3]].mean(axis=0)
    assert not geometry.is_sane_quad(dented)
    with pytest.raises(ValueError, match="no convex quad"):
        geometry.order_ccw(dented)


@given(st.floats(-1e4, 1e4))
def test_a_turn_and_its_skew_make_the_angle(theta_deg):
    turn, skew = angles.nearest_turn_deg(theta_deg), angles.skew_deg(theta_deg)
    assert turn in (0, 90, 180, 270)
    assert abs(skew) <= 45 + ROUNDING_DEG
    assert abs(angles.wrap_deg(turn + skew - theta_deg)) < ROUNDING_DEG
    assert -180 <= angles.wrap_deg(theta_deg) < 180


@given(bodies(), bodies())
def test_shared_area_is_a_share_and_the_same_both_ways(first, second):
    iou = quad_iou_frac(first, second)
    assert 0 <= iou <= 1
    assert abs(iou - quad_iou_frac(second, first)) < ROUNDING_PX
    assert abs(quad_iou_frac(first, first[::-1]) - 1) < ROUNDING_PX


@given(bodies(), st.lists(st.floats(-1, 1), min_size=12, max_size=12))
def test_a_map_is_found_again_from_more_than_four_points(quad, numbers):
    h = geometry.homography(geometry.body_corners_mm(4.0, 5.0), quad)
    inside = np.array(numbers).reshape(6, 2) * [2.0, 2.5]
    spread = np.concatenate([geometry.body_corners_mm(4.0, 5.0), inside])
    image = geometry.apply_homography(h, spread)
    assume(np.isfinite(image).all())
    found = geometry.homography(spread, image)
    assert np.abs(geometry.apply_homography(found, spread) - image).max() < ROUNDING_PX
