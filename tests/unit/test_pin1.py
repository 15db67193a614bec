"""The pin-1 judgement answers only when it is sure enough."""

from __future__ import annotations

import numpy as np
import pytest

from vision.pin1 import MIN_SHARE, MIN_SHARE_SQUARE, judge_pin1
from vision.refine import CloseUp

SQUARE_PX = np.array([[10.0, 10], [10, 90], [90, 90], [90, 10]])


def close_up(share, marks=()):
    rest = (1 - share) / 3
    return CloseUp(
        corners_px=SQUARE_PX,
        turn_share=np.array([rest, rest, share, rest]),
        corner_share=1.0,
        family_share={},
        count_share={},
        marks=marks,
        crop=np.zeros((1, 1, 3), np.uint8),
        lead_share=np.zeros((1, 1), np.float32),
        photo_to_crop=np.eye(3),
    )


@pytest.mark.parametrize("family", ["SOIC", "QFP"])
def test_answers_only_when_sure(family):
    need = MIN_SHARE_SQUARE if family == "QFP" else MIN_SHARE
    corner, sure = judge_pin1(close_up(need + 0.01), family)
    assert (corner, sure.state) == (2, "ok")
    _, unsure = judge_pin1(close_up(need - 0.01), family)
    assert unsure.state == "unsure"
    assert "raking light" in unsure.reasons[0]


def test_a_mark_at_the_far_corner_is_no_evidence():
    marks = (("dimple", (80.0, 80.0), 0.9), ("dot", (15.0, 15.0), 0.9))
    _, judged = judge_pin1(close_up(0.99, marks), "SOIC")
    assert [cue.kind for cue in judged.evidence] == ["dimple"]
