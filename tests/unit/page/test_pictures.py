"""Pictures for the screen: view, tiles, and after laid over before."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ui.page import pictures
from ui.page.pictures import (
    TILE_PX,
    VIEW_PX,
    lacks_tiles,
    pair_key,
    picture_file,
    picture_folder,
    picture_info,
    save_tiles,
    save_view,
    warped,
)

KEY = "a" * 32


def ramp(rows, cols):
    x = np.linspace(0, 255, cols, dtype=np.float32)[None, :, None]
    y = np.linspace(0, 255, rows, dtype=np.float32)[:, None, None]
    return np.concatenate([x + 0 * y, y + 0 * x, (x + y) / 2], axis=2).astype(np.uint8)


def test_a_small_picture_is_its_own_view(tmp_path):
    folder = picture_folder(tmp_path, KEY)
    save_view(folder, ramp(480, 640))
    info = picture_info(tmp_path, KEY)
    assert (info.width_px, info.height_px, info.view_px) == (640, 480, 640)
    assert not lacks_tiles(tmp_path, KEY)
    save_tiles(folder, ramp(480, 640))
    assert sorted(p.name for p in folder.iterdir()) == ["info.json", "view.jpg"]


def test_tiles_show_every_pixel_of_a_large_picture(tmp_path):
    pixels = ramp(1500, 2600)
    folder = picture_folder(tmp_path, KEY)
    save_view(folder, pixels)
    assert picture_info(tmp_path, KEY).view_px == VIEW_PX
    assert lacks_tiles(tmp_path, KEY)
    save_tiles(folder, pixels)
    assert not lacks_tiles(tmp_path, KEY)
    for col in range(3):
        for row in range(2):
            tile = cv2.imread(str(folder / f"tile-{col}-{row}.jpg"))
            part = pixels[
                row * TILE_PX : (row + 1) * TILE_PX, col * TILE_PX : (col + 1) * TILE_PX
            ]
            assert tile.shape == part.shape
            assert np.abs(tile.astype(int) - part).mean() < 2


def test_a_view_that_was_cut_off_is_no_view(tmp_path):
    folder = picture_folder(tmp_path, KEY)
    save_view(folder, ramp(480, 640))
    (folder / "info.json").write_text('{"width_px": 6')
    assert picture_info(tmp_path, KEY) is None


@pytest.mark.parametrize(
    "key", ["", "..", "a" * 31, "a" * 33, "A" * 32, "../" + "a" * 29]
)
def test_a_key_of_another_form_leads_nowhere(tmp_path, key):
    assert picture_file(tmp_path, key, "view.jpg") is None
    with pytest.raises(ValueError, match="not the name"):
        picture_folder(tmp_path, key)


def test_after_lies_over_before_to_a_fraction_of_a_pixel():
    matrix = [[1.0, 0.02, 12.0], [-0.02, 1.0, -7.0], [1e-5, 0.0, 1.0]]
    before = ramp(400, 600)
    size = (600, 400)
    after = cv2.warpPerspective(before, np.array(matrix), size)
    back = warped(after, matrix, size)
    inside = (slice(60, 340), slice(60, 540))
    assert np.abs(back[inside].astype(int) - before[inside]).max() <= 3


def test_what_the_after_photo_does_not_show_is_grey():
    matrix = [[1.0, 0.0, 500.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    back = warped(ramp(400, 600), matrix, (600, 400))
    assert (back[200, 400] == 128).all()


def test_another_registration_is_another_picture():
    one = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    two = [[1.0, 0.0, 0.1], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    keys = {pair_key("b", "a", one), pair_key("b", "a", two), pair_key("a", "b", one)}
    assert len(keys) == 3
    assert all(pictures._KEY.fullmatch(key) for key in keys)
