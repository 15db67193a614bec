"""A newer photo takes the place of one that was judged stop: said, never silent."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.record.helpers import fake_checker, look_answer, make_photo
from ui.page.job_view import job_view
from ui.record import (
    Decided,
    add_event,
    add_photo,
    check_job,
    load_job,
    verify_job,
)
from ui.record.events import data_of
from ui.record.outvoted import no_longer_counting, outvoted_stops, outvoted_words
from ui.record.writer import open_for_adding
from ui.report.content import build_report
from vision.errors import RecordError


def put(job, tmp_path, stage, shade, **more):
    photo = make_photo(tmp_path / f"{stage}{shade}.jpg", shade)
    return add_photo(job, photo, stage=stage, by="T", role="patient", **more).seq


@pytest.fixture
def stopped(job, tmp_path):
    """Give a job whose pair, events 2 and 3, was judged stop."""
    put(job, tmp_path, "before", 40)
    put(job, tmp_path, "after", 90)
    check_job(job, fake_checker("stop"))
    return job


def seqs(photos):
    return [noted.seq for noted in photos]


def no_fault(reason=""):
    return Decided(
        decision="no-fault-seen", tool_decision="no-fault-seen", by="T", reason=reason
    )


def test_the_page_and_the_report_tell_of_a_stop_that_no_longer_counts(
    stopped, tmp_path
):
    said = "An earlier photo of the stage after (event 3) was judged stop"
    for is_told in (False, True):
        if is_told:
            put(stopped, tmp_path, "after", 200)
        state = load_job(stopped)
        (decision,) = (
            section
            for section in build_report(stopped, state).sections
            if section.heading == "Decision"
        )
        assert any(said in text for text in decision.paragraphs) == is_told
        outvoted = job_view(state, tmp_path)["outvoted"]
        assert any(said in text for text in outvoted) == is_told


@pytest.mark.parametrize("replaces", [None, 3])
def test_a_stop_that_a_newer_photo_outvotes_needs_a_reason(stopped, tmp_path, replaces):
    before = load_job(stopped)
    assert outvoted_stops(before) == ()
    put(stopped, tmp_path, "after", 200, replaces=replaces)
    assert seqs(no_longer_counting(before, load_job(stopped))) == [3]
    check_job(stopped, fake_checker())
    state = load_job(stopped)
    assert state.tool_decision == "no-fault-seen"
    assert seqs(outvoted_stops(state)) == [3]
    assert outvoted_words(state) == (
        "an earlier photo of the stage after (event 3) was judged stop; it no longer "
        "counts",
    )
    with pytest.raises(RecordError, match=r"after photo \(event 3\) was judged stop"):
        add_event(stopped, no_fault(" "))
    add_event(stopped, no_fault("bridge between 3 and 4 taken out"))
    assert verify_job(stopped).problems == ()


def test_being_careful_needs_no_reason(stopped, tmp_path):
    put(stopped, tmp_path, "after", 200)
    check_job(stopped, fake_checker())
    event = replace(no_fault(), decision="stop")
    assert add_event(stopped, event).kind == "decided"


def test_a_newer_answer_about_the_same_photos_outvotes_nothing(stopped, tmp_path):
    """Bare lands added later are more to judge by, not another photo of the chip."""
    put(stopped, tmp_path, "lands", 150)
    check_job(stopped, fake_checker())
    assert outvoted_stops(load_job(stopped)) == ()
    add_event(stopped, no_fault())


def test_photos_that_nobody_stopped_may_be_taken_again(job, tmp_path):
    put(job, tmp_path, "before", 40)
    put(job, tmp_path, "after", 90)
    check_job(job, fake_checker("retake"))
    put(job, tmp_path, "after", 200)
    check_job(job, fake_checker())
    assert outvoted_stops(load_job(job)) == ()
    add_event(job, no_fault())


def test_a_photo_before_that_was_taken_again_counts_too(stopped, tmp_path):
    put(stopped, tmp_path, "before", 200)
    check_job(stopped, fake_checker())
    assert seqs(outvoted_stops(load_job(stopped))) == [2]


def test_a_row_with_a_foot_too_high_that_was_replaced_is_named(job, tmp_path):
    put(job, tmp_path, "before", 40)
    put(job, tmp_path, "after", 90)
    row = put(job, tmp_path, "side", 150)

    def look(_path, *, stage, **_):
        return look_answer() | {"state": "fault" if stage == "side" else "ok"}

    check_job(job, replace(fake_checker(), look=look))
    assert load_job(job).tool_decision == "stop"
    before = load_job(job)
    put(job, tmp_path, "side", 200)
    assert no_longer_counting(before, load_job(job)) == ()  # all rows count
    put(job, tmp_path, "side", 210, replaces=row)
    assert seqs(outvoted_stops(load_job(job))) == [row]


def test_a_fault_of_the_bare_lands_is_a_stop_and_is_told_when_replaced(job, tmp_path):
    put(job, tmp_path, "before", 40)
    lands = put(job, tmp_path, "lands", 150)
    put(job, tmp_path, "after", 90)
    states = {"lands": "fault"}

    def look(_path, *, stage, **_):
        return look_answer() | {"state": states.get(stage, "ok")}

    checker = replace(fake_checker(), look=look)
    check_job(job, checker)
    assert load_job(job).tool_decision == "stop"
    put(job, tmp_path, "lands", 200)
    states["lands"] = "ok"
    check_job(job, checker)
    state = load_job(job)
    assert state.tool_decision == "no-fault-seen"
    assert seqs(outvoted_stops(state)) == [lands]
    with pytest.raises(RecordError, match=rf"lands photo \(event {lands}\) was judged"):
        add_event(job, no_fault())
    add_event(job, no_fault("the land was mended"))
    assert verify_job(job).problems == ()


def test_a_decision_from_before_this_rule_is_no_damage(stopped, tmp_path):
    put(stopped, tmp_path, "after", 200)
    check_job(stopped, fake_checker())
    event = no_fault()
    with open_for_adding(stopped) as writer:
        writer.append(event.KIND, data_of(event))
    assert load_job(stopped).step == "decided"
    assert verify_job(stopped).problems == ()
