"""Chips that were turned stop a board, wherever they lie and however many they are."""

from __future__ import annotations

import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest

from vision.pipeline import compare

SAMPLES = Path(__file__).parents[2] / "sample_images"
TILES = ("patient_before.jpg", "donor_before.jpg", "after_good.jpg")
HALF, SIDE = 480, 900
AGAIN = np.array([[0.97, 0.03, 20.0], [-0.03, 0.97, 60.0]])
INSIDE = 0.97


@pytest.fixture(scope="module")
def boards():
    """Give three boards beside one another, and the outline of the chip on each."""
    photos = tomllib.loads((SAMPLES / "truth.toml").read_text("utf-8"))["photo"]
    outlines = {p["file"]: p["chip"]["outline_px"] for p in photos if "chip" in p}
    tiles, quads = [], []
    for k, name in enumerate(TILES):
        quad = np.array(outlines[name])
        left, top = np.maximum(quad.mean(axis=0).astype(int) - HALF, 0)
        picture = cv2.imread(str(SAMPLES / name))
        tiles.append(picture[top : top + SIDE, left : left + SIDE])
        quads.append(quad - [left, top] + [k * SIDE, 0])
    return np.hstack(tiles), quads


def turned(picture, quad):
    """Turn what lies within an outline by half a turn."""
    ends = quad.astype(np.float32), np.roll(quad, -2, axis=0).astype(np.float32)
    size = picture.shape[1::-1]
    other = cv2.warpPerspective(picture, cv2.getPerspectiveTransform(*ends), size)
    middle = quad.mean(axis=0)
    body = np.round(middle + (quad - middle) * INSIDE).astype(np.int32)
    mask = cv2.fillConvexPoly(np.zeros(picture.shape[:2], np.uint8), body, 255)
    return np.where(mask[..., None] > 0, other, picture)


@pytest.mark.parametrize(
    ("which", "decision"),
    [((), "no-fault-seen"), ((0,), "stop"), ((0, 2), "stop"), ((0, 1, 2), "stop")],
)
def test_chips_turned_beside_the_one_in_the_middle_stop(
    boards, tmp_path, which, decision
):
    picture, quads = boards
    cv2.imwrite(str(tmp_path / "before.png"), picture)
    for k in which:
        picture = turned(picture, quads[k])
    size = picture.shape[1] + 30, picture.shape[0] + 60
    later = cv2.warpAffine(picture, AGAIN, size, borderValue=(40, 70, 40))
    cv2.imwrite(str(tmp_path / "after.png"), later)
    found = compare(tmp_path / "before.png", tmp_path / "after.png")
    assert found.decision == decision
    if which:
        assert found.orientation.turn_deg == 180
