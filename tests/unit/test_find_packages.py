"""Which of the places that look like a package are looked at closely."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.unit.drawn_leads import drawn
from vision import find_packages as found_in
from vision.load import load_photo
from vision.locate import FAINT_SCORE, MIN_SCORE
from vision.overlap import quad_iou_frac
from vision.refine import CloseUp
from vision.results import Outline
from vision.tables import variants_of

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
FAINT = (FAINT_SCORE + MIN_SCORE) / 2


@pytest.fixture(scope="module")
def memory():
    """A photo, and the outline of the memory on it."""
    photo = load_photo(SAMPLES / "donor_before.jpg")
    main = found_in.find_packages(photo).packages[0]
    return photo, np.array(main.outline_px)


def crop(photo, corners, off_px):
    """Cut a square whose middle lies so far right of the memory's."""
    side = int(3 * np.ptp(corners, axis=0).max())
    x, y = (corners.mean(0) - side / 2 + [off_px, 0]).astype(int) + side
    wide = np.pad(photo.pixels, ((side, side), (side, side), (0, 0)), "reflect")
    pixels = wide[y : y + side, x : x + side].copy()
    part = replace(photo, pixels=pixels, width_px=side, height_px=side)
    return part, corners + side - [x, y]


@pytest.mark.parametrize(
    ("score", "off", "is_read"),
    [(FAINT, 0.0, True), (FAINT, 0.8, False), (2 * MIN_SCORE, 0.8, True)],
)
def test_a_faint_place_counts_under_the_middle_alone(
    memory, monkeypatch, score, off, is_read
):
    photo, corners = memory
    part, there = crop(photo, corners, off * np.ptp(corners, axis=0).max())
    place = Outline(corners_px=tuple(map(tuple, there)), score=score)
    monkeypatch.setattr(found_in, "find_outlines", lambda *_, **__: (place,))
    found = found_in.find_packages(part)
    assert len(found.packages) == is_read
    assert not found.unread_px
    if is_read:
        assert quad_iou_frac(found.packages[0].outline_px, there) > 0.9


def test_what_looks_like_a_package_and_is_none_is_named_unread(memory, monkeypatch):
    photo, corners = memory
    part, there = crop(photo, corners, 0.0)
    beside = there + np.array([0.0, 1.2 * np.ptp(there, axis=0).max()])
    place = Outline(corners_px=tuple(map(tuple, beside)), score=0.9)
    part.pixels[int(beside[:, 1].min()) :] = 90
    monkeypatch.setattr(found_in, "find_outlines", lambda *_, **__: (place,))
    found = found_in.find_packages(part)
    assert not found.packages
    assert found.unread_px == (place.corners_px,)


def test_unlike_rows_of_leads_turn_a_package_that_was_taken_the_wrong_way_round(
    memory, monkeypatch
):
    variant = variants_of("SOT", 4)[0]
    pixels, corners = drawn(variant)
    seen = CloseUp(
        corners_px=corners,
        turn_share=np.array([0.4, 0.0, 0.6, 0.0]),
        corner_share=1.0,
        family_share={"SOT": 1.0},
        count_share={4: 1.0},
        marks=(),
    )
    monkeypatch.setattr(found_in, "refine", lambda *_, **__: seen)
    photo = replace(memory[0], pixels=pixels)
    place = Outline(corners_px=tuple(map(tuple, corners)), score=0.9)
    read = found_in.read_package(photo, place)
    assert np.allclose(read.outline_px, corners)
    assert read.variant == variant.name


def close_up(corners, share):
    return CloseUp(
        corners_px=corners,
        turn_share=np.array([0.97, 0.01, 0.01, 0.01]),
        corner_share=share,
        family_share={"SOIC": 1.0},
        count_share={8: 1.0},
        marks=(),
    )


@pytest.mark.parametrize(
    ("score", "quick", "close", "is_read"),
    [
        (0.8, 0.9, 0.8, True),
        (0.8, 0.75, 0.9, True),
        (0.8, 0.75, 0.8, False),
        (0.8, 0.65, 0.9, False),
        (0.6, 0.75, 0.9, False),
    ],
)
def test_a_body_surely_found_is_looked_at_again_where_the_quick_look_is_faint(
    memory, monkeypatch, score, quick, close, is_read
):
    pixels, corners = drawn(variants_of("SOIC", 8)[0])

    def look(*_, is_quick=False, **__):
        return close_up(corners, quick if is_quick else close)

    monkeypatch.setattr(found_in, "refine", look)
    place = Outline(corners_px=tuple(map(tuple, corners)), score=score)
    read = found_in.read_package(replace(memory[0], pixels=pixels), place)
    assert bool(read) == is_read


def test_where_a_coarse_look_led_to_nothing_the_photo_is_looked_at_more_finely(
    memory, monkeypatch
):
    photo, corners = memory
    bare = Outline(corners_px=((10, 10), (10, 90), (90, 90), (90, 10)), score=0.95)
    there = Outline(corners_px=tuple(map(tuple, corners)), score=0.5)

    def find(*_, is_thorough=False, **__):
        return (bare, there) if is_thorough else (bare,)

    monkeypatch.setattr(found_in, "find_outlines", find)
    found = found_in.find_packages(photo)
    assert len(found.packages) == 1
    assert quad_iou_frac(found.packages[0].outline_px, corners) > 0.9
    assert found.unread_px == (bare.corners_px,)
