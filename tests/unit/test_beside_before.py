"""What is new in a gap makes a bridge likelier; what was not in view is not new."""

import numpy as np
import pytest

from vision.beside_before import (
    BRIDGED_SOME,
    CHANGED_CLEARLY,
    CHANGED_ODDS,
    CHANGED_SOME,
    Pictures,
    believe_beside,
    with_change,
)
from vision.geometry import body_corners_mm
from vision.joint_beliefs import GapBelief, believe_pictures
from vision.strips import are_inside, cut_windows, gap_windows
from vision.tables import variants_of

SOIC8 = variants_of("SOIC", 8)[0]
QUAD = body_corners_mm(SOIC8.body_x_mm[1], SOIC8.body_y_mm[1]) * 40 + 200
WINDOWS = gap_windows(QUAD, SOIC8)
LEFT = np.array([w.first < 5 for w in WINDOWS])  # the row at smaller x


def belief(bridged):
    sound = (0.96, 0.01, 0.01, 0.01, 0.01)
    return GapBelief(
        window=WINDOWS[0],
        bridged=bridged,
        square=0.99,
        left=sound,
        right=sound,
        at_px=(1.0, 2.0),
    )


@pytest.mark.parametrize("bridged", [0.01, 0.3, 0.8])
def test_a_clear_change_multiplies_the_odds(bridged):
    seen = with_change(belief(bridged), CHANGED_CLEARLY)
    odds = seen.bridged / (1 - seen.bridged)
    assert odds == pytest.approx(CHANGED_ODDS * bridged / (1 - bridged))
    assert seen.is_changed


@pytest.mark.parametrize(
    ("bridged", "change", "is_changed"),
    [
        (0.02, 1.0, True),
        (BRIDGED_SOME, CHANGED_SOME, True),
        (BRIDGED_SOME - 0.01, CHANGED_SOME, False),
        (0.9, CHANGED_SOME - 0.01, False),
    ],
)
def test_less_change_leaves_the_belief_and_is_only_told(bridged, change, is_changed):
    seen = with_change(belief(bridged), change)
    assert seen.bridged == pytest.approx(bridged)
    assert seen.is_changed == is_changed


def test_certainty_stays_certain():
    assert with_change(belief(1.0), CHANGED_CLEARLY).bridged == 1.0
    assert with_change(belief(0.0), CHANGED_CLEARLY).bridged == 0.0


def speckled(seed=3):
    rng = np.random.default_rng(seed)
    return rng.integers(40, 220, (420, 420, 3)).astype(np.uint8)


def test_a_window_is_inside_only_where_all_of_it_lies_in_the_picture():
    shape = (420, 420, 3)
    assert are_inside(shape, WINDOWS, photo_to_pixels=np.eye(3)).all()
    moved = np.array([[1, 0, -150.0], [0, 1, 0], [0, 0, 1]])
    inside = are_inside(shape, WINDOWS, photo_to_pixels=moved)
    np.testing.assert_array_equal(inside, ~LEFT)
    assert are_inside(shape, (), photo_to_pixels=np.eye(3)).shape == (0,)


def test_what_the_photo_before_does_not_show_is_judged_alone_and_not_new():
    now = cut_windows(speckled(), WINDOWS)
    then = now.copy()
    then[LEFT] = 0
    beliefs, usual = believe_beside(WINDOWS, Pictures(now, then, ~LEFT))
    assert [b.window for b in beliefs] == list(WINDOWS)
    assert [b.window for b in usual] == [WINDOWS[k] for k in np.flatnonzero(~LEFT)]
    assert not any(b.is_changed for b in beliefs)
    alone = believe_pictures(WINDOWS, now)
    for k in np.flatnonzero(LEFT):
        assert beliefs[k].bridged == pytest.approx(alone[k].bridged, abs=1e-6)
    in_view, _ = believe_beside(
        WINDOWS, Pictures(now, then, np.ones(len(WINDOWS), bool))
    )
    assert any(b.is_changed for b in in_view)  # black before: all would be new
