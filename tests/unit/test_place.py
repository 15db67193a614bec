"""A chip followed over a drawn board while camera and chip move."""

import math

import cv2
import numpy as np
import pytest

from ui.place_words import place_line
from vision.place import Move, follow, start
from vision.results import NotFound

SIZE = (1600, 1250)
SCALE = 60.0
BODY = np.array([(-1.95, -2.45), (-1.95, 2.45), (1.95, 2.45), (1.95, -2.45)])


def textures(seed=0):
    rng = np.random.default_rng(seed)
    board = np.full((SIZE[1] + 400, SIZE[0] + 400), 70, np.uint8)
    for _ in range(260):
        a = rng.integers(0, [SIZE[0] + 400, SIZE[1] + 400])
        b = a + rng.integers(-160, 160, 2)
        cv2.line(
            board, a.tolist(), b.tolist(), int(rng.integers(40, 220)), 5, cv2.LINE_AA
        )
    chip = np.full((600, 480), 35, np.uint8)
    for i, text in enumerate(("TG24", "A417", "0925")):
        cv2.putText(chip, text, (50, 200 + 130 * i), 0, 3.2, 170, 8, cv2.LINE_AA)
    return board, cv2.GaussianBlur(chip, (0, 0), 1.0)


BOARD, CHIP = textures()


def pose(dx_mm, dy_mm, turn_deg):
    """Chip corners in the still board picture (camera at rest)."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    x, y = BODY.T
    turned = np.stack([c * x + s * y + dx_mm, -s * x + c * y + dy_mm], axis=1)
    return turned * SCALE + [SIZE[0] / 2, SIZE[1] / 2]


def camera(shift=(0.0, 0.0), turn_deg=0.0, zoom=1.0):
    c, s = (
        zoom * math.cos(math.radians(turn_deg)),
        zoom * math.sin(math.radians(turn_deg)),
    )
    m = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1.0]])
    middle = np.array([[1, 0, SIZE[0] / 2], [0, 1, SIZE[1] / 2], [0, 0, 1.0]])
    still = middle @ m @ np.linalg.inv(middle)
    return np.array([[1, 0, shift[0]], [0, 1, shift[1]], [0, 0, 1.0]]) @ still


def frame(corners, view, seed=0):
    offset = np.array([[1, 0, -200], [0, 1, -200], [0, 0, 1.0]])
    shown = cv2.warpPerspective(BOARD, view @ offset, SIZE, flags=cv2.INTER_LINEAR)
    flat = np.array([(0, 0), (0, 599), (479, 599), (479, 0)], np.float32)
    to_chip = view @ cv2.getPerspectiveTransform(flat, corners.astype(np.float32))
    chip = cv2.warpPerspective(CHIP, to_chip, SIZE, flags=cv2.INTER_AREA)
    cover = cv2.warpPerspective(
        np.ones_like(CHIP), to_chip, SIZE, flags=cv2.INTER_NEAREST
    )
    shown[cover > 0] = chip[cover > 0]
    noise = np.random.default_rng(seed).normal(0, 3, shown.shape)
    return np.clip(shown + noise, 0, 255).astype(np.uint8)


def begin(offset=(0.6, -0.4, 5.0)):
    corners = pose(*offset)
    return start(frame(corners, np.eye(3)), corners, pose(0, 0, 0), SCALE)


def test_the_needed_move_shrinks_as_the_chip_comes_home():
    state = begin()
    for i in range(1, 11):
        left = 1 - i / 10
        where = (0.6 * left, -0.4 * left, 5.0 * left)
        view = camera((3.0 * i, -2.0 * i), 0.4 * i, 1 + 0.004 * i)
        move = follow(state, frame(pose(*where), view, seed=i))
        assert isinstance(move, Move)
        # The needed push, in the axes of the live picture.
        c, s = math.cos(math.radians(0.4 * i)), math.sin(math.radians(0.4 * i))
        dx, dy = -where[0], -where[1]
        assert move.dx_mm == pytest.approx(c * dx + s * dy, abs=0.015)
        assert move.dy_mm == pytest.approx(-s * dx + c * dy, abs=0.015)
        assert move.turn_deg == pytest.approx(-where[2], abs=0.15)
        assert math.hypot(
            move.dx_mm - (c * dx + s * dy), move.dy_mm - (-s * dx + c * dy)
        ) < max(move.u_mm, 0.015)
    assert place_line(move).startswith("hold")


def test_a_covered_chip_is_not_guessed():
    state = begin()
    dark = frame(pose(0.6, -0.4, 5.0), np.eye(3), seed=3)
    dark[300:950, 500:1100] = 20
    lost = follow(state, dark)
    assert isinstance(lost, NotFound)
    assert place_line(lost).startswith("wait: lost sight")


def test_an_empty_board_cannot_be_followed():
    flat = np.full((SIZE[1], SIZE[0]), 80, np.uint8)
    state = start(flat, pose(0, 0, 0), pose(0, 0, 0), SCALE)
    assert isinstance(state, NotFound)
    assert "points of the board" in state.reason


def test_the_line_says_which_way():
    move = Move(dx_mm=0.31, dy_mm=-0.12, turn_deg=-3.24, u_mm=0.03, u_deg=0.2)
    assert place_line(move) == (
        "move 0.31 mm right, 0.12 mm up; turn 3.2° clockwise (± 0.03 mm, ± 0.2°)"
    )
