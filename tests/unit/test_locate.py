"""The finder's shape description, and what it does with a whole photo."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision import locate
from vision.load import load_photo
from vision.overlap import quad_iou_frac
from vision.results import Photo

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"


def described(corners):
    """The description that the finder is trained to give, written out anew."""
    u = (corners[2] + corners[3] - corners[0] - corners[1]) / 4
    v = (corners[1] + corners[2] - corners[0] - corners[3]) / 4
    moment = np.outer(u, u) + np.outer(v, v)
    trace = np.trace(moment)
    four = sum(np.linalg.norm(s) * np.exp(4j * np.arctan2(s[1], s[0])) for s in (u, v))
    four /= abs(four)
    return np.array([
        0.5 * np.log(trace) - locate.LOG_SIZE,
        (moment[0, 0] - moment[1, 1]) / trace,
        2 * moment[0, 1] / trace,
        four.real,
        four.imag,
    ])  # fmt: skip


@given(
    wide=st.floats(12, 400), ratio=st.floats(0.25, 4), angle=st.floats(-np.pi, np.pi),
    x=st.floats(0, 1000), y=st.floats(0, 1000),
)  # fmt: skip
def test_a_rectangle_is_drawn_again_from_its_description(wide, ratio, angle, x, y):
    half = np.array([wide, wide * ratio]) / 2
    flat = np.array([[-1, -1], [-1, 1], [1, 1], [1, -1]]) * half
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    corners = flat @ turn.T + [x, y]
    again = locate._corners(described(corners), np.array([x, y]))
    assert quad_iou_frac(again, corners) > 0.98


def test_the_finder_sees_the_memory_at_any_size_of_the_photo():
    photo = load_photo(SAMPLES / "donor_before.jpg")
    first = locate.find_outlines(photo)[0].corners_px
    for factor in (0.5, 2.0):
        pixels = cv2.resize(photo.pixels, None, fx=factor, fy=factor)
        rows, cols = pixels.shape[:2]
        other = Photo(
            path=photo.path, sha256="", width_px=cols, height_px=rows, pixels=pixels
        )
        found = [np.array(o.corners_px) / factor for o in locate.find_outlines(other)]
        assert max(quad_iou_frac(first, f) for f in found[:3]) > 0.8


@pytest.mark.parametrize("shape", [(64, 64), (300, 2000), (2000, 300)])
def test_a_bare_picture_of_any_shape_is_searched(shape):
    pixels = np.full((*shape, 3), 90, np.uint8)
    photo = Photo(
        path=Path("bare.png"), sha256="", width_px=shape[1], height_px=shape[0],
        pixels=pixels,
    )  # fmt: skip
    assert all(o.score < 0.9 for o in locate.find_outlines(photo))


@pytest.mark.parametrize(("is_thorough", "looks"), [(False, 1), (True, 3)])
def test_a_sure_large_body_ends_the_search_unless_it_has_to_be_thorough(
    monkeypatch, is_thorough, looks
):
    pixels = np.full((1500, 2000, 3), 90, np.uint8)
    photo = Photo(
        path=Path("x.png"), sha256="", width_px=2000, height_px=1500, pixels=pixels
    )
    body = np.array([[500.0, 500], [500, 1000], [1000, 1000], [1000, 500]])
    seen = []

    def look(small, _):
        seen.append(max(small.shape))
        return locate._Found(np.array([0.95]), body[None])

    monkeypatch.setattr(locate, "_look", look)
    found = locate.find_outlines(photo, is_thorough=is_thorough)
    assert len(found) == 1
    assert seen == [448, 1152, 1728][:looks]
