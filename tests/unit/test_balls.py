"""Loose balls of solder: told beside the photo before, and never alone."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.test_joints import beliefs
from vision import balls
from vision.balls import find_balls
from vision.beside_before import Pictures
from vision.joint_cuts import PAIR
from vision.joints import judge
from vision.strips import COLS, ROWS

WINDOWS = tuple(b.window for b in beliefs())
EMPTY = np.zeros((len(WINDOWS), ROWS, COLS, 3), np.uint8)


def pictures(then: np.ndarray | None, seen: bool = True) -> Pictures:
    return Pictures(EMPTY, then, np.full(len(WINDOWS), seen))


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[np.ndarray]:
    """Answer that the first window shows a ball; gather what was asked."""
    stacks: list[np.ndarray] = []

    def answer(name: str, stack: np.ndarray) -> list[np.ndarray]:
        assert name == "balls"
        stacks.append(stack)
        return [np.array([[9.0]] + [[-9.0]] * (len(stack) - 1))]

    monkeypatch.setattr(balls, "run", answer)
    return stacks


def test_one_photo_alone_and_windows_that_were_not_seen_are_not_asked(asked):
    assert find_balls(WINDOWS, pictures(None, seen=False)) == ()
    assert find_balls(WINDOWS, pictures(EMPTY, seen=False)) == ()
    assert not asked


def test_the_gaps_in_which_a_ball_is_told_are_given(asked):
    found = find_balls(WINDOWS, pictures(EMPTY))
    assert found == WINDOWS[:1]
    assert (asked[0][..., 0] == 255).all()


def test_a_ball_is_a_doubt_that_names_its_gap():
    seen = judge(beliefs(), PAIR, balls=WINDOWS[:1])
    first, second = WINDOWS[0].first, WINDOWS[0].second
    assert seen.bridges_check.state == "unsure"
    assert f"between leads {first} and {second}" in seen.bridges_check.reasons[0]
    assert "ball of solder" in seen.bridges_check.reasons[0]


def test_in_a_bridged_gap_the_bridge_is_told_alone():
    seen = judge(beliefs(bridged={WINDOWS[0].first: 0.99}), PAIR, balls=WINDOWS[:1])
    assert seen.bridges_check.state == "fault"
    assert "ball" not in " ".join(seen.bridges_check.reasons)
