"""A photo made small shows the same places as the photo."""

from __future__ import annotations

import numpy as np
import pytest

from vision.geometry import apply_homography
from vision.small import averaged, make_small, shrunk_part


def _ramp(rows: int, cols: int) -> np.ndarray:
    """A picture whose blue says the column, and whose green says the row."""
    y, x = np.indices((rows, cols))
    return np.stack([x / cols * 250, y / rows * 250, 0 * x], -1).astype(np.uint8)


def _said(picture: np.ndarray, x: float, y: float) -> np.ndarray:
    return picture[round(y), round(x), :2].astype(float)


@pytest.mark.parametrize("size", [(1000, 800), (997, 801), (640, 480)])
def test_the_mean_of_a_ramp_stays_a_ramp(size: tuple[int, int]) -> None:
    small = averaged(_ramp(1600, 2000), size)
    assert small.shape[:2] == size[::-1]
    wanted = np.linspace(0, 250, size[0])
    assert np.abs(small[size[1] // 2, :, 0] - wanted).max() < 2


def test_nothing_is_lost_in_a_grain_finer_than_the_halves() -> None:
    grain = np.zeros((64, 64), np.uint8)
    grain[::2, ::2] = 200
    assert np.abs(averaged(grain, (16, 16)).astype(float) - 50).max() <= 1


@pytest.mark.parametrize("density", [1.0, 1.9, 2.7, 4.4, 9.0])
def test_a_part_shows_the_places_it_was_cut_for(density: float) -> None:
    photo = _ramp(1203, 1601)
    places = np.array([[211.0, 155], [1199, 160], [1190, 1000], [220, 995]])
    part, to_part = shrunk_part(photo, places, density)
    for place, (x, y) in zip(places, apply_homography(to_part, places), strict=True):
        assert -0.5 <= x <= part.shape[1] - 0.5
        assert -0.5 <= y <= part.shape[0] - 0.5
        inside = np.clip((x, y), 0, (part.shape[1] - 1, part.shape[0] - 1))
        off = _said(part, *inside) - _said(photo, *place)
        assert np.abs(off).max() <= 2 + 0.2 * density


def test_a_photo_made_small_says_where_its_pixels_lie() -> None:
    photo = _ramp(3000, 4000)
    small = make_small(photo, 1536)
    place = np.array([[3001.0, 1207.0]])
    x, y = apply_homography(small.from_photo(), place)[0]
    assert _said(small.pixels, x, y) == pytest.approx(_said(photo, 3001, 1207), abs=2)
