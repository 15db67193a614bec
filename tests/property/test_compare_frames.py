"""Which way the camera was held must not change what is said about the chip."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.synthetic_pairs import Chip, board, leads, package, photo, place, view
from tests.tolerances import ALIGNMENT_MM, REGISTRATION_PX
from vision.compare import Comparison, compare_packages
from vision.geometry import apply_homography
from vision.match import match_packages
from vision.patches import fit_motion
from vision.results import NotFound

BARE = board(1)
SETTINGS = settings(
    max_examples=6,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)


def compare(chip: Chip, before_at: np.ndarray, after_at: np.ndarray) -> Comparison:
    one = photo(place(BARE, Chip()), before_at)
    two = photo(place(BARE, chip), after_at, seed=3)
    first = package(apply_homography(before_at, Chip().outline))
    second = package(apply_homography(after_at, chip.outline), px_per_mm=None)
    match = match_packages(one, first, two, [second])
    assert not isinstance(match, NotFound), match.reason
    return compare_packages(one, first, two, second, match[2])


@pytest.mark.slow
@SETTINGS
@given(
    camera_deg=st.floats(-180, 180),
    zoom=st.floats(0.5, 1.4),
    dx_mm=st.floats(-0.5, 0.5),
    dy_mm=st.floats(-0.5, 0.5),
    skew_deg=st.floats(-3, 3),
    turn_deg=st.sampled_from((0, 180)),
)
def test_the_after_camera_changes_nothing(
    camera_deg, zoom, dx_mm, dy_mm, skew_deg, turn_deg
) -> None:
    chip = Chip(dx_mm, dy_mm, skew_deg, turn_deg)
    found = compare(chip, np.eye(3), view(camera_deg, zoom, 0.06))
    assert found.orientation.turn_deg == turn_deg
    error = np.hypot(found.alignment.dx_mm - dx_mm, found.alignment.dy_mm - dy_mm)
    assert error <= found.alignment.u_mm
    assert abs(found.alignment.skew_deg - skew_deg) <= found.alignment.u_deg


@pytest.mark.parametrize("quarter", [1, 2, 3])
def test_turning_the_before_camera_turns_the_shift(quarter: int) -> None:
    found = compare(Chip(0.2, 0.1, 1.0), view(90 * quarter), np.eye(3)).alignment
    # The picture turns counter-clockwise by a quarter: right becomes up (minus y).
    x, y = 0.2, 0.1
    for _ in range(quarter):
        x, y = y, -x
    assert np.hypot(found.dx_mm - x, found.dy_mm - y) < ALIGNMENT_MM
    assert abs(found.skew_deg - 1.0) <= found.u_deg


def test_the_leads_are_where_the_drawing_puts_them() -> None:
    scene = place(BARE, Chip(marking=()))
    for lead in leads():
        x, y = (np.asarray(lead.toe_px) + lead.heel_px) / 2
        assert scene[round(y), round(x)].mean() > 170


@SETTINGS
@given(
    shift=st.tuples(st.floats(-3, 3), st.floats(-3, 3)),
    theta_rad=st.floats(-0.1, 0.1),
    strays=st.integers(0, 25),
    seed=st.integers(0, 99),
)
def test_strays_do_not_move_a_fit(shift, theta_rad, strays, seed) -> None:
    rng = np.random.default_rng(seed)
    start = rng.uniform(0, 200, (100, 2))
    c, s = np.cos(theta_rad), np.sin(theta_rad)
    truth = np.array([[c, -s, shift[0]], [s, c, shift[1]], [0, 0, 1]])
    end = apply_homography(truth, start) + rng.normal(0, 0.1, start.shape)
    end[:strays] += rng.uniform(5, 20, (strays, 2))
    for motion in ("rigid", "affine", "homography"):
        fit = fit_motion(start, end, motion, (100.0, 100.0))
        assert fit is not None
        middle = np.array([[100.0, 100.0]])
        error = apply_homography(fit.matrix, middle) - apply_homography(truth, middle)
        assert np.linalg.norm(error) < REGISTRATION_PX
        assert not fit.kept[:strays].any()


def test_too_few_points_give_no_fit() -> None:
    points = np.zeros((3, 2))
    assert fit_motion(points, points, "rigid", (0.0, 0.0)) is None
