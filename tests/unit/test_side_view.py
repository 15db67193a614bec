"""Feet seen from the side: marked rows with known lifts, and rows not to be judged.

The network is stood in for; `tests/photos/test_side_photo.py` lets the real one look.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.unit.side_marks import LAND_Y, PITCH_PX, SOIC_8, TOE_Y, marked
from vision.results import NotFound
from vision.side_row import LAND, TOE, find_row, place_px
from vision.side_view import read_side
from vision.tables import variants_of


def states(side):
    assert not isinstance(side, NotFound), side
    return [foot.state for foot in side.feet]


@pytest.mark.usefixtures("by_marks")
def test_a_level_row_is_ok():
    assert states(read_side(marked(), SOIC_8)) == ["ok"] * 4


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize("lead", range(4))
@pytest.mark.parametrize("lift_mm", [0.20, 0.30])
def test_a_lifted_foot_is_found_and_measured(lead, lift_mm):
    lifts = [lift_mm if k == lead else 0.0 for k in range(4)]
    side = read_side(marked(lifts), SOIC_8)
    assert states(side) == ["fault" if k == lead else "ok" for k in range(4)]
    foot = side.feet[lead]
    assert abs(foot.height_mm - lift_mm) <= foot.u_mm


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize("lift_mm", [0.05, 0.10])
def test_a_foot_out_of_its_row_within_the_limit_is_unsure(lift_mm):
    side = read_side(marked([0, lift_mm, 0, 0]), SOIC_8)
    assert states(side) == ["ok", "unsure", "ok", "ok"]


@pytest.mark.usefixtures("by_marks")
def test_a_limit_known_from_memory_only_warns():
    doubtful = replace(SOIC_8, coplanarity_status="memory")
    picture = marked([0, 0, 0.25, 0])
    sure, warned = (read_side(picture, v) for v in (SOIC_8, doubtful))
    assert states(sure) == ["ok", "ok", "fault", "ok"]
    assert states(warned) == ["ok", "ok", "unsure", "ok"]
    assert sure.reasons == ()
    assert "only warns" in warned.reasons[0]


@pytest.mark.usefixtures("by_marks")
def test_a_camera_held_askew_changes_nothing():
    side = read_side(marked([0, 0, 0.25, 0], slope_px=12.0), SOIC_8)
    assert states(side) == ["ok", "ok", "fault", "ok"]


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize("lift_mm", [0.0, 0.3])
def test_a_foot_that_is_hardly_seen_is_neither_level_nor_high(lift_mm):
    side = read_side(marked([0, lift_mm, 0, 0], hidden=[1]), SOIC_8)
    assert states(side) == ["ok", "unsure", "ok", "ok"]


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize(
    ("picture", "said"),
    [
        (np.zeros((750, 1000, 3), np.uint8), "no row of 4"),
        (marked([0, 0, 0]), "no row of 4|fewer than 4 leads"),
        (marked([0] * 5), "beside the 4 leads"),
        (np.maximum(marked(), np.roll(marked(), 200, axis=0)),
         "two rows of 4"),
        (marked([0.3, 0, 0.3, 0]), "feet stand on one line"),
        (marked([0, 0.1, 0.2, 0.3]), "evenly towards the right, by 0.3"),
        (marked([0.3, 0.2, 0.1, 0]), "evenly towards the left, by 0.3"),
        (marked([0, 0.3, 0.1, 0.2]), "feet stand on one line"),
        (marked([0.25, 0.25, 0, 0.25]), "stands lower than the rest"),
        (marked([0.09, 0.09, 0, 0.09]), "stands lower than the rest"),
        (marked(hidden=[0, 3]), "feet stand on one line"),
        (cv2.resize(marked(), None, fx=0.19, fy=0.19, interpolation=cv2.INTER_AREA),
         "px between leads"),
    ],
)  # fmt: skip
def test_what_cannot_be_judged_says_why(picture, said):
    side = read_side(picture, SOIC_8)
    assert isinstance(side, NotFound), side
    assert any(part in side.reason for part in said.split("|")), side.reason


@pytest.mark.parametrize(
    ("family", "leads", "said"),
    [("QFP", 256, "mm between leads"), ("SON", 8, "no feet")],
)
def test_packages_that_were_not_measured_are_not_judged(family, leads, said):
    side = read_side(marked(), variants_of(family, leads)[0])
    assert isinstance(side, NotFound)
    assert said in side.reason


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize("turn_deg", [-30, 0, 18])
def test_the_row_is_found_where_it_was_marked(turn_deg):
    turn = cv2.getRotationMatrix2D((500, 450), turn_deg, 1.0)
    row = find_row(cv2.warpAffine(marked(), turn, (1000, 750)), 4)
    assert not isinstance(row, NotFound)
    assert row.pitch_px == pytest.approx(PITCH_PX, rel=0.05)
    for kind, y in ((TOE, TOE_Y), (LAND, LAND_Y)):
        due = np.array([[275 + PITCH_PX * k, y, 1] for k in range(4)]) @ turn.T
        assert place_px(row, kind) == pytest.approx(due, abs=PITCH_PX / 50)


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize("depth", [-0.2, 0.25])
def test_a_row_that_runs_away_from_the_camera_is_found(depth):
    corners = np.array([[0, 0], [1000, 0], [1000, 750], [0, 750]], np.float32)
    nearer = corners * [1, 1]
    nearer[[1, 2], 1] = [-depth * 375, 750 + depth * 375]
    away = cv2.getPerspectiveTransform(corners, nearer.astype(np.float32))
    side = read_side(cv2.warpPerspective(marked([0, 0, 0.25, 0]), away, (1000, 750)),
                     SOIC_8)  # fmt: skip
    assert states(side) == ["ok", "ok", "fault", "ok"]
