"""What is said under the tool's decision about a job."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.record.helpers import fake_checker, make_photo, open_test_job
from tests.unit.test_side_check import UNREAD, seen, view
from tests.unit.ui.reports import not_registered, pair_report, turned
from ui.checker import SIDE_FORMAT
from ui.contract import pair_report_json, side_seen_json
from ui.job_findings import MANY_FINDINGS, NOT_COMPARED, finding_lines
from ui.record import add_photo, check_job, load_job
from ui.report.content import build_report
from vision.results import Finding, Joint


@pytest.fixture
def job(tmp_path):
    folder = open_test_job(tmp_path / "jobs")
    for shade, stage in ((40, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        add_photo(folder, photo, stage=stage, by="T", role="patient")
    return folder


def answered(report, side=None):
    """Answer every pair with a report, every photo from the side with a row."""
    place = {"width_px": 64, "height_px": 48}
    unread = [{**side_seen_json(seen(UNREAD)), "photo": place}] if side else []
    answer = pair_report_json(report) | {"before": place, "after": place}
    answer["side"] = unread

    def look(path, *, stage, **_):
        if stage == "side":
            return {"format": SIDE_FORMAT, **side_seen_json(side), "photo": place}
        return fake_checker().look(path)

    return replace(fake_checker(), look=look, compare=lambda *_, **__: answer)


def told(job, checker):
    check_job(job, checker)
    return finding_lines(load_job(job))


def test_nothing_is_said_where_all_is_in_order(job):
    good = pair_report(checks={"lands": Finding(state="ok")}, decision="no-fault-seen")
    assert told(job, answered(good)) == ()


def test_the_fault_comes_before_what_could_not_be_told(job):
    first, *rest = told(job, answered(turned()))
    assert first.startswith("Way round: turned by 180 degrees")
    assert [line for line in rest if line.startswith("Leads on their lands: cannot")]


def test_a_stop_that_a_newer_photo_outvotes_comes_first(tmp_path, job):
    check_job(job, answered(turned()))
    newer = make_photo(tmp_path / "newer.jpg", 200)
    add_photo(job, newer, stage="after", by="T", role="patient")
    good = pair_report(checks={"lands": Finding(state="ok")}, decision="no-fault-seen")
    (line,) = told(job, answered(good))
    assert line.startswith("an earlier photo of the stage after (event 3) was judged")


def test_few_lines_and_how_many_more(job):
    joints = tuple(
        Joint(lead=lead, state="fault", findings=(f"looks bad {lead}",))
        for lead in range(1, 9)
    )
    lines = told(job, answered(replace(turned(), joints=joints)))
    assert len(lines) == MANY_FINDINGS + 1
    assert lines[-1] == "and 5 more: see `dotward report`"


def test_photos_that_cannot_be_laid_over_each_other_are_named(job):
    lines = told(job, answered(not_registered()))
    assert any("could not be laid over each other" in line for line in lines)


def test_an_answer_that_is_none_says_why(job):
    broken = replace(
        fake_checker(),
        compare=lambda *_, **__: {
            "format": "dotward.compare/1",
            "error": {"code": "photo", "message": "after.jpg: ends early"},
        },
    )
    assert told(job, broken) == ("after.jpg: ends early",)


def test_without_a_comparison_the_photos_it_needs_are_named(tmp_path):
    folder = open_test_job(tmp_path / "jobs")
    assert told(folder, fake_checker()) == (NOT_COMPARED,)


def test_a_board_that_was_not_compared_is_named(tmp_path, job):
    good = pair_report(checks={"lands": Finding(state="ok")}, decision="no-fault-seen")
    check_job(job, answered(good))
    late = make_photo(tmp_path / "late.jpg", 200)
    add_photo(job, late, stage="after", by="T", role="donor")
    assert load_job(job).tool_decision == "check-by-hand"
    (line,) = finding_lines(load_job(job))
    assert line.startswith("The donor after reflow was compared with no photo")


def test_a_lifted_foot_that_alone_stops_the_job_is_named(tmp_path, job):
    side = make_photo(tmp_path / "side.jpg", 150)
    add_photo(job, side, stage="side", by="T", role="patient", leads=(1, 2))
    good = pair_report(checks={"lands": Finding(state="ok")}, decision="no-fault-seen")
    lines = told(job, answered(good, seen(view("ok", "fault"), (1, 2))))
    assert load_job(job).tool_decision == "stop"
    assert lines[0] == "Lead 2: +0.23 ± 0.03 mm, shop limit 0.10 mm"


def test_a_fault_of_the_bare_lands_is_named_here_and_in_the_report(tmp_path, job):
    lands = make_photo(tmp_path / "lands.jpg", 150)
    seq = add_photo(job, lands, stage="lands", by="T", role="patient").seq
    good = pair_report(checks={"lands": Finding(state="ok")}, decision="no-fault-seen")
    checker = answered(good)
    torn = {
        "format": "dotward.lands/1",
        "state": "fault",
        "reasons": ["land L2 is torn off"],
        "lands": [],
    }

    def look(path, *, stage, **more):
        return torn if stage == "lands" else checker.look(path, stage=stage, **more)

    lines = told(job, replace(checker, look=look))
    assert lines[0] == "Lands: land L2 is torn off"
    state = load_job(job)
    assert state.tool_decision == "stop"
    (decision,) = (
        section
        for section in build_report(job, state).sections
        if section.heading == "Decision"
    )
    assert (
        f"The tool's reason: bare lands (photo of event {seq}): land L2 is torn off"
        in decision.items
    )
