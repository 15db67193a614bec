"""The edge fit against the closed-form bound and against drawn edges."""

import math

import numpy as np
import pytest
from scipy.special import erf

from vision.edges import LineEdge, fit_line
from vision.results import NotFound


def bound_px(blur_px, step_to_noise, length_px):
    """Give the least spread of an edge's place: the Cramér-Rao bound.

    Closed form: A. Gatherer, The Cramér-Rao bound for discrete-time edge position,
    Stanford CSL-TR-93-560, 1993; holds from about 0.6 px blur up.
    """
    per_row_px = math.sqrt(2 * math.sqrt(math.pi) * blur_px) / step_to_noise
    return per_row_px / math.sqrt(length_px)


def straight_edge(offset_px, angle_deg, *, size=61, blur_px=1.2, noise=0.0, seed=0):
    """Bright on the left of a line through the centre, shifted across it."""
    yy, xx = np.mgrid[:size, :size] - (size - 1) / 2
    t = math.radians(angle_deg)
    across = -xx * math.sin(t) + yy * math.cos(t) - offset_px
    gray = 60 + 50 * (1 - erf(across / (math.sqrt(2) * blur_px)))
    return gray + np.random.default_rng(seed).normal(0, noise, gray.shape)


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
    assert rmse == pytest.approx(bound_px(1.2, 10, length), rel=0.2)
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
