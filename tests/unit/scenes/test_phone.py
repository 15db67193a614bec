"""What the made-up phone does to light."""

from __future__ import annotations

import cv2
import numpy as np

from models.scenes.description import Phone
from models.scenes.phone import develop, encode_jpeg

GREY = np.full((90, 120, 3), 0.3, np.float32)


def _mean(phone: Phone) -> np.ndarray:
    return develop(GREY, phone, np.random.default_rng(0)).mean(axis=(0, 1))


def test_same_seed_same_picture() -> None:
    first = develop(GREY, Phone(), np.random.default_rng(4))
    again = develop(GREY, Phone(), np.random.default_rng(4))
    assert (first == again).all()


def test_exposure_brightens() -> None:
    assert (_mean(Phone(exposure=0.8)) > _mean(Phone(exposure=0.4)) + 10).all()


def test_gains_tint_their_own_channel() -> None:
    plain, warm = _mean(Phone()), _mean(Phone(red_gain=1.3))
    assert warm[2] > plain[2] + 5  # blue, green, red
    assert abs(warm[0] - plain[0]) < 3


def test_noise_grows_with_its_setting() -> None:
    quiet = develop(GREY, Phone(noise=0.3), np.random.default_rng(0))[30:60, 40:80]
    loud = develop(GREY, Phone(noise=3.0), np.random.default_rng(0))[30:60, 40:80]
    assert loud.std(axis=(0, 1)).mean() > 2 * quiet.std(axis=(0, 1)).mean()


def test_jpeg_reads_back() -> None:
    picture = develop(GREY, Phone(), np.random.default_rng(0))
    data = np.frombuffer(encode_jpeg(picture, Phone()), np.uint8)
    back = cv2.imdecode(data, cv2.IMREAD_COLOR)
    assert back.shape == picture.shape
    assert np.abs(back.astype(int) - picture).mean() < 3
