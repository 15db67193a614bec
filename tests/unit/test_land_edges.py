"""Bare lands measured on drawn boards with exact truth."""

from dataclasses import replace

import pytest

from tests.benchmark.flat_scene import strips
from tests.unit.drawn_boards import GAP, PART, drawn_board
from vision.land_edges import Board, measure_land
from vision.results import NotFound


def bare(tilt_deg: float) -> Board:
    drawn = drawn_board(tilt_deg)
    return Board(
        gray=drawn.gray, board_to_image=drawn.to_image, registration_sd_mm=0.004
    )


def test_bare_lands_come_back() -> None:
    board = bare(12)
    for land in strips(PART, feet=False):
        rough = replace(
            land, centre_mm=(land.centre_mm[0] + 0.05, land.centre_mm[1] - 0.04)
        )
        found = measure_land(board, rough, GAP)
        assert found.centre_mm == pytest.approx(land.centre_mm, abs=0.012)
        assert found.width_mm == pytest.approx(land.width_mm, abs=0.012)
        assert 0 < found.across_sd_mm < 0.01


def test_a_land_outside_the_photo_says_so() -> None:
    away = replace(strips(PART, feet=False)[0], centre_mm=(90.0, 90.0))
    found = measure_land(bare(0), away, GAP)
    assert isinstance(found, NotFound)
    assert "outside" in found.reason
