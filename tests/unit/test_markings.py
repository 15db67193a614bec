"""A drawn marking is read and tells which corner lies lower left."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from vision.markings import read_marking
from vision.results import NotFound

BODY_PX = np.array([[150.0, 330], [450, 330], [450, 150], [150, 150]])
"""Lower left first, counter-clockwise as seen."""


def drawn(*lines: str) -> np.ndarray:
    picture = np.full((480, 600, 3), (60, 110, 40), np.uint8)
    cv2.rectangle(picture, (150, 150), (450, 330), (34, 34, 36), -1)
    for k, line in enumerate(lines):
        cv2.putText(
            picture, line, (175, 215 + 75 * k), cv2.FONT_HERSHEY_SIMPLEX, 1.6,
            (170, 175, 178), 4, cv2.LINE_AA,
        )  # fmt: skip
    noise = np.random.default_rng(2).normal(0, 4, picture.shape)
    return (picture + noise).clip(0, 255).astype(np.uint8)


def turned(picture: np.ndarray, corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A quarter turn counter-clockwise of picture and corners."""
    last = picture.shape[1] - 1
    points = np.stack([corners[:, 1], last - corners[:, 0]], 1)
    return np.rot90(picture).copy(), points


@pytest.mark.parametrize("quarter_turns", range(4))
@pytest.mark.parametrize("start", range(4))
def test_finds_the_lower_left_corner_whatever_the_turn(quarter_turns, start):
    picture, corners = drawn("24LC256I", "TG2347KB"), BODY_PX
    for _ in range(quarter_turns):
        picture, corners = turned(picture, corners)
    marking = read_marking(picture, np.roll(corners, start, axis=0))
    assert marking
    assert marking.lower_left == start
    assert "24LC256" in marking.text


def test_a_blank_top_is_not_read():
    assert isinstance(read_marking(drawn(), BODY_PX), NotFound)


def test_a_marking_that_reads_both_ways_says_nothing():
    assert isinstance(read_marking(drawn("SOS NOH", "HON SOS"), BODY_PX), NotFound)
