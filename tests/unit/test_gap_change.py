"""What is new in one gap is seen; another light or a small shift is not."""

import cv2
import numpy as np
import pytest

from vision.gap_change import FEWEST_GAPS, gap_changes
from vision.strips import COLS, LEFT_COL, MIDDLE_COL, RIGHT_COL, ROWS, TOE_ROW

COUNT = 6
SOME = 0.6  # of the change that is enough alone


def windows(seed=1):
    rng = np.random.default_rng(seed)
    out = np.full((COUNT, ROWS, COLS, 3), (40, 90, 30), np.uint8)
    for window in out:
        for x in (LEFT_COL - 32, LEFT_COL, RIGHT_COL, RIGHT_COL + 32):
            low, high = (round(x) - 5, 16), (round(x) + 5, round(TOE_ROW) + 14)
            cv2.rectangle(window, low, high, (210, 215, 220), -1)
    noisy = out + rng.normal(0, 2, out.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8)


def with_solder(pictures, which, bright=200):
    out = pictures.copy()
    x, y = round(MIDDLE_COL), round(TOE_ROW) - 10
    cv2.ellipse(out[which], (x, y), (9, 5), 0, 0, 360, (bright, bright, bright), -1)
    return out


def test_solder_in_one_gap_is_new_there_and_nowhere_else():
    before = windows(1)
    changed = gap_changes(with_solder(windows(2), 3), before) >= 1
    assert changed.tolist() == [False, False, False, True, False, False]


def test_the_same_gaps_are_unchanged():
    assert gap_changes(windows(2), windows(1)).max() < SOME


@pytest.mark.parametrize(("gain", "offset"), [(0.6, 0), (1.0, 30), (0.5, 60)])
def test_another_light_is_no_change(gain, offset):
    lit = np.clip(windows(2) * gain + offset, 0, 255).astype(np.uint8)
    assert gap_changes(lit, windows(1)).max() < SOME


def test_a_registration_off_by_a_pixel_is_no_change():
    moved = np.roll(windows(2), (1, 1), axis=(1, 2))
    assert gap_changes(moved, windows(1)).max() < SOME


def test_what_was_there_before_is_not_new():
    before, after = (with_solder(windows(s), 2) for s in (1, 2))
    assert gap_changes(after, before).max() < SOME


def test_a_change_of_every_gap_is_not_that_of_one():
    after = windows(2)
    for k in range(COUNT):
        after = with_solder(after, k)
    assert gap_changes(after, windows(1)).max() < SOME


def test_too_few_gaps_tell_nothing():
    few = FEWEST_GAPS - 1
    assert gap_changes(with_solder(windows(2), 1)[:few], windows(1)[:few]).max() < SOME
