"""Feet seen from the side: drawn rows with known lifts, and rows not to be judged."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from vision.results import NotFound
from vision.side_row import find_row
from vision.side_view import ELEVATION_SHARE, read_side
from vision.tables import variants_of

SOIC_8 = variants_of("SOIC", 8)[0]
PITCH_PX = 150
PX_PER_MM = PITCH_PX / SOIC_8.pitch_mm
MASK, BODY, LAND = (60, 110, 30), (45, 45, 45), (110, 112, 115)
LEG, HEEL, FOOT, TOE = (200,) * 3, (245,) * 3, (225,) * 3, (170,) * 3


def drawn(lifts_mm=(0, 0, 0, 0), *, mask=MASK, slope_px=0.0, dark=BODY):
    """Draw a row: board, body, lands, and legs with heel, foot and toe."""
    picture = np.full((750, 1000, 3), mask, np.uint8)
    cv2.rectangle(picture, (130, 150), (870, 430), dark, -1)
    for k, lift in enumerate(lifts_mm):
        x = round(500 + (k - (len(lifts_mm) - 1) / 2) * PITCH_PX)
        down = slope_px * k
        up = lift * PX_PER_MM * ELEVATION_SHARE
        cv2.rectangle(picture, *_box(x, 45, 380, 535 + down), LAND, -1)
        for top, bottom, shade in (
            (310, 450, LEG), (440, 450, HEEL), (450, 480, FOOT), (480, 500, TOE),
        ):  # fmt: skip
            start = 310 if shade is LEG else top - up
            box = _box(x, 25, start + down, bottom - up + down)
            cv2.rectangle(picture, *box, shade, -1)
    noise = np.random.default_rng(3).normal(0, 2, picture.shape)
    blurred = cv2.GaussianBlur(picture, (0, 0), 1.2) + noise
    return blurred.clip(0, 255).astype(np.uint8)


def _box(x, half, top, bottom):
    return (x - half, round(top)), (x + half, round(bottom))


def states(side):
    assert not isinstance(side, NotFound), side
    return [foot.state for foot in side.feet]


def test_a_level_row_is_ok():
    assert states(read_side(drawn(), SOIC_8)) == ["ok"] * 4


@pytest.mark.parametrize("lead", range(4))
@pytest.mark.parametrize("lift_mm", [0.20, 0.30])
def test_a_lifted_foot_is_found_and_measured(lead, lift_mm):
    lifts = [lift_mm if k == lead else 0.0 for k in range(4)]
    side = read_side(drawn(lifts), SOIC_8)
    assert states(side) == ["fault" if k == lead else "ok" for k in range(4)]
    foot = side.feet[lead]
    assert abs(foot.height_mm - lift_mm) <= foot.u_mm


@pytest.mark.parametrize("lift_mm", [0.05, 0.10])
def test_a_foot_out_of_its_row_within_the_limit_is_unsure(lift_mm):
    side = read_side(drawn([0, lift_mm, 0, 0]), SOIC_8)
    assert states(side) == ["ok", "unsure", "ok", "ok"]


def test_a_camera_held_askew_changes_nothing():
    side = read_side(drawn([0, 0, 0.25, 0], slope_px=12.0), SOIC_8)
    assert states(side) == ["ok", "ok", "fault", "ok"]


@pytest.mark.parametrize(
    ("picture", "said"),
    [
        (np.full((750, 1000, 3), MASK, np.uint8), "no row of 4"),
        (drawn([0, 0, 0]), "no row of 4|fewer than 4 leads"),
        (drawn([0] * 5), "beside the 4 leads"),
        (drawn([0.3, 0, 0.3, 0]), "feet stand on one line"),
        (drawn([0, 0.1, 0.2, 0.3]), "evenly towards the right, by 0.3"),
        (drawn([0.3, 0.2, 0.1, 0]), "evenly towards the left, by 0.3"),
        (drawn([0, 0.3, 0.1, 0.2]), "feet stand on one line"),
        (drawn([0.25, 0.25, 0, 0.25]), "stands lower than the rest"),
        (drawn(mask=(60, 60, 60)), "no colour"),
        (drawn(dark=MASK), "no row of 4|from too high above"),
        (cv2.resize(drawn(), None, fx=0.4, fy=0.4), "px between leads"),
    ],
)
def test_what_cannot_be_judged_says_why(picture, said):
    side = read_side(picture, SOIC_8)
    assert isinstance(side, NotFound), side
    assert any(part in side.reason for part in said.split("|")), side.reason


@pytest.mark.parametrize(
    ("family", "leads", "said"),
    [("TSSOP", 20, "mm between leads"), ("SON", 8, "no feet")],
)
def test_packages_that_were_not_measured_are_not_judged(family, leads, said):
    side = read_side(drawn(), variants_of(family, leads)[0])
    assert isinstance(side, NotFound)
    assert said in side.reason


def test_the_row_is_found_where_it_was_drawn():
    light = cv2.cvtColor(drawn(), cv2.COLOR_BGR2GRAY)
    row = find_row(light, 4, width_frac=1 / 3)
    assert not isinstance(row, NotFound)
    assert row.pitch_px == pytest.approx(PITCH_PX, rel=0.05)
    assert row.origin_px[0] == pytest.approx(200, abs=PITCH_PX / 10)
