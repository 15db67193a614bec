"""Tags drawn at known places and found again; the sheet's true size."""

import math

import cv2
import numpy as np
import pytest

from ui.tag_sheet import _sheet, write_tag_sheet
from vision.geometry import apply_homography, homography
from vision.results import NotFound
from vision.tags import (
    ROLES,
    STAGES,
    find_tags,
    scale_at,
    tag_id,
    tag_modules,
    what_it_shows,
)

FINE = 40
"""Pixels a millimetre of the flat drawing."""


def flat_tag(role, stage, *, margin_mm=2.0):
    """Draw a tag with its white margin, FINE px/mm, in the middle of the image."""
    modules = np.kron(tag_modules(role, stage), np.ones((50, 50))) * 200 + 30
    return np.pad(modules, int(margin_mm * FINE), constant_values=230)


def photo_of(role, stage, corners_px, *, size=(900, 700), noise=2.0, seed=0):
    """A flat tag laid into a photo by its four outer black corners (pixel centres)."""
    flat = flat_tag(role, stage)
    low, high = 2 * FINE - 0.5, 12 * FINE - 0.5
    square = np.array([(low, low), (high, low), (high, high), (low, high)])
    # Draw three times too large, then average: no stair steps.
    big = homography(square, 3 * np.array(corners_px) + 1)
    shown = cv2.warpPerspective(
        flat, big, (3 * size[0], 3 * size[1]), flags=cv2.INTER_LINEAR, borderValue=90
    )
    small = cv2.resize(shown, size, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), 0.9)
    rng = np.random.default_rng(seed)
    return np.clip(small + rng.normal(0, noise, small.shape), 0, 255).astype(np.uint8)


def corners_at(px_per_mm, angle_deg, *, squeeze=1.0, centre=(430.3, 350.7)):
    t, half = math.radians(angle_deg), 5 * px_per_mm
    square = np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
    turn = np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
    return (square * [1, squeeze]) @ turn.T + centre


def test_every_role_and_stage_has_its_own_number():
    numbers = {tag_id(role, stage) for role in ROLES for stage in STAGES}
    assert len(numbers) == 8
    assert max(numbers) < 587


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("stage", STAGES)
def test_a_photo_says_what_it_shows(role, stage):
    tags = find_tags(photo_of(role, stage, corners_at(25, 12)))
    assert what_it_shows(tags) == (role, stage)


@pytest.mark.parametrize("px_per_mm", [15, 30, 45])
@pytest.mark.parametrize("angle_deg", [0, 33, 90, 200])
def test_corners_and_scale(px_per_mm, angle_deg):
    truth = corners_at(px_per_mm, angle_deg, squeeze=0.94)
    (tag,) = find_tags(photo_of("donor", "before", truth))
    np.testing.assert_allclose(np.array(tag.corners_px), truth, atol=0.08)
    found, sd_frac = scale_at(tag, (430.3, 350.7))
    assert found == pytest.approx(px_per_mm * math.sqrt(0.94), rel=0.002)
    assert 0 < sd_frac < 0.002


@pytest.mark.slow
def test_corner_spread_covers_the_truth():
    inside = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        truth = corners_at(22, rng.uniform(0, 360), centre=400 + rng.uniform(-1, 1, 2))
        (tag,) = find_tags(photo_of("patient", "after", truth, noise=8, seed=seed))
        error = np.abs(np.array(tag.corners_px) - truth)
        inside.append(error <= 2 * tag.corner_sd_px)
    assert np.mean(inside) > 0.85


def test_the_scale_is_less_sure_far_from_the_tag():
    truth = corners_at(20, 5)
    (tag,) = find_tags(photo_of("donor", "after", truth))
    assert scale_at(tag, (800, 350))[1] > 2 * scale_at(tag, (430, 350))[1]


def test_a_tilted_tag_gives_the_plane():
    truth = np.array([(300, 200), (560, 215), (585, 470), (280, 440)], dtype=float)
    (tag,) = find_tags(photo_of("patient", "lands", truth))
    middle = apply_homography(tag.tag_to_image, [(0, 0)])[0]
    expected = apply_homography(
        homography([(-5, -5), (5, -5), (5, 5), (-5, 5)], truth), [(0, 0)]
    )[0]
    np.testing.assert_allclose(middle, expected, atol=0.1)


def test_no_tag_and_two_tags_that_disagree():
    assert find_tags(np.full((300, 300, 3), 90, np.uint8)) == ()
    nothing = what_it_shows([])
    assert isinstance(nothing, NotFound)
    assert "lay a printed tag" in nothing.reason
    first = photo_of("donor", "before", corners_at(18, 0, centre=(200, 300)))
    second = photo_of("patient", "before", corners_at(18, 0, centre=(650, 300)))
    both = np.where(np.arange(900)[None, :] < 430, first, second)
    said = what_it_shows(find_tags(both))
    assert isinstance(said, NotFound)
    assert "donor before and patient before" in said.reason


def test_the_sheet_holds_squares_of_ten_millimetres(tmp_path):
    pdf = _sheet()
    pdf.set_compression(False)
    drawn = bytes(pdf.output()).decode("latin-1")
    side_pt = f"{10 * 72 / 25.4:.2f}"
    assert drawn.count(f" {side_pt} -{side_pt} re f") == 16
    check_pt = 100 * 72 / 25.4
    ends = (17 * 72 / 25.4, 17 * 72 / 25.4 + check_pt)
    assert f"{ends[0]:.2f}" in drawn
    assert f"{ends[1]:.2f}" in drawn
    target = tmp_path / "tags.pdf"
    write_tag_sheet(target)
    assert target.read_bytes().startswith(b"%PDF")
