"""A copy of the photo before is no photo after."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from vision.errors import PhotoError
from vision.load import load_photo
from vision.same_shot import refuse_same_shot

SAMPLES = Path(__file__).parents[2] / "sample_images"
BEFORE = load_photo(SAMPLES / "donor_before.jpg")


def shown(pixels):
    rows, cols = pixels.shape[:2]
    return replace(
        BEFORE, pixels=pixels, width_px=cols, height_px=rows, sha256="another"
    )


def jpeg(pixels, quality):
    _, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return cv2.imdecode(data, cv2.IMREAD_COLOR)


@pytest.mark.parametrize(
    "copied",
    [
        lambda pixels: pixels.copy(),
        lambda pixels: jpeg(pixels, 30),
        lambda pixels: np.ascontiguousarray(np.rot90(pixels)),
        lambda pixels: np.ascontiguousarray(pixels[::-1, ::-1]),
        lambda pixels: jpeg(cv2.resize(pixels, (800, 600)), 60),
    ],
    ids=["lossless", "jpeg-30", "quarter-turn", "half-turn", "smaller"],
)
def test_a_copy_is_refused(copied):
    with pytest.raises(PhotoError, match="or a copy of it"):
        refuse_same_shot(BEFORE, shown(copied(BEFORE.pixels)))


def test_one_file_twice_is_refused():
    with pytest.raises(PhotoError, match="the photo before once more, so nothing"):
        refuse_same_shot(BEFORE, BEFORE)


def test_another_photo_is_taken():
    refuse_same_shot(BEFORE, load_photo(SAMPLES / "after_good.jpg"))


def test_a_joint_soldered_anew_under_a_camera_that_stands_still_is_another_photo():
    pixels = BEFORE.pixels.copy()
    rows, cols = pixels.shape[:2]
    y, x, side = rows // 2, cols // 2, round(0.02 * cols)
    pixels[y : y + side, x : x + side] = np.minimum(
        pixels[y : y + side, x : x + side].astype(int) + 20, 255
    )
    refuse_same_shot(BEFORE, shown(pixels))
