"""Windows on gaps: where they lie, how they are cut, whatever the photo's turn."""

import cv2
import numpy as np
import pytest

from vision.geometry import apply_homography, body_corners_mm
from vision.packages import lead_positions
from vision.strips import (
    COLS,
    LEFT_COL,
    REACH_PX,
    RIGHT_COL,
    ROWS,
    TOE_ROW,
    cut_windows,
    gap_windows,
)
from vision.tables import variants_of

SOIC8 = variants_of("SOIC", 8)[0]
TOLERANCE_PX = 0.01


def quad_px(variant, scale=40.0, angle_deg=0.0):
    corners = body_corners_mm(variant.body_x_mm[1], variant.body_y_mm[1]) * scale
    a = np.deg2rad(angle_deg)
    return corners @ np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) + 200


def to_px(variant, points_mm, scale=40.0, angle_deg=0.0):
    a = np.deg2rad(angle_deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return np.asarray(points_mm) * scale @ turn + 200


@pytest.mark.parametrize("angle_deg", [0.0, 37.0, 90.0, 200.0])
def test_leads_and_body_edge_lie_where_the_network_expects_them(angle_deg):
    windows = gap_windows(quad_px(SOIC8, angle_deg=angle_deg), SOIC8)
    places = lead_positions(SOIC8)
    assert [(w.first, w.second) for w in windows] == [
        (1, 2), (2, 3), (3, 4), (5, 6), (6, 7), (7, 8)
    ]  # fmt: skip
    for window in windows:
        seen = apply_homography(
            window.to_photo,
            [[LEFT_COL, TOE_ROW], [RIGHT_COL, TOE_ROW], [LEFT_COL, TOE_ROW - REACH_PX]],
        )
        first, second = places[window.first - 1], places[window.second - 1]
        known = to_px(
            SOIC8, [first.toe_mm, second.toe_mm, first.root_mm], angle_deg=angle_deg
        )
        assert np.abs(seen - known).max() < TOLERANCE_PX
        assert window.spacing_px == pytest.approx(SOIC8.pitch_mm * 40.0)


def test_no_window_spans_a_corner_of_a_four_sided_package():
    qfp = variants_of("QFP", 32)[0]
    windows = gap_windows(quad_px(qfp), qfp)
    per_side = qfp.lead_count // 4
    assert len(windows) == qfp.lead_count - 4
    assert all(w.first % per_side for w in windows)


def test_a_lead_alone_on_its_side_gets_a_window_of_its_own():
    sot = next(v for v in variants_of("SOT") if v.lead_count == 3)
    windows = gap_windows(quad_px(sot), sot)
    assert {w.first for w in windows if w.second is None} == {3}


@pytest.mark.parametrize("scale", [14.0, 40.0, 160.0])
def test_a_mark_in_the_gap_is_cut_into_the_middle_at_any_density(scale):
    quad = (quad_px(SOIC8, scale) - 200) + 6.5 * scale
    picture = np.zeros((int(13 * scale), int(13 * scale), 3), np.uint8)
    windows = gap_windows(quad, SOIC8)
    gap = apply_homography(windows[1].to_photo, [[(COLS - 1) / 2, TOE_ROW]])[0]
    cv2.circle(
        picture, tuple(int(v) for v in np.round(gap)), int(0.2 * scale), (255,) * 3, -1
    )
    cut = cut_windows(picture, windows)
    assert cut.shape == (6, ROWS, COLS, 3)
    rows, cols = np.nonzero(cut[1, ..., 0] > 100)
    assert rows.mean() == pytest.approx(TOE_ROW, abs=1.5)
    assert cols.mean() == pytest.approx((COLS - 1) / 2, abs=1.5)
    assert cut[4].max() == 0


def test_a_photo_laid_over_another_gives_the_same_windows():
    rng = np.random.default_rng(1)
    picture = cv2.GaussianBlur(
        rng.integers(0, 255, (420, 420, 3)).astype(np.uint8), (0, 0), 3
    )
    board = np.array([[0.9, -0.2, 60.0], [0.2, 0.9, 10.0], [0, 0, 1.0]])
    other = cv2.warpPerspective(picture, board, (520, 520))
    windows = gap_windows(quad_px(SOIC8), SOIC8)
    plain = cut_windows(picture, windows).astype(int)
    laid = cut_windows(other, windows, photo_to_pixels=board).astype(int)
    assert np.abs(plain - laid).mean() < 3


def test_beyond_the_picture_is_black():
    windows = gap_windows(quad_px(SOIC8) - 195, SOIC8)
    cut = cut_windows(np.full((60, 60, 3), 200, np.uint8), windows)
    assert (cut == 0).any()


def test_no_windows_give_no_pictures():
    assert cut_windows(np.zeros((9, 9, 3), np.uint8), ()).shape == (0, ROWS, COLS, 3)
