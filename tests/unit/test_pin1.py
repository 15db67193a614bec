"""The pin-1 judgement answers only when it is sure enough."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.markings import Marking
from vision.pin1 import (
    MAX_CONFIDENCE,
    MIN_CONFIDENCE,
    MIN_CONFIDENCE_SQUARE,
    calibrated,
    judge_pin1,
    wants_marking,
)
from vision.refine import CloseUp
from vision.tables import variants_of

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
    )


@pytest.mark.parametrize("family", ["SOIC", "QFP"])
def test_answers_only_when_sure(family):
    need = MIN_CONFIDENCE_SQUARE if family == "QFP" else MIN_CONFIDENCE
    shares = np.arange(0.3, 0.999, 0.002)
    least = next(s for s in shares if calibrated(s) >= need)
    corner, sure = judge_pin1(close_up(least), family)
    assert (corner, sure.state) == (2, "ok")
    _, unsure = judge_pin1(close_up(least - 0.002), family)
    assert unsure.state == "unsure"
    assert "raking light" in unsure.reasons[0]


def test_the_reason_names_the_cue_that_is_missing():
    silkscreen = ("silkscreen", (5.0, 95.0), 0.9)
    dimple = ("dimple", (20.0, 80.0), 0.9)
    for marks, asked in (
        ((silkscreen,), "raking light"),
        ((dimple,), "print round the chip"),
        ((), "come closer"),
    ):
        _, judged = judge_pin1(close_up(0.5, marks), "SOIC")
        assert asked in judged.reasons[0]
    _, judged = judge_pin1(close_up(0.5, (silkscreen, dimple)), "SOIC")
    assert "raking light" not in judged.reasons[0]


def test_a_mark_at_the_far_corner_is_no_evidence():
    marks = (("dimple", (80.0, 80.0), 0.9), ("dot", (15.0, 15.0), 0.9))
    _, judged = judge_pin1(close_up(0.99, marks), "SOIC")
    assert [cue.kind for cue in judged.evidence] == ["dimple"]


def marked(corner):
    return Marking(text="24LC256", lower_left=corner, letters=6.5, rival=1.0)


def test_a_marking_settles_what_the_marks_leave_open():
    _, alone = judge_pin1(close_up(0.7), "SOIC")
    corner, judged = judge_pin1(close_up(0.7), "SOIC", marked(2))
    assert (alone.state, judged.state, corner) == ("unsure", "ok", 2)
    assert judged.evidence[-1].kind == "text-direction"


def test_a_marking_that_contradicts_makes_the_answer_unsure():
    _, judged = judge_pin1(close_up(0.85), "SOIC", marked(0))
    assert judged.state == "unsure"


@pytest.mark.parametrize("corner", [1, 3])
def test_a_marking_across_the_rows_says_nothing(corner):
    crosswise = judge_pin1(close_up(0.7), "SOIC", marked(corner))
    assert crosswise == judge_pin1(close_up(0.7), "SOIC")


def torn(share):
    """A close look that knows the row of pin 1, but not its end."""
    return replace(
        close_up(share), turn_share=np.array([0.98 - share, 0.01, share, 0.01])
    )


def test_rows_of_leads_that_differ_speak_for_one_corner():
    _, alone = judge_pin1(torn(0.6), "SOT")
    corner, told = judge_pin1(torn(0.6), "SOT", rows_log_odds=2.0)
    assert (alone.state, told.state, corner) == ("unsure", "ok", 2)
    assert told.evidence[-1].kind == "shape"


def test_rows_of_leads_that_contradict_the_marks_leave_it_open_or_win():
    corner, doubted = judge_pin1(torn(0.9), "SOT", rows_log_odds=-1.5)
    assert (corner, doubted.state) == (2, "unsure")
    corner, won = judge_pin1(torn(0.6), "SOT", rows_log_odds=-4.0)
    assert (corner, won.state) == (0, "ok")
    assert won.evidence[-1].kind == "shape"


@given(st.floats(0.25, 1.0), st.floats(-8.0, 8.0))
def test_rows_of_leads_say_nothing_of_a_quarter_turn(share, odds):
    rest = (1 - share) / 3
    _, alone = judge_pin1(close_up(share), "SOT")
    corner, told = judge_pin1(close_up(share), "SOT", rows_log_odds=odds)
    if corner % 2:
        assert calibrated(rest) == pytest.approx(told.confidence)
    assert told.confidence <= max(alone.confidence, calibrated(share + rest))


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_calibration_keeps_the_order_and_never_claims_certainty(one, other):
    low, high = sorted((one, other))
    assert calibrated(low) <= calibrated(high) <= MAX_CONFIDENCE


@given(share=st.floats(0.26, 0.999), lower_left=st.integers(0, 3))
def test_nothing_is_answered_below_the_need(share, lower_left):
    _, judged = judge_pin1(close_up(share), "SOIC", marked(lower_left))
    assert (judged.state == "ok") == (judged.confidence >= MIN_CONFIDENCE)


def test_only_two_row_families_ask_for_the_marking():
    unsettled = close_up(0.6)
    assert wants_marking(unsettled, variants_of("SOIC", 8)[0])
    assert not wants_marking(unsettled, variants_of("QFP", 44)[0])
    assert not wants_marking(unsettled, variants_of("TSOP", 48)[0])
    assert not wants_marking(close_up(0.99), variants_of("SOIC", 8)[0])
