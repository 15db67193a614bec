"""The edge fit against the closed-form bound and against drawn edges."""

import math

import numpy as np
import pytest
from scipy.special import erf

from vision.edges import LineEdge, bound_px, fit_line, fit_rows
from vision.results import NotFound

SAMPLES = 81
RUNS = 1500


def steps(position_px, blur_px, *, low=50.0, high=150.0):
    x = np.arange(SAMPLES)
    position = np.atleast_1d(position_px)[:, None]
    rise = 0.5 * (1 + erf((x - position) / (math.sqrt(2) * blur_px)))
    return low + (high - low) * rise


def straight_edge(offset_px, angle_deg, *, size=61, blur_px=1.2, noise=0.0, seed=0):
    """Bright on the left of a line through the centre, shifted across it."""
    yy, xx = np.mgrid[:size, :size] - (size - 1) / 2
    t = math.radians(angle_deg)
    across = -xx * math.sin(t) + yy * math.cos(t) - offset_px
    gray = 60 + 50 * (1 - erf(across / (math.sqrt(2) * blur_px)))
    return gray + np.random.default_rng(seed).normal(0, noise, gray.shape)


@pytest.mark.parametrize("blur_px", [0.6, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("ratio", [10, 30, 100])
def test_rmse_reaches_the_bound(blur_px, ratio):
    # The 12 rows: blur 0.6 to 4 px, step over noise 10 to 100, long window.
    # Closed form: Gatherer, Stanford CSL-TR-93-560 (1993); 15 % allowed.
    rng = np.random.default_rng(7)
    truth = 40 + rng.uniform(-0.5, 0.5, RUNS)
    noisy = steps(truth, blur_px) + rng.normal(0, 100 / ratio, (RUNS, SAMPLES))
    found = fit_rows(noisy)
    assert found.found.mean() > 0.98
    error = (found.position_px - truth)[found.found]
    rmse = math.sqrt(np.mean(error**2))
    bound = bound_px(blur_px, ratio)
    assert 0.9 * bound < rmse < 1.15 * bound
    assert abs(error.mean()) < 5 * bound / math.sqrt(RUNS)
    # The stated spread is the true one, and covers as a spread should.
    assert np.median(found.position_sd_px) == pytest.approx(rmse, rel=0.15)
    if blur_px >= 1:
        covered = np.mean(np.abs(error) <= 2 * found.position_sd_px[found.found])
        assert 0.93 < covered < 0.97


def test_position_blur_and_step_without_noise():
    truth = np.linspace(8, 32, 25)
    found = fit_rows(steps(truth, 1.7))
    assert np.all(found.found)
    np.testing.assert_allclose(found.position_px, truth, atol=1e-4)
    np.testing.assert_allclose(found.blur_px, 1.7, atol=1e-3)
    np.testing.assert_allclose(found.step, 100, atol=1e-2)


def test_a_falling_edge_mirrors_a_rising_one():
    rising = fit_rows(steps(17.3, 1.1))
    falling = fit_rows(steps(17.3, 1.1)[:, ::-1])
    assert falling.position_px[0] == pytest.approx(
        SAMPLES - 1 - rising.position_px[0], abs=1e-4
    )
    assert falling.step[0] < 0


def test_only_the_wanted_direction_is_found():
    bar = steps(25.0, 1.0) - steps(55.0, 1.0, low=0, high=120)
    up, down = fit_rows(bar, rising=True), fit_rows(bar, rising=False)
    assert up.step[0] > 0
    assert down.step[0] < 0
    assert up.position_px[0] < 30
    assert down.position_px[0] > 50


def test_noise_alone_is_no_edge():
    rng = np.random.default_rng(1)
    found = fit_rows(rng.normal(100, 5, (400, SAMPLES)))
    assert found.found.mean() < 0.05
    flat = fit_rows(np.full((3, SAMPLES), 80.0))
    assert not np.any(flat.found)


def test_too_few_samples_is_our_mistake():
    with pytest.raises(ValueError, match="at least 6"):
        fit_rows(np.zeros((2, 5)))


@pytest.mark.parametrize("angle_deg", [0, 17, 45, 88, 135, -60])
def test_a_straight_edge_at_any_angle(angle_deg):
    gray = straight_edge(0.37, angle_deg)
    t = math.radians(angle_deg + 1.5)
    reach = 18 * np.array([math.cos(t), math.sin(t)])
    centre = np.array([30.0, 30.0])
    edge = fit_line(gray, tuple(centre - reach), tuple(centre + reach), reach_px=8)
    assert isinstance(edge, LineEdge)
    normal = np.array(
        [-math.sin(math.radians(angle_deg)), math.cos(math.radians(angle_deg))]
    )
    assert (np.array(edge.at_px) - centre) @ normal == pytest.approx(0.37, abs=2e-3)
    found_deg = math.degrees(math.atan2(edge.direction[1], edge.direction[0]))
    assert (found_deg - angle_deg + 180) % 360 - 180 == pytest.approx(0, abs=0.02)
    assert edge.blur_px == pytest.approx(1.2, abs=0.01)
    assert edge.step == pytest.approx(100, abs=0.5)


def test_a_long_edge_gains_with_the_root_of_its_length():
    errors, sds = [], []
    for seed in range(120):
        gray = straight_edge(0.2, 11, noise=10, seed=seed)
        edge = fit_line(gray, (10, 26.1), (50, 33.9), reach_px=9)
        assert isinstance(edge, LineEdge)
        t = math.radians(11)
        off = (np.array(edge.at_px) - 30) @ [-math.sin(t), math.cos(t)]
        errors.append(off - 0.2)
        sds.append(edge.offset_sd_px)
    rmse = math.sqrt(np.mean(np.square(errors)))
    length = math.hypot(40, 7.8)
    assert rmse == pytest.approx(bound_px(1.2, 10) / math.sqrt(length), rel=0.2)
    assert np.median(sds) == pytest.approx(rmse, rel=0.2)


def test_no_edge_says_why():
    noise = np.random.default_rng(3).normal(100, 5, (60, 60))
    assert isinstance(fit_line(noise, (10, 30), (20, 30), reach_px=5), NotFound)
    outside = fit_line(noise, (-90, 30), (-70, 30), reach_px=5)
    assert isinstance(outside, NotFound)
    assert "outside" in outside.reason
    short = fit_line(noise, (10, 30), (11, 30), reach_px=5)
    assert isinstance(short, NotFound)
    assert "needed" in short.reason
