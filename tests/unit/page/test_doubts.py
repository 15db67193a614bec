"""An answer that was overtaken is never shown as one that stands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.page.asking import post
from tests.unit.record.helpers import (
    compare_answer,
    fake_checker,
    look_answer,
    make_photo,
)
from ui.checker import tool_checker
from ui.own_limits import OWN_LIMITS
from ui.page.doubts import photo_doubt
from ui.page.job_view import job_view
from ui.page.tasks import TASKS
from ui.record import (
    Checked,
    Corrected,
    Decided,
    Opened,
    Reviewed,
    Withdrawn,
    add_event,
    add_photo,
    check_job,
    load_job,
    new_job_name,
    open_job,
    seal_job,
)
from ui.record.checking import unanswered
from ui.record.limits import limits_in_force
from vision.limits import LIMITS_FILE

PACKAGE = {"name": "SOIC-8"}
OTHER = {"limits": "1" * 64}


def put(job, tmp_path, stage, shade, role="patient", **more):
    photo = make_photo(tmp_path / f"{stage}{role}{shade}.jpg", shade)
    return add_photo(job, photo, stage=stage, role=role, by="T", **more).seq


@pytest.fixture
def pair(tmp_path):
    """Give a job whose comparison sees no fault."""
    opening = Opened(job=new_job_name(), technician="T", part="p", patient="b")
    job = open_job(tmp_path / "jobs", opening)
    put(job, tmp_path, "before", 40)
    put(job, tmp_path, "after", 90)
    check_job(job, fake_checker())
    return job


def view_of(job, limits=None):
    return job_view(load_job(job), job.parent / "cache", limits)


def shown_pair(view):
    (pair,) = [pair for pair in view["pairs"] if pair["stands"]]
    return pair


def doubt_of(view):
    doubt = shown_pair(view)["doubt"]
    return (doubt["words"], doubt["state"])


def after_row(view):
    (row,) = [row for row in view["stages"] if row["stage"] == "after"]
    return row


def test_nothing_speaks_against_an_answer_of_now(pair):
    view = view_of(pair, fake_checker().made_with)
    assert shown_pair(view)["doubt"] is None
    assert (after_row(view)["state"], after_row(view)["word"]) == (
        "ok",
        "No fault seen",
    )
    assert not view["earlier_limits"]


def test_a_pair_of_a_photo_that_was_taken_again_does_not_stand(pair, tmp_path):
    put(pair, tmp_path, "before", 200, replaces=2)
    view = view_of(pair)
    assert [one["stands"] for one in view["pairs"]] == []
    assert view["photos"]["3"]["waits"]
    assert after_row(view)["word"] == "not compared"


def test_of_two_comparisons_of_one_photo_only_that_of_its_board_stands(tmp_path):
    opening = Opened(
        job=new_job_name(), technician="T", part="p", patient="b", donor="spare"
    )
    job = open_job(tmp_path / "jobs", opening)
    put(job, tmp_path, "before", 40)
    after = put(job, tmp_path, "after", 90, "donor")
    check_job(job, fake_checker())
    before = put(job, tmp_path, "before", 140, "donor")
    check_job(job, fake_checker("stop"))
    view = view_of(job)
    assert [(one["before"], one["after"], one["stands"]) for one in view["pairs"]] == [
        (2, after, False),
        (before, after, True),
    ]
    assert view["tool_decision"] == "stop"


def test_a_pair_that_did_not_see_a_later_photo_is_older_than_it(pair, tmp_path):
    put(pair, tmp_path, "lands", 150)
    view = view_of(pair)
    assert doubt_of(view) == ("Older than the photos: judge again", "unsure")
    assert after_row(view)["state"] == "unsure"


@pytest.mark.parametrize("is_taken_back", [False, True])
def test_a_pair_is_older_than_a_correction_and_than_its_end(pair, is_taken_back):
    fix = Corrected(photo=2, what="package", value=PACKAGE, by="T")
    seq = add_event(pair, fix).seq
    if is_taken_back:
        check_job(pair, fake_checker())
        add_event(pair, Withdrawn(event=seq, by="T"))
    view = view_of(pair)
    told = "Older than what was set right by hand: judge again"
    assert doubt_of(view) == (told, "unsure")
    assert view["photos"]["2"]["doubt"]["words"] == told
    (row,) = [row for row in view["stages"] if row["stage"] == "before"]
    assert (row["state"], row["word"]) == ("unsure", "not judged since")
    check_job(pair, fake_checker())
    assert shown_pair(view_of(pair))["doubt"] is None


def test_a_pair_does_not_clear_a_job_that_something_else_stops(pair, tmp_path):
    side = put(pair, tmp_path, "side", 150)
    lifted = {"format": "dotward.side/1", "state": "fault"}
    looks = replace(fake_checker(), look=lambda _path, **_: lifted)
    check_job(pair, looks)
    assert side in load_job(pair).answer_pair.event.photos
    told = "The answer for the whole job is “Stop”"
    assert doubt_of(view_of(pair)) == (told, "fault")


def test_an_answer_by_other_limits_is_told_until_it_is_judged_again(pair):
    view = view_of(pair, OTHER)
    assert doubt_of(view) == ("Judged by earlier limits: judge again", "unsure")
    assert (after_row(view)["state"], after_row(view)["word"]) == (
        "unsure",
        "judge again",
    )
    assert view["earlier_limits"]
    now = replace(fake_checker(), made_with=OTHER)
    assert check_job(pair, now) == ()
    assert len(check_job(pair, now, by_limits=True)) == 1
    assert shown_pair(view_of(pair, OTHER))["doubt"] is None


def test_lands_judged_as_another_package_say_so(pair, tmp_path):
    lands = put(pair, tmp_path, "lands", 150)
    check_job(pair, fake_checker())
    chip = {"family": "SOIC", "lead_count": 8}
    seen = {**look_answer(), "packages": [chip]}
    add_event(pair, Checked(photos=(2,), answer=seen, tool_version="test"))
    told = "Judged as another package than is seen now: judge again"
    assert photo_doubt(load_job(pair), lands).words == told
    check_job(pair, fake_checker())
    assert photo_doubt(load_job(pair), lands) is None


def test_limits_that_were_changed_and_changed_back_are_judged_by_anew(pair):
    check_job(pair, replace(fake_checker(), made_with=OTHER), by_limits=True)
    limits = fake_checker().made_with
    assert view_of(pair, limits)["earlier_limits"]
    assert len(unanswered(load_job(pair), limits=limits)) == 1


def test_what_is_sealed_stays_as_it_was_judged(pair):
    told = Decided(decision="no-fault-seen", tool_decision="no-fault-seen", by="T")
    add_event(pair, told)
    seal_job(pair, by="T", make_reports=lambda *_: {".html": b"<p>x</p>"})
    view = view_of(pair, OTHER)
    assert not view["earlier_limits"]
    assert shown_pair(view)["doubt"] is None


def test_the_limits_in_force_are_those_that_an_answer_would_record(tmp_path):
    def recorded(limits_file):
        made_with = tool_checker(limits_file).made_with
        return {name: made_with[name] for name in made_with if name != "models"}

    assert limits_in_force(tmp_path) == recorded(None)
    own = tmp_path / OWN_LIMITS
    own.write_bytes(LIMITS_FILE.read_bytes())
    assert limits_in_force(tmp_path) == recorded(own)


def test_judge_asks_for_the_limits_of_now_and_a_photo_does_not(client, job, context):
    post(client, job, "judge")
    post(client, job, "judge?limits=now")
    assert [task.about.get("by_limits", False) for task, _ in context.worker.asked] == [
        False,
        True,
    ]
    assert client.get(f"/api/job/{job.name}/status").json()["limits"] == (
        limits_in_force(context.home)
    )


def test_the_worker_judges_by_the_limits_of_now_where_asked(pair, monkeypatch):
    now = replace(
        fake_checker(),
        compare=lambda *_, **__: compare_answer("stop"),
        made_with=OTHER,
    )
    monkeypatch.setattr("ui.page.tasks._checker", lambda *_: now)
    told = []
    assert TASKS["check"]({"folder": str(pair)}, lambda *said: told.append(said)) == 0
    task = {"folder": str(pair), "by_limits": True}
    assert TASKS["check"](task, lambda *said: told.append(said)) == 1
    assert told[-1] == ("compare", 0, 1)
    assert load_job(pair).tool_decision == "stop"


def decide(job, decision="no-fault-seen"):
    event = Decided(
        decision=decision, tool_decision=load_job(job).tool_decision, by="T", reason="x"
    )
    return add_event(job, event).seq


def review(job, decided, verdict, decision):
    event = Reviewed(
        verdict=verdict, by="Bo", decided=decided, decision=decision, reason="a bridge"
    )
    return add_event(job, event).seq


def test_an_overruled_answer_is_not_shown_as_good(pair):
    review(pair, decide(pair), "overruled", "stop")
    view = view_of(pair)
    said = {key: view["review"][key] for key in ("by", "verdict", "word", "reason")}
    assert said == {
        "by": "Bo",
        "verdict": "overruled",
        "word": "Stop",
        "reason": ["a bridge"],
    }
    assert doubt_of(view) == ("Overruled: “Stop” holds", "fault")
    assert (after_row(view)["state"], after_row(view)["word"]) == ("fault", "Stop")


def test_a_review_stands_as_long_as_it_and_its_decision_do(pair, tmp_path):
    decided = decide(pair)
    assert view_of(pair)["review"] is None
    seq = review(pair, decided, "overruled", "stop")
    add_event(pair, Withdrawn(event=seq, by="Bo", reason="seen again"))
    assert view_of(pair)["review"] is None
    review(pair, decided, "accepted", "no-fault-seen")
    view = view_of(pair)
    assert view["review"]["verdict"] == "accepted"
    assert shown_pair(view)["doubt"] is None
    put(pair, tmp_path, "lands", 150)
    assert view_of(pair)["review"] is None


def test_a_stop_of_the_technicians_own_stands_before_the_answer(pair):
    decide(pair, "stop")
    assert doubt_of(view_of(pair)) == ("Decided otherwise: “Stop” holds", "fault")
