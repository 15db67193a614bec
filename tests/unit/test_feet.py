"""Feet measured on drawn boards with exact truth."""

from dataclasses import replace

import numpy as np
import pytest

from tests.benchmark.flat_scene import strips
from tests.unit.drawn_boards import GAP, PART, DrawnBoard, drawn_board
from vision.feet import BoardPhoto, KnownFoot, measure_feet, slope_by_feet
from vision.land_edges import Board, measure_land
from vision.overhang import Doubt, read_leads
from vision.seat import read_seat

HALF_MM, TOP_MM = PART.variant.body_x_mm[1] / 2, PART.variant.height_mm[1]
KNOWN = KnownFoot(top_mm=0.22, body_half_mm=(HALF_MM + 0.15, 9.0), body_top_mm=TOP_MM)
LANDS = strips(PART, feet=False)
STILL = {"dx": 0.0, "dy": 0.0, "skew_deg": 0.0}


def photo_of(drawn: DrawnBoard) -> BoardPhoto:
    return BoardPhoto(
        pixels=np.repeat(drawn.gray[..., None], 3, axis=2), to_photo=drawn.to_image
    )


def measured(drawn, feet, lands=LANDS):
    return measure_feet(photo_of(drawn), feet, lands, drawn.view, KNOWN)


@pytest.mark.parametrize("tilt_deg", [0, 10, 20])
def test_shift_and_skew_of_a_chip_with_height(tilt_deg):
    move = {"dx": 0.06, "dy": 0.11, "skew_deg": 1.2}
    bare = drawn_board(3, seed=1)
    board = Board(
        gray=bare.gray, board_to_image=bare.to_image, registration_sd_mm=0.004
    )
    lands = [measure_land(board, land, GAP) for land in LANDS]
    drawn = drawn_board(tilt_deg, seed=2, **move)
    feet = list(measured(drawn, strips(PART, feet=True, dy=0.08), lands).values())
    assert len(feet) >= 4
    seat, feet = read_seat(feet, lands, Doubt(registration_mm=0.004))
    assert seat.dx_mm == pytest.approx(0.06, abs=0.015)
    assert seat.dy_mm == pytest.approx(0.11, abs=0.012)
    assert seat.skew_deg == pytest.approx(1.2, abs=0.3)
    truth = {
        reading.number: reading.side_overhang.value
        for reading in read_leads(strips(PART, feet=True, **move), LANDS, Doubt())
    }
    for reading in read_leads(feet, lands, Doubt(registration_mm=0.004)):
        assert reading.side_overhang.value == pytest.approx(
            truth[reading.number], abs=0.03
        )


def test_solder_beside_a_foot_is_not_taken_for_it():
    move = STILL | {"dy": 0.08}
    feet, off = strips(PART, feet=True, **move), []
    for seed in range(4):
        seen = measured(drawn_board(4, seed=seed, solder=1.0, **move), feet)
        assert len(seen) == len(feet)
        off += [seen[f.number].centre_mm[1] - f.centre_mm[1] for f in feet]
    assert float(np.sqrt(np.mean(np.square(off)))) < 0.02


def test_a_bent_foot_is_seen_where_it_is():
    bent = replace(PART, leads_off_mm=np.array([[0.12, 0.0]] + [[0.0, 0.0]] * 7))
    drawn = drawn_board(4, part=bent, solder=1.0, **STILL)
    straight = strips(PART, feet=True, **STILL)[0]
    seen = measured(drawn, [straight])[straight.number]
    true = strips(bent, feet=True, **STILL)[0]
    assert seen.centre_mm == pytest.approx(true.centre_mm, abs=0.02)


def test_a_foot_behind_the_body_is_not_measured():
    drawn = drawn_board(40, azimuth_deg=0, dx=0.001)
    feet = strips(PART, feet=True)
    hidden = {foot.number for foot in feet} - set(measured(drawn, feet))
    assert len(hidden) >= 4


def test_where_no_foot_is_none_is_measured_surely():
    drawn = drawn_board(4, seed=3)
    feet = strips(PART, feet=True, **STILL)
    sure = [foot for foot in measured(drawn, feet).values() if foot.end_sd_mm < 0.03]
    assert not sure


@pytest.mark.parametrize("azimuth_deg", [60, 240])
def test_feet_tell_from_which_side_they_were_seen(azimuth_deg):
    drawn = drawn_board(18, azimuth_deg=azimuth_deg, **STILL)
    square_on = replace(drawn.view, camera_mm=(0.0, 0.0, drawn.view.camera_mm[2]))
    told = slope_by_feet(
        photo_of(drawn), strips(PART, feet=True, **STILL), LANDS, square_on, KNOWN
    )
    slope = np.linalg.solve(told.information, told.weighed)
    true = drawn.camera.place[:2] / drawn.camera.place[2]
    assert np.dot(slope, true) > 0.3 * np.dot(true, true)
