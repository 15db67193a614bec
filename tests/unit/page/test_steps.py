"""Where a job stands, what comes next, and which cautions apply."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.record.helpers import fake_checker, make_photo
from ui.page.steps import (
    DO_NOT_POWER,
    answer_about,
    cautions_now,
    next_step,
    photo_of,
    stages_of,
)
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
    assert [(p.stage, p.role) for p in stages_of(other)] == [
        ("before", "patient"),
        ("before", "donor"),
        ("lands", "donor"),
        ("after", "donor"),
        ("side", "donor"),
    ]


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
    assert next_step(load_job(job)).startswith(f"{DO_NOT_POWER} Finish the job")
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
    assert "First power" in titles(job)
    check_job(job, fake_checker("stop"))
    assert "Burns" in titles(job)
    assert "First power" not in titles(job)
    assert "Static electricity" in titles(job)


def test_the_newest_answer_about_a_photo_counts(job, tmp_path):
    first = put(job, tmp_path, "before", 10)
    assert answer_about(load_job(job), first) is None
    check_job(job, fake_checker())
    state = load_job(job)
    assert answer_about(state, first) == state.answers[-1]


def chip_checker(**chip):
    """Answer as if every photo showed the same chip."""
    checker = fake_checker()

    def look(path, **more):
        return {**checker.look(path, **more), "packages": [chip]}

    return replace(checker, look=look)


def side_titles(job):
    return [p.title for p in stages_of(load_job(job)) if p.stage == "side"]


def test_each_row_of_a_known_chip_has_its_place_from_the_side(job, tmp_path):
    assert side_titles(job) == ["From the side"]
    put(job, tmp_path, "before", 10)
    check_job(job, chip_checker(family="SOIC", lead_count=8))
    assert side_titles(job) == ["Side, leads 1 to 4", "Side, leads 5 to 8"]
    put(job, tmp_path, "side", 30)
    assert side_titles(job)[-1] == "From the side"


@pytest.mark.parametrize(
    ("family", "count"), [("QFP", 256), ("SON", 8), ("other", None), ("SOIC", None)]
)
def test_rows_that_cannot_be_judged_have_no_place_of_their_own(
    job, tmp_path, family, count
):
    put(job, tmp_path, "before", 10)
    check_job(job, chip_checker(family=family, lead_count=count))
    assert side_titles(job) == ["From the side"]


def test_a_row_has_its_own_photo(job, tmp_path):
    for shade, leads in ((10, (1, 4)), (50, (5, 8))):
        photo = make_photo(tmp_path / f"{shade}.jpg", shade)
        add_photo(job, photo, stage="side", by="T", leads=leads)
    state = load_job(job)
    shown = {p.leads: photo_of(state, p).seq for p in stages_of(state) if p.leads}
    assert shown == {(1, 4): 2, (5, 8): 3}
