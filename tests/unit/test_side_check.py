"""What photos from the side add to a pair: faults, doubts, and what they may clear."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from tests.unit.side_marks import marked
from tests.unit.ui.reports import not_registered, pair_report, photo
from tests.unit.ui.reports import unsure as not_sure
from vision import side_check
from vision.decide import CHECKS
from vision.joint_sums import sum_joints
from vision.joints import LIFTED_DOUBT
from vision.results import (
    Finding,
    Joint,
    NotFound,
    Orientation,
    SideFoot,
    SideSeen,
    SideView,
    SizeScores,
    State,
)
from vision.side_check import TWICE, judge_side, read_row, with_side
from vision.tables import variants_of

SOIC_8 = variants_of("SOIC", 8)[0]
HEIGHTS_MM = {"ok": 0.01, "unsure": 0.09, "fault": 0.23}
UNREAD = NotFound(reason="no row of 4 bright leads")


def view(*states):
    feet = tuple(
        SideFoot(
            from_left=k,
            height_mm=HEIGHTS_MM[state],
            u_mm=0.03,
            seen_frac=0.9,
            at_px=(100.0 * k, 210.0),
            state=state,
        )
        for k, state in enumerate(states, 1)
    )
    worst = next(s for s in ("fault", "unsure", "ok") if s in states)
    return SideView(state=worst, feet=feet, limit_mm=0.1, pitch_mm=1.27, px_per_mm=79.0)


LEVEL = view("ok", "ok", "ok", "ok")


def seen(found, leads=None, name="side.jpg"):
    return SideSeen(photo=photo(name), leads=leads, view=found)


def pair(*doubted, turn="ok", finding=LIFTED_DOUBT, **checks):
    joints = tuple(
        Joint(lead=k, state="unsure", findings=(finding,))
        if k in doubted
        else Joint(lead=k, state="ok")
        for k in range(1, 9)
    )
    every = {name: Finding(state="ok") for name in CHECKS}
    every |= {"joints": sum_joints(joints)} | checks
    decision = "check-by-hand" if doubted else "no-fault-seen"
    return pair_report(
        joints=joints,
        checks=every,
        decision=decision,
        orientation=Orientation(state=turn, turn_deg=0, confidence=0.999),
    )


def unnumbered(report):
    """Let pin 1 be known in neither photo: its numbers start at any corner."""
    chip = replace(report.after_package, pin1=not_sure())
    return replace(report, before_package=chip, after_package=chip)


def joint(report, lead):
    return next(j for j in report.joints if j.lead == lead)


@pytest.mark.parametrize("leads", [None, (1, 4)])
def test_a_foot_above_the_limit_stops_the_board(leads):
    found = judge_side(pair(), (seen(view("ok", "ok", "fault", "ok"), leads),))
    assert found.decision == "stop"
    assert found.checks["side"].state == "fault"
    (reason,) = found.reasons if leads is None else found.checks["side"].reasons
    assert "stands +0.23 ± 0.03 mm off its row, limit 0.10 mm" in reason
    assert ("lead 3" in reason) == (leads is not None)


def test_the_foot_of_a_named_row_is_the_lead_at_its_place():
    found = judge_side(pair(), (seen(view("ok", "fault", "ok", "ok"), (5, 8)),))
    assert [j.lead for j in found.joints if j.state == "fault"] == [6]
    assert found.checks["joints"].state == "fault"


def test_a_row_that_is_high_from_above_stays_named_beside_a_foot_from_the_side():
    report = pair(5, 6, 7, 8)
    sized = replace(report.after_package, variant=SOIC_8.name)
    report = replace(report, after_package=sized)
    found = judge_side(report, (seen(view("ok", "fault", "ok", "ok"), (1, 4)),))
    said = found.checks["joints"].reasons
    assert said[0].startswith("leads 5 to 8 seem to stand high")
    assert said[1].startswith("lead 2")
    level = judge_side(report, (seen(LEVEL, (5, 8)),))
    assert [j.state for j in level.joints[4:]] == ["unsure"] * 4


@pytest.mark.parametrize("decision", ["no-fault-seen", "check-by-hand"])
def test_a_row_that_is_not_read_changes_nothing(decision):
    before = pair(*((3,) if decision == "check-by-hand" else ()))
    found = judge_side(before, (seen(UNREAD, (1, 4)),))
    assert found.side
    assert replace(found, side=()) == before


def test_a_foot_that_stands_out_within_the_limit_is_looked_at_by_hand():
    found = judge_side(pair(), (seen(view("ok", "unsure", "ok", "ok"), (1, 4)),))
    assert found.decision == "check-by-hand"
    assert "lead 2 stands +0.09" in found.reasons[0]


def test_a_level_named_row_takes_a_doubt_away():
    found = judge_side(pair(3), (seen(LEVEL, (1, 4)),))
    assert found.decision == "no-fault-seen"
    assert joint(found, 3).state == "ok"
    assert "level with its row" in joint(found, 3).findings[0]


@pytest.mark.parametrize(
    ("report", "rows"),
    [
        (pair(3), (seen(LEVEL),)),
        (pair(3), (seen(LEVEL, (5, 8)),)),
        (pair(3, 6), (seen(LEVEL, (1, 4)),)),
        (pair(2, 3), (seen(LEVEL, (1, 4)),)),
        (pair(1, 2, 3, 4), (seen(LEVEL, (1, 4)),)),
        (pair(3, finding="may be: foot bent out of the row"), (seen(LEVEL, (1, 4)),)),
        (pair(3, finding="the lead was not made out here"), (seen(LEVEL, (1, 4)),)),
        (pair(3, turn="unsure"), (seen(LEVEL, (1, 4)),)),
        (unnumbered(pair(3)), (seen(LEVEL, (1, 4)),)),
        (
            pair(3),
            (
                seen(LEVEL, (1, 4)),
                seen(view("ok", "ok", "ok", "unsure"), (1, 4), "b.jpg"),
            ),
        ),
    ],
    ids=[
        "not-named", "another-row", "a-doubt-elsewhere", "half-the-row-in-doubt",
        "whole-row-in-doubt", "bent", "not-made-out", "turn-not-known",
        "pin-1-not-known", "two-differ",
    ],
)  # fmt: skip
def test_what_a_level_row_may_not_clear(report, rows):
    assert judge_side(report, rows).decision == "check-by-hand"


def test_pin_1_before_numbers_the_leads_only_where_the_turn_is_known():
    report = pair(3)
    blind = replace(report.after_package, pin1=not_sure())
    after_blind = replace(report, after_package=blind)
    assert after_blind.is_numbered
    lost = replace(after_blind.orientation, state="unsure", turn_deg=None)
    assert not replace(after_blind, orientation=lost).is_numbered
    assert replace(report, orientation=lost).is_numbered


def test_a_lifted_foot_is_given_to_no_lead_whose_number_may_be_anothers():
    high = seen(view("ok", "ok", "fault", "ok"), (1, 4))
    found = judge_side(unnumbered(pair()), (high,))
    assert found.decision == "stop"
    assert {j.state for j in found.joints} == {"ok"}
    assert "lead 3" in found.checks["side"].reasons[0]


def test_a_fault_seen_from_above_stays():
    joints = (Joint(lead=3, state="fault", findings=("little or no solder",)),)
    report = replace(pair(), joints=joints)
    found = judge_side(report, (seen(LEVEL, (1, 4)),))
    assert joint(found, 3) == joints[0]


@pytest.mark.parametrize("check", ["quality", "bridges", "alignment"])
def test_level_feet_clear_no_other_check(check):
    report = pair(3, **{check: Finding(state="unsure", reasons=("glare",))})
    assert judge_side(report, (seen(LEVEL, (1, 4)),)).decision != "no-fault-seen"


@pytest.mark.parametrize("state", get_args(State))
def test_photos_that_do_not_fit_are_still_stopped_by_a_lifted_foot(state):
    found = judge_side(not_registered(), (seen(view("ok", "ok", "ok", state)),))
    assert found.decision == ("stop" if state == "fault" else "retake")


def side_photo(lifts=(0, 0, 0, 0), name="side.jpg", value=7):
    pixels = marked(lifts)
    return replace(photo(name, 8, 8, value), pixels=np.ascontiguousarray(pixels))


@pytest.mark.usefixtures("by_marks")
def test_a_drawn_row_is_read_and_counted():
    named = replace(pair().after_package, variant=SOIC_8.name)
    report = replace(pair(), after_package=named)
    found = with_side(report, [(side_photo((0, 0, 0.3, 0)), (1, 4))])
    assert found.decision == "stop"
    assert joint(found, 3).state == "fault"


def test_without_a_size_nothing_is_measured():
    report = replace(pair(), after_package=None, before_package=None)
    (row,) = with_side(report, [(side_photo(), None)]).side
    assert row.view.reason == side_check.NO_SIZE


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize("meant", ["ok", "unsure"])
def test_a_chip_that_may_not_be_meant_gives_no_size(meant):
    report = not_registered()
    chip = replace(pair().after_package, variant=SOIC_8.name)
    before = replace(report.before, packages=(chip,), meant=Finding(state=meant))
    report = replace(report, before=before, before_package=None, after_package=None)
    (row,) = with_side(report, [(side_photo(), None)]).side
    assert isinstance(row.view, NotFound) == (meant == "unsure")


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize("leads", [(1, 3), (2, 5), (1, 8), (5, 4)])
def test_leads_that_are_no_row_do_not_count_as_its_name(leads):
    row = read_row(side_photo(), leads, SOIC_8)
    assert row.leads is None
    assert "no row of this chip; rows: 1 to 4, 5 to 8" in row.note
    assert row.view.state == "ok"


@pytest.mark.usefixtures("by_marks")
def test_one_photo_cannot_show_two_rows():
    named = replace(pair(3).after_package, variant=SOIC_8.name)
    report = replace(pair(3), after_package=named)
    found = with_side(report, [(side_photo(), (1, 4)), (side_photo(), (5, 8))])
    assert [row.note for row in found.side] == [TWICE, TWICE]
    assert found.decision == "check-by-hand"


@pytest.mark.usefixtures("by_marks")
def test_a_row_given_twice_alike_counts_once():
    named = replace(pair(3).after_package, variant=SOIC_8.name)
    report = replace(pair(3), after_package=named)
    found = with_side(report, [(side_photo(), (1, 4))] * 2)
    (row,) = found.side
    assert (row.leads, row.note) == ((1, 4), "")


def test_a_level_row_does_not_clear_a_part_that_may_have_no_leads():
    soic, son = (variants_of(f, 8)[0] for f in ("SOIC", "SON"))
    scores = {("SOIC", soic.name): 1.0, ("SON", son.name): 0.5}
    report = pair(2)
    chip = replace(report.after_package, size_scores=SizeScores(scores))
    torn = replace(report, before_package=chip, after_package=chip)
    found = judge_side(torn, (seen(LEVEL, (1, 4)),))
    assert joint(found, 2).state == "ok"
    assert found.checks["joints"].state == "unsure"
    assert "without leads" in found.checks["joints"].reasons[0]
    assert found.decision == "check-by-hand"
