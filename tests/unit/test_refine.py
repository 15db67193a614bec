"""The cut round a body, and the close look at the demo's memory."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.geometry import apply_homography
from vision.load import load_photo
from vision.overlap import quad_iou_frac
from vision.refine import CROP_PX, FILL_FRAC, QUICK_FRAC, QUICK_PX, cut, refine
from vision.results import NotFound

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
TRUTH = tomllib.loads((SAMPLES / "truth.toml").read_text(encoding="utf-8"))
CHIP = next(p for p in TRUTH["photo"] if p["file"] == "donor_before.jpg")["chip"]
OUTLINE = np.array(CHIP["outline_px"])
BARE = np.zeros((480, 640, 3), np.uint8)


@given(
    x=st.floats(50, 590), y=st.floats(50, 430), long=st.floats(20, 300),
    ratio=st.floats(0.3, 1), angle=st.floats(-np.pi, np.pi),
)  # fmt: skip
@pytest.mark.parametrize(
    "size_and_fill", [(CROP_PX, FILL_FRAC), (QUICK_PX, QUICK_FRAC)]
)
def test_the_body_lies_upright_in_the_middle_of_the_cut(
    size_and_fill, x, y, long, ratio, angle
):
    size, fill = size_and_fill
    half = np.array([long, long * ratio]) / 2
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    flat = np.array([[-1, -1], [-1, 1], [1, 1], [1, -1]]) * half
    crop, to_crop = cut(BARE, flat @ turn.T + [x, y], size, fill)
    assert crop.shape == (size, size, 3)
    seen = apply_homography(to_crop, flat @ turn.T + [x, y])
    assert np.allclose(seen.mean(0), (size - 1) / 2, atol=1e-6)
    sides = np.abs(np.diff(seen, axis=0))
    assert sides.max() == pytest.approx(fill * size, rel=1e-6)
    assert sides.min(axis=1).max() < 1e-6 * size


@pytest.mark.parametrize("start", range(4))
def test_the_close_look_does_not_care_where_the_outline_starts(start):
    pixels = load_photo(SAMPLES / "donor_before.jpg").pixels
    close = refine(pixels, np.roll(OUTLINE, start, axis=0) + 6.0)
    assert close
    assert quad_iou_frac(close.corners_px, OUTLINE) > 0.9
    likeliest = close.corners_px[int(close.turn_share.argmax())]
    assert np.linalg.norm(OUTLINE - likeliest, axis=1).argmin() == 0
    assert close.turn_share.sum() == pytest.approx(1.0)


def test_a_bare_surface_shows_no_package():
    close = refine(np.full((480, 640, 3), 90, np.uint8), OUTLINE * 0.4, turns=(0,))
    assert isinstance(close, NotFound) or close.corner_share < 0.85
