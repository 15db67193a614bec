"""Where a job stands, what comes next, and which cautions apply."""

from __future__ import annotations

import pytest

from tests.unit.record.helpers import fake_checker, make_photo
from ui.page.steps import answer_about, cautions_now, next_step, stages_of
from ui.record import (
    Decided,
    Opened,
    add_event,
    add_photo,
    check_job,
    load_job,
    new_job_name,
    open_job,
    seal_job,
)


@pytest.fixture
def job(tmp_path):
    opening = Opened(job=new_job_name(), technician="T", part="24xx", patient="logger")
    return open_job(tmp_path / "jobs", opening)


def put(job, tmp_path, stage, shade=10):
    photo = make_photo(tmp_path / f"{stage}-{shade}.jpg", shade)
    return add_photo(job, photo, stage=stage, by="T").seq


def test_the_donor_has_a_stage_only_where_there_is_one(job, tmp_path):
    assert [p.role for p in stages_of(load_job(job))] == ["patient"] * 4
    opening = Opened(
        job=new_job_name(), technician="T", part="p", patient="b", donor="spare"
    )
    other = load_job(open_job(tmp_path / "jobs", opening))
    assert [p.role for p in stages_of(other)].count("donor") == 1


def test_the_steps_follow_the_work(job, tmp_path):
    assert "before you lift it" in next_step(load_job(job))
    put(job, tmp_path, "before", 10)
    assert "lands cleaned" in next_step(load_job(job))
    put(job, tmp_path, "lands", 50)
    assert "same place again as before" in next_step(load_job(job))
    put(job, tmp_path, "after", 90)
    assert "press Judge" in next_step(load_job(job))


def test_nobody_is_sent_back_for_lands_that_are_covered(job, tmp_path):
    put(job, tmp_path, "before", 10)
    put(job, tmp_path, "after", 90)
    assert "lands" not in next_step(load_job(job))


@pytest.mark.parametrize(
    ("decision", "words"),
    [
        ("stop", "Do not power the board"),
        ("retake", "Take the photo again"),
        ("check-by-hand", "under magnification"),
        ("no-fault-seen", "second person"),
    ],
)
def test_each_answer_has_its_next_step(job, tmp_path, decision, words):
    put(job, tmp_path, "before", 10)
    put(job, tmp_path, "after", 90)
    check_job(job, fake_checker(decision))
    assert words in next_step(load_job(job))


def test_after_the_decision_the_job_is_finished(job, tmp_path):
    put(job, tmp_path, "before", 10)
    event = Decided(decision="stop", by="T", tool_decision="check-by-hand")
    add_event(job, event)
    assert "Finish the job" in next_step(load_job(job))
    seal_job(job, by="T", make_reports=lambda *_: {})
    assert "sealed" in next_step(load_job(job))


def titles(job):
    return " ".join(caution.title for caution in cautions_now(load_job(job)))


def test_cautions_come_when_they_apply(job, tmp_path):
    assert "Back the memory up" in titles(job)
    assert "Burns" not in titles(job)
    put(job, tmp_path, "before", 10)
    assert "Burns" in titles(job)
    put(job, tmp_path, "after", 90)
    assert "No power before inspection" in titles(job)
    assert "Back the memory up" not in titles(job)
    check_job(job, fake_checker("stop"))
    assert "Burns" in titles(job)
    assert "Static electricity" in titles(job)


def test_the_newest_answer_about_a_photo_counts(job, tmp_path):
    first = put(job, tmp_path, "before", 10)
    assert answer_about(load_job(job), first) is None
    check_job(job, fake_checker())
    state = load_job(job)
    assert answer_about(state, first) == state.answers[-1]
