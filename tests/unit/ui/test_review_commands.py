"""The review commands, as a newcomer types them."""

from __future__ import annotations

import csv
import io
import json

import pytest
from typer.testing import CliRunner

from tests.unit.report.helpers import HOSTILE
from tests.unit.review.helpers import Jobs
from tests.unit.ui.conftest import plain
from ui.job_commands import app
from ui.record import Checked, add_event, load_job
from ui.record.journal import JOURNAL_NAME

SQUARE = "10,10 10,40 40,40 40,10"


@pytest.fixture
def run(home, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    monkeypatch.setenv("DOTWARD_JOBS", str(home))
    monkeypatch.setenv("DOTWARD_BY", "Rev")

    def run_command(*words, code=0):
        result = CliRunner().invoke(app, [str(word) for word in words])
        assert result.exit_code == code, result.output
        return result.output

    return run_command


@pytest.fixture
def home(tmp_path):
    return tmp_path / "jobs"


@pytest.fixture
def jobs(home, tmp_path):
    return Jobs(home, tmp_path)


def test_correct_records_the_point_in_the_answers_form(run, jobs):
    job = jobs.add()
    said = run("correct", job.name, "after", "--pin1", "12,34.5", "--why", "dot")
    assert f"dotward job check {job.name}" in said
    run("correct", job.name, "before", "--outline", SQUARE)
    run("correct", job.name, "before", "--package", "SOIC-20")
    pin1, outline, package = (noted.event for noted in load_job(job).corrections)
    assert (pin1.photo, pin1.what, pin1.value) == (3, "pin1", {"at_px": [12, 34.5]})
    assert (pin1.by, pin1.reason) == ("Rev", "dot")
    assert outline.photo == 2
    assert outline.value["outline_px"][1] == [10, 40]
    assert (package.photo, package.value) == (2, {"name": "SOIC-20"})


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("SOIC-8 3.9x4.9 P1.27", "SOIC-8 3.9x4.9 P1.27"),
        (" soic-8 3.9X4.9 p1.27", "SOIC-8 3.9x4.9 P1.27"),
        ("soic-8", "SOIC-8"),
    ],
)
def test_a_package_is_named_as_in_compare_and_kept_as_listed(run, jobs, given, kept):
    job = jobs.add()
    run("correct", job.name, "before", "--package", given)
    (fix,) = load_job(job).corrections
    assert fix.event.value == {"name": kept}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("after",), "--pin1, --outline or --package is needed"),
        (("after", "--package", "SOIC-9"), "nearest: SOIC-8"),
        (("after", "--package", "SOIC-8", "--pin1", "1,2"), "one at a time"),
        (("after", "--pin1", "1,2", "--outline", SQUARE), "one at a time"),
        (("after", "--pin1", "here"), "points are X,Y"),
        (("after", "--pin1", "1,2 3,4"), "one point"),
        (("after", "--pin1", "1,nan"), "points are X,Y"),
        (("after", "--outline", "1,1 2,2 3,3"), "four corners of a body"),
        (("after", "--outline", "1,1 2,2 3,3 4,4"), "four corners cross or lie on"),
        (("after", "--outline", "9,9 9,99 99,99 60,50"), "triangle"),
        (("hot", "--pin1", "1,2"), "one of before, lands, after, side"),
    ],
)
def test_a_correction_that_cannot_be_is_refused(run, jobs, words, says):
    job = jobs.add()
    said = " ".join(run("correct", job.name, *words, code=2).split())
    assert says in said
    assert not load_job(job).corrections


def test_a_correction_needs_its_photo(run, jobs):
    job = jobs.add()
    assert "Add it first" in run("correct", job.name, "lands", "--pin1", "1,2", code=4)


def test_a_correction_outside_the_upright_photo_is_refused(run, jobs):
    job = jobs.add()
    for option, value in (("--pin1", "300,10"), ("--outline", "9,9 9,99 300,99 300,9")):
        said = plain(run("correct", job.name, "after", option, value, code=2))
        assert "outside the after photo, which has 240 x 320 px when upright" in said
    assert not load_job(job).corrections
    run("correct", job.name, "after", "--pin1", "10,300")


@pytest.fixture
def seen(jobs):
    """Give a job in whose after photo the tool saw a body of 100 x 60 px."""
    job = jobs.add()
    body = [[50, 50], [150, 50], [150, 110], [50, 110]]
    answer = {"photo": {}, "packages": [{"outline_px": body}]}
    add_event(job, Checked(photos=(3,), answer=answer, tool_version="t"))
    return job


@pytest.mark.parametrize("point", ["100,80", "52,108", "150,160", "5,50", "199,80"])
def test_a_pin1_corner_lies_near_the_body(run, seen, point):
    run("correct", seen.name, "after", "--pin1", point)
    assert len(load_job(seen).corrections) == 1


@pytest.mark.parametrize("point", ["202,80", "100,162", "230,300"])
def test_a_pin1_corner_far_off_the_body_is_refused(run, seen, point):
    said = plain(run("correct", seen.name, "after", "--pin1", point, code=2))
    assert f"{point} lies " in said
    assert (
        "from the chip's body in the after photo, and a corner of it at most 50 px"
        in (said)
    )
    assert not load_job(seen).corrections


def test_an_outline_set_by_hand_says_where_the_body_is(run, seen):
    outline = "10,200 10,280 110,280 110,200"
    run("correct", seen.name, "after", "--outline", outline)
    run("correct", seen.name, "after", "--pin1", "12,278")
    run("correct", seen.name, "after", "--pin1", "100,80", code=2)
    assert len(load_job(seen).corrections) == 2


def test_review_undo_review(run, jobs):
    job = jobs.add(decision="no-fault-seen")
    run("review", job.name, "accept")
    said = run("undo", job.name)
    assert "taken back: event" in said
    assert "what stands now: “No fault seen”, decided by Ada, not reviewed yet" in said
    assert "needs a reason" in run("review", job.name, "overrule", "stop", code=4)
    run("review", job.name, "overrule", "stop", "--why", "lead 3 floats")
    assert "overruled: stop" in run("list")
    said = run("undo", job.name, "--by", "Ada", "--why", "it is fine", code=4)
    assert "is the review of Rev; nobody else can take it back" in said
    assert "an overruling needs a reason" in run("undo", job.name, code=4)
    (review,) = load_job(job).reviews
    assert (review.event.decision, review.event.by) == ("stop", "Rev")
    assert "second pair" in run("review", job.name, "accept", "--by", "Ada", code=4)


def test_undo_says_that_no_older_decision_comes_back(run, jobs):
    job = jobs.add(decision="no-fault-seen")
    run("decide", job.name, "stop", "--why", "crack")
    said = run("undo", job.name)
    assert "nothing stands decided now: the newest decision was taken back" in said


@pytest.mark.parametrize(
    "words", [("perhaps",), ("accept", "stop"), ("overrule",), ("overrule", "maybe")]
)
def test_a_verdict_that_is_none_is_refused(run, jobs, words):
    job = jobs.add(decision="stop")
    run("review", job.name, *words, "--why", "x", code=2)
    assert not load_job(job).reviews


def test_an_overruling_says_what_holds_instead(run, jobs):
    job = jobs.add(decision="stop")
    said = plain(run("review", job.name, "overrule", "--why", "x", code=2))
    assert "it is left out, and an overruling says what holds instead: one of" in said


def test_an_outcome_without_a_decision_is_kept_and_said_so(run, jobs):
    undecided, decided = jobs.add(), jobs.add(decision="stop")
    said = run("outcome", undecided.name, "failed", "--note", "no boot")
    assert "no decision stands in this job: the outcome is kept" in said
    assert load_job(undecided).outcomes[0].event.text == "no boot"
    assert "no decision" not in run("outcome", decided.name, "failed")


@pytest.mark.parametrize("command", ["queue", "agreement"])
def test_days_are_days_in_their_order(run, jobs, command):
    jobs.add(decision="stop")
    said = plain(run(command, "--since", "foo", code=2))
    assert "'foo' is no day; write it such as 2031-03-02" in said
    late = (command, "--since", "2031-03-05", "--until", "2031-03-01")
    said = plain(run(*late, code=2))
    assert "2031-03-05 is later than --until 2031-03-01" in said
    run(command, "--since", "2031-03-01", "--until", "2031-03-01")


def test_an_event_is_named_by_its_number(run, jobs):
    job = jobs.add(decision="stop")
    said = plain(run("undo", job.name, "--event", "newest", code=2))
    assert "'newest' is no event; write the number" in said


@pytest.mark.parametrize("command", ["queue", "agreement"])
def test_a_folder_that_is_not_there_has_no_queue(run, home, command):
    said = run(command, "--jobs", home / "mistyped", code=4)
    assert f"{home / 'mistyped'}: there is no such folder" in said


def test_damaged_jobs_wait_in_the_queue_without_a_decision(run, jobs):
    job, other = jobs.add(decision="stop"), jobs.add(decision="stop")
    path = job / JOURNAL_NAME
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))
    rows = [json.loads(line) for line in run("queue", "--form", "jsonl").splitlines()]
    assert [(row["job"], row["step"]) for row in rows] == [
        (job.name, "damaged"),
        (other.name, "decided"),
    ]
    assert (rows[0]["decision"], rows[0]["tool_decision"]) == ("", "")
    shown = run("queue")
    assert "damaged" in shown
    assert "tool:" not in shown


def test_outcome(run, jobs):
    job = jobs.add(decision="stop")
    run("outcome", job.name, "failed", "--note", "no boot")
    assert "one of worked, failed" in run("outcome", job.name, "well", code=2)
    (noted,) = load_job(job).outcomes
    assert (noted.event.worked, noted.event.text) == (False, "no boot")


def test_queue_in_every_form(run, jobs):
    first = jobs.add(decision="stop", part=f"=1+1{HOSTILE}".replace("\ud800", ""))
    second = jobs.add(decision="no-fault-seen", technician="[red]Bo[/red]")
    jobs.add()
    said = run("queue")
    assert "2 of 2 jobs shown" in said
    assert "open 2, reviewed 0, undecided 1, all 3" in said
    assert "[red]Bo[/red]" in said
    assert "\x1b" not in said
    rows = list(csv.DictReader(io.StringIO(run("queue", "--form", "csv"))))
    assert [row["job"] for row in rows] == [first.name, second.name]
    assert rows[0]["part"].startswith("'=1+1<script>")
    lines = run("queue", "--form", "jsonl", "--kind", "stop").splitlines()
    assert [json.loads(line)["job"] for line in lines] == [first.name]
    late = run("queue", "--since", "2031-03-02", "--form", "jsonl", "--limit", 1)
    assert json.loads(late)["job"] == second.name
    assert "one of open" in run("queue", "--show", "x", code=2)


@pytest.mark.parametrize("command", ["queue --show all", "list"])
def test_a_board_let_go_against_the_tool_is_marked_in_a_table(run, jobs, command):
    marked = ("(against the", "tool: stop)")
    jobs.add(tool="stop", decision="stop")
    jobs.add(decision="no-fault-seen")
    assert not any(word in run(*command.split()) for word in marked)
    job = jobs.add(tool="stop", decision="no-fault-seen")
    assert all(run(*command.split()).count(word) == 1 for word in marked)
    run("review", job.name, "accept")
    assert all(run(*command.split()).count(word) == 1 for word in marked)


def test_agreement_says_what_it_can_and_no_more(run, jobs):
    for decision in ("no-fault-seen", "stop"):
        job = jobs.add(tool=decision, decision=decision, worked=decision != "stop")
        run("review", job.name, "accept")
    said = run("agreement")
    assert "Same word on 2 of 2 jobs: 100 % (95 % interval 16 to 100 %)." in said
    assert "Kappa 1.00; no interval" in said
    assert "The technician said stop: 0 worked, 1 did not." in said
    assert "doi:10.1177/001316446002000104" in said
    found = json.loads(run("agreement", "--form", "json", "--kind", "stop"))
    assert found["pairs"][0]["counts"][1] == [0, 1, 0, 0]


def test_agreement_says_how_many_damaged_jobs_it_leaves_out(run, jobs):
    job = jobs.add(decision="stop")
    assert "damaged" not in run("agreement")
    journal = job / JOURNAL_NAME
    journal.write_bytes(journal.read_bytes().replace(b"24-series", b"25-series"))
    assert "1 damaged job is left out" in run("agreement", "--kind", "stop")
    assert json.loads(run("agreement", "--form", "json"))["damaged_count"] == 1
