"""Lands and feet measured on drawn boards with exact truth."""

from dataclasses import replace

import numpy as np
import pytest

from tests.benchmark.flat_scene import PARTS, Camera, draw_board, strips
from vision.feet import KnownFoot, measure_foot, measure_land
from vision.geometry import homography
from vision.overhang import Doubt, read_leads
from vision.planes import estimate_view
from vision.results import NotFound
from vision.seat import read_seat
from vision.strip_ends import Board

PART = PARTS[0]
GAP = PART.pitch_mm - PART.variant.land.width_mm
LOOK = {
    "mask": 50.0,
    "land": 205.0,
    "lead": 150.0,
    "solder": 0.0,
    "wall": 90.0,
    "bend": 120.0,
    "blur_px": 1.1,
    "noise": 2.0,
    "gradient": 0.05,
    "texture": 2.0,
    "foot_top_mm": 0.22,
}
HALF_MM, TOP_MM = PART.variant.body_x_mm[1] / 2, PART.variant.height_mm[1]
KNOWN = KnownFoot(body_half_mm=HALF_MM + 0.15, body_top_mm=TOP_MM)


def scene(
    tilt_deg, *, px_per_mm=45, seed=0, azimuth_deg=70, solder=0.0, part=PART, **move
):
    rng = np.random.default_rng(seed)
    size = (int(9.5 * px_per_mm), int(8 * px_per_mm))
    camera = Camera(tilt_deg, azimuth_deg, 8, px_per_mm, 1.5 * max(size), size)
    gray = draw_board(camera, part, move or None, LOOK | {"solder": solder}, rng)
    corners = np.array([(-4, -3), (4, -3), (4, 3), (-4, 3), (0, 3), (0, -3)], float)
    to_image = camera_map(camera, corners)
    view = estimate_view(
        corners, camera.see(corners), size, point_sd_px=0.05, focal_px=1.5 * max(size)
    )
    return Board(gray=gray, board_to_image=to_image, registration_sd_mm=0.004), view


def camera_map(camera, corners):
    return homography(corners, camera.see(corners))


def test_bare_lands_come_back():
    board, _ = scene(12)
    for land in strips(PART, feet=False):
        rough = replace(
            land, centre_mm=(land.centre_mm[0] + 0.05, land.centre_mm[1] - 0.04)
        )
        found = measure_land(board, rough, GAP)
        assert found.centre_mm == pytest.approx(land.centre_mm, abs=0.012)
        assert found.width_mm == pytest.approx(land.width_mm, abs=0.012)
        assert 0 < found.across_sd_mm < 0.01


@pytest.mark.parametrize("tilt_deg", [0, 10, 20])
def test_shift_and_skew_of_a_chip_with_height(tilt_deg):
    move = {"dx": 0.06, "dy": 0.11, "skew_deg": 1.2}
    bare, _ = scene(3, seed=1)
    board, view = scene(tilt_deg, seed=2, **move)
    lands = [measure_land(bare, land, GAP) for land in strips(PART, feet=False)]
    feet = [
        measure_foot(board, foot, land, view, gap_mm=GAP, known=KNOWN)
        for foot, land in zip(strips(PART, feet=True, dy=0.08), lands, strict=True)
    ]
    feet = [foot for foot in feet if foot]
    assert len(feet) >= 4
    seat, feet = read_seat(feet, lands, Doubt(registration_mm=0.004))
    assert seat.dx_mm == pytest.approx(0.06, abs=0.015)
    assert seat.dy_mm == pytest.approx(0.11, abs=0.012)
    assert seat.skew_deg == pytest.approx(1.2, abs=0.3)
    truth = {
        reading.number: reading.side_overhang.value
        for reading in read_leads(
            strips(PART, feet=True, **move), strips(PART, feet=False), Doubt()
        )
    }
    for reading in read_leads(feet, lands, Doubt(registration_mm=0.004)):
        assert reading.side_overhang.value == pytest.approx(
            truth[reading.number], abs=0.03
        )


def test_what_the_other_feet_tell_keeps_solder_apart():
    move = {"dx": 0.0, "dy": 0.08, "skew_deg": 0.0}
    feet, lands = strips(PART, feet=True, **move), strips(PART, feet=False)
    told = replace(KNOWN, place_sd_mm=0.04)
    alone, helped = [], []
    for seed in range(4):
        board, view = scene(4, seed=seed, solder=1.0, **move)
        for foot, land in zip(feet, lands, strict=True):
            square = replace(foot, width_sd_mm=0.005)
            for known, off in ((KNOWN, alone), (told, helped)):
                seen = measure_foot(board, square, land, view, gap_mm=GAP, known=known)
                off.append(seen.centre_mm[1] - foot.centre_mm[1])
    rms = [float(np.sqrt(np.mean(np.square(off)))) for off in (alone, helped)]
    assert rms[1] < 0.02
    assert rms[1] < 0.7 * rms[0]


def test_a_bent_foot_is_still_seen_where_the_others_tell_of_none():
    move = {"dx": 0.0, "dy": 0.0, "skew_deg": 0.0}
    bent = replace(PART, leads_off_mm=np.array([[0.12, 0.0]] + [[0.0, 0.0]] * 7))
    land = strips(PART, feet=False)[0]
    told = replace(KNOWN, place_sd_mm=0.04)
    board, view = scene(4, part=bent, solder=1.0, **move)
    straight = replace(strips(PART, feet=True, **move)[0], width_sd_mm=0.005)
    seen = measure_foot(board, straight, land, view, gap_mm=GAP, known=told)
    true = strips(bent, feet=True, **move)[0]
    assert seen.centre_mm == pytest.approx(true.centre_mm, abs=0.02)


def test_a_foot_behind_the_body_is_not_measured():
    board, view = scene(40, azimuth_deg=0, dx=0.001)
    feet, lands = strips(PART, feet=True), strips(PART, feet=False)
    answers = [
        measure_foot(board, foot, land, view, gap_mm=GAP, known=KNOWN)
        for foot, land in zip(feet, lands, strict=True)
    ]
    hidden = [answer for answer in answers if isinstance(answer, NotFound)]
    assert len(hidden) >= 4
    assert any("the body hides" in answer.reason for answer in hidden)


def test_a_land_outside_the_photo_says_so():
    board, _ = scene(0)
    away = replace(strips(PART, feet=False)[0], centre_mm=(90.0, 90.0))
    found = measure_land(board, away, GAP)
    assert isinstance(found, NotFound)
    assert "outside" in found.reason
