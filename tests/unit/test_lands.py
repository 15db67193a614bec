"""Bare lands drawn in colour, whole and with each fault."""

import math

import cv2
import numpy as np
import pytest

from vision.lands import corners_mm, read_lands, strips_of
from vision.results import NotFound
from vision.tables import land_positions, variants_of

FINE = 4
SCALE = 30
MASK, TIN, COPPER = (45, 95, 35), (190, 195, 198), (70, 120, 190)
PATTERN = strips_of(
    land_positions(
        next(v for v in variants_of("SOIC", 8) if v.name == "SOIC-8 3.9x4.9 P1.27")
    )
)


class Drawing:
    """A coloured board seen square on, drawn four times too large."""

    def __init__(self, *, turn_deg=0.0, at_px=(172.3, 160.8), size=(340, 320)):
        self.size, self.turn, self.at = size, math.radians(turn_deg), np.array(at_px)
        self.fine = np.full((size[1] * FINE, size[0] * FINE, 3), MASK, np.uint8)

    def to_px(self, points):
        c, s = math.cos(self.turn), math.sin(self.turn)
        x, y = np.asarray(points, dtype=float).T
        return SCALE * np.stack([c * x + s * y, -s * x + c * y], axis=1) + self.at

    def fill(self, points, colour):
        fine = (self.to_px(points) + 0.5) * FINE - 0.5
        cv2.fillConvexPoly(
            self.fine, np.round(fine * 64).astype(np.int32), colour, shift=6
        )

    def disc(self, at, radius, colour):
        turn = np.linspace(0, 2 * math.pi, 24)
        self.fill(np.stack([np.cos(turn), np.sin(turn)], axis=1) * radius + at, colour)

    def photo(self, noise=2.5, seed=0):
        small = cv2.resize(self.fine, self.size, interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), 0.9).astype(float)
        small += np.random.default_rng(seed).normal(0, noise, small.shape)
        return np.clip(small, 0, 255).astype(np.uint8)


def board(*, skip=(), colours=None, **where):
    drawing = Drawing(**where)
    for land in PATTERN:
        if land.number not in skip:
            drawing.fill(corners_mm(land), (colours or {}).get(land.number, TIN))
    return drawing


def states(report):
    return {land.number: land.state for land in report.lands}


@pytest.mark.parametrize("turn_deg", [0, 7, -21])
def test_a_whole_pattern_is_ok_and_in_its_place(turn_deg):
    drawing = board(turn_deg=turn_deg)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert report.finding.state == "ok"
    assert set(states(report).values()) == {"ok"}
    for land, seen in zip(PATTERN, report.lands, strict=True):
        assert seen.strip.width_mm == pytest.approx(land.width_mm, abs=0.02)
        middle = np.mean(seen.corners_px, axis=0)
        truth = drawing.to_px([land.centre_mm])[0]
        np.testing.assert_allclose(middle, truth, atol=0.6)


def test_traces_under_the_mask_and_silkscreen_are_no_faults():
    drawing = Drawing()
    for land in PATTERN:
        x, y = land.centre_mm
        far = x + 4 * land.outward[0]
        ends = sorted((x, far))
        low, high = y - 0.1, y + 0.1
        trace = [(ends[0], low), (ends[1], low), (ends[1], high), (ends[0], high)]
        drawing.fill(trace, (55, 125, 50))
    for side in (-1, 1):
        low, high = side * 2.6 - 0.07, side * 2.6 + 0.07
        silk = [(-2, low), (2, low), (2, high), (-2, high)]
        drawing.fill(silk, (235, 235, 235))
    for land in PATTERN:
        drawing.fill(corners_mm(land), TIN)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert report.finding.state == "ok", report.finding.reasons
    assert "all 8 lands" in report.finding.reasons[0]


def test_scale_may_be_off_by_three_percent():
    report = read_lands(board().photo(), PATTERN, SCALE * 1.03)
    assert report.finding.state == "ok"


def test_a_missing_land():
    report = read_lands(board(skip=(3,)).photo(), PATTERN, SCALE)
    assert states(report)[3] == "fault"
    assert list(states(report).values()).count("ok") == 7
    assert "land L3 is missing" in report.finding.reasons[0]


def test_a_torn_land():
    drawing = board()
    x, y = PATTERN[5].centre_mm
    drawing.fill([(x, y - 0.4), (x + 2, y - 0.4), (x + 2, y + 0.4), (x, y + 0.4)], MASK)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert states(report)[6] == "fault"
    assert "torn" in report.finding.reasons[0]


def test_a_land_that_swung_aside():
    drawing = board(skip=(2,))
    moved = corners_mm(PATTERN[1]) + np.array([0.0, 0.2])
    drawing.fill(moved, TIN)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert states(report)[2] == "fault"
    assert any("land L2 lies" in reason for reason in report.finding.reasons)


def test_a_land_that_may_lie_beyond_the_limit_is_not_sound():
    drawing = board(skip=(2,))
    drawing.fill(corners_mm(PATTERN[1]) + np.array([0.0, 0.1]), TIN)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert states(report)[2] == "unsure"
    assert any("shop limit 0.10 mm" in reason for reason in report.finding.reasons)


def test_a_bridge_names_both_lands():
    drawing = board()
    x, y = PATTERN[0].centre_mm
    drawing.fill([(x, y), (x + 0.3, y), (x + 0.3, y + 1.27), (x, y + 1.27)], TIN)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert report.finding.state == "fault"
    assert "joins lands L1 and L2" in report.finding.reasons[0]
    assert states(report)[5] == "ok"


def test_a_land_without_tin():
    report = read_lands(board(colours={7: COPPER}).photo(), PATTERN, SCALE)
    assert states(report)[7] == "unsure"
    assert "another colour" in report.finding.reasons[0]


def test_uneven_tin():
    drawing = board()
    x, y = PATTERN[3].centre_mm
    drawing.fill(
        [(x, y - 0.3), (x + 1, y - 0.3), (x + 1, y + 0.3), (x, y + 0.3)],
        (105, 110, 112),
    )
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert states(report)[4] == "unsure"
    assert "uneven" in report.finding.reasons[0]


def test_a_solder_ball():
    drawing = board()
    x, y = PATTERN[2].centre_mm
    drawing.disc((x, y + 0.63), 0.1, TIN)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert report.finding.state == "fault"
    assert "debris" in report.finding.reasons[0]


def test_a_pad_under_the_body_is_no_debris():
    drawing = board()
    drawing.fill([[0.85, -0.25], [1.35, -0.25], [1.35, 0.25], [0.85, 0.25]], TIN)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert report.finding.state == "fault"
    known = read_lands(drawing.photo(), PATTERN, SCALE, pad_mm=(3.6, 1.0))
    assert known.finding.state == "ok"


def test_a_board_without_the_pattern_is_not_ok():
    drawing = Drawing()
    rng = np.random.default_rng(4)
    for _ in range(12):
        drawing.disc(rng.uniform(-4, 4, 2), rng.uniform(0.2, 0.5), TIN)
    report = read_lands(drawing.photo(), PATTERN, SCALE)
    assert isinstance(report, NotFound)
    assert "not in the picture" in report.reason


def test_too_few_pixels_asks_for_a_closer_photo():
    report = read_lands(board().photo(), PATTERN, 6)
    assert isinstance(report, NotFound)
    assert "closer" in report.reason
