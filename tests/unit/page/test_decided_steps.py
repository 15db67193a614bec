"""What to do once somebody has decided: nobody is led to power a board held back."""

from __future__ import annotations

import pytest

from tests.unit.record.helpers import fake_checker, make_photo
from ui.decided_words import MAX_REASON_CHARS
from ui.page.steps import DO_NOT_POWER, cautions_now, next_step
from ui.record import (
    Checked,
    Decided,
    Opened,
    Outcome,
    Reviewed,
    add_event,
    add_photo,
    check_job,
    load_job,
    new_job_name,
    open_job,
    seal_job,
)
from ui.record.events import data_of
from ui.record.standing import is_stopped, standing_of
from ui.record.writer import open_for_adding


@pytest.fixture
def job(tmp_path):
    opening = Opened(job=new_job_name(), technician="T", part="24xx", patient="logger")
    return open_job(tmp_path / "jobs", opening)


@pytest.fixture
def pair(job, tmp_path):
    """Give a job with a before and an after photo."""
    for shade, stage in ((10, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        add_photo(job, photo, stage=stage, by="T")
    return job


def decide(job, decision, reason="seen"):
    tool = load_job(job).tool_decision
    event = Decided(decision=decision, by="T", tool_decision=tool, reason=reason)
    return add_event(job, event).seq


def review(job, decision, verdict="overruled", reason="the second lead floats"):
    seq = load_job(job).decision.seq
    event = Reviewed(
        verdict=verdict, by="Rev", decided=seq, decision=decision, reason=reason
    )
    add_event(job, event)


def seal(job):
    seal_job(job, by="T", make_reports=lambda *_: {})


def step(job):
    return next_step(load_job(job))


def titles(job):
    return " ".join(caution.title for caution in cautions_now(load_job(job)))


@pytest.mark.parametrize("tool", ["check-by-hand", "retake"])
def test_a_board_in_doubt_is_led_to_its_first_power_only_once_it_is_let_go(pair, tool):
    assert "First power" not in titles(pair)
    check_job(pair, fake_checker(tool))
    assert "First power" not in titles(pair)
    decide(pair, tool)
    assert "First power" not in titles(pair)
    decide(pair, "no-fault-seen")
    assert "First power" in titles(pair)


@pytest.mark.parametrize("sealed", [False, True])
def test_a_review_counts_over_the_decision(pair, sealed):
    check_job(pair, fake_checker())
    decide(pair, "no-fault-seen")
    review(pair, "stop")
    if sealed:
        seal(pair)
    assert step(pair).startswith(
        "Do not power the board: Rev overruled the decision: Stop. Reason: the second "
        "lead floats."
    )
    assert "first power" not in step(pair)
    assert standing_of(load_job(pair)).decision == "stop"
    assert "First power" not in titles(pair)


def test_a_reason_of_a_review_is_shown_as_text_and_cut_short(pair):
    check_job(pair, fake_checker())
    decide(pair, "no-fault-seen")
    review(pair, "stop", reason="a\nb\u202e" + "x" * 900)
    assert "Reason: a b[U+202E]xx" in step(pair)
    assert "…" in step(pair)
    assert len(step(pair)) < MAX_REASON_CHARS + 200


def test_an_overruling_may_let_a_board_go(pair):
    check_job(pair, fake_checker())
    decide(pair, "stop")
    assert step(pair).startswith(DO_NOT_POWER)
    review(pair, "no-fault-seen", reason="a hair, no solder")
    assert step(pair).startswith("Finish the job")


@pytest.mark.parametrize("decision", ["check-by-hand", "retake"])
def test_what_clears_nothing_is_not_to_be_powered(pair, decision):
    check_job(pair, fake_checker())
    decide(pair, decision)
    assert step(pair).startswith("Do not power the board yet")
    seal(pair)
    assert step(pair).startswith("Do not power the board yet")


def test_a_board_let_go_against_a_stop_waits_for_a_reviewer(pair):
    check_job(pair, fake_checker("stop"))
    decide(pair, "no-fault-seen")
    wanted = "Do not power the board until a reviewer has looked"
    assert step(pair).startswith(wanted)
    assert "Finish the job" in step(pair)
    assert is_stopped(load_job(pair))
    seal(pair)
    assert step(pair).startswith(wanted)
    review(pair, "no-fault-seen", verdict="accepted")
    assert not is_stopped(load_job(pair))
    assert "power the board" not in step(pair)


def test_against_a_doubt_the_technicians_own_look_is_enough(pair):
    check_job(pair, fake_checker("check-by-hand"))
    decide(pair, "no-fault-seen")
    assert step(pair).startswith("Finish the job")


def test_a_sealed_job_that_nobody_reviewed_asks_for_a_second_person(pair):
    check_job(pair, fake_checker())
    decide(pair, "no-fault-seen")
    seal(pair)
    asked = "let a second person look before the board is powered"
    assert asked in step(pair)
    review(pair, "no-fault-seen", verdict="accepted")
    assert asked not in step(pair)
    assert "how it went" in step(pair)


def test_a_sealed_stop_asks_for_no_first_power(pair):
    check_job(pair, fake_checker("stop"))
    decide(pair, "stop")
    seal(pair)
    assert step(pair).startswith(DO_NOT_POWER)
    assert "`dotward job outcome`" in step(pair)
    assert "how it went" not in step(pair)


def test_where_to_note_the_outcome_of_a_cleared_board_is_said(pair):
    check_job(pair, fake_checker())
    decide(pair, "no-fault-seen")
    seal(pair)
    assert "note how it went with `dotward job outcome`" in step(pair)
    add_event(pair, Outcome(worked=True, by="T"))
    assert "is noted" in step(pair)


def test_an_old_job_let_go_without_a_comparison_is_held_back(job, tmp_path):
    add_photo(job, make_photo(tmp_path / "b.jpg", 10), stage="before", by="T")
    event = Decided(
        decision="no-fault-seen", by="T", tool_decision="check-by-hand", reason="x"
    )
    with open_for_adding(job) as writer:  # as it was before the rule
        writer.append(event.KIND, data_of(event))
    assert step(job).startswith("Do not power the board: there is no photo after")


def test_an_error_of_a_comparison_is_none(pair):
    check_job(pair, fake_checker())
    answer = {"format": "dotward.compare/1", "error": {"message": "cut"}}
    add_event(pair, Checked(photos=(2, 3), answer=answer, tool_version="t"))
    assert load_job(pair).tool_decision == "check-by-hand"
    assert "magnification" in step(pair)
