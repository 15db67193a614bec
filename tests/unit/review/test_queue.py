"""The review queue: each filter against jobs whose state is known."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date

import pytest

from tests.unit.review.helpers import Jobs
from ui.record import Opened, forget_index, load_job, new_job_name, open_job
from ui.record.journal import JOURNAL_NAME
from ui.review import Filter, accept, overrule, read_queue, read_rows, take_back
from ui.review import queue as queue_module
from vision.errors import RecordError


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    place = tmp_path_factory.mktemp("template")
    made = Jobs(place / "jobs", place)
    folders = {
        "agreed": made.add(decision="no-fault-seen"),
        "stopped": made.add(
            tool="stop",
            decision="stop",
            part="25-series",
            patient="Logger 9",
            donor="Spare",
        ),
        "against": made.add(tool="stop", decision="no-fault-seen", technician="Bo"),
        "by hand": made.add(tool="retake", decision="check-by-hand"),
        "corrected": made.add(decision="stop", corrected=True, technician="\u00c9mile"),
        "undecided": made.add(),
        "unanswered": made.add(tool=None),
    }
    return made.home, folders


@pytest.fixture
def jobs(template, home):
    made, folders = template
    shutil.copytree(made, home)
    return {name: home / folder.name for name, folder in folders.items()}


def found(home, **wanted):
    return [row.job for row in read_queue(home, Filter(**wanted)).rows]


def names(jobs, *wanted):
    return [jobs[name].name for name in wanted]


def test_no_folder_no_queue(home):
    queue = read_queue(home, Filter())
    assert (queue.rows, queue.count) == ((), 0)
    assert list(read_rows(home, Filter())) == []
    assert not home.exists()


def test_open_are_decided_and_not_reviewed_oldest_first(home, jobs):
    decided = ("agreed", "stopped", "against", "by hand", "corrected")
    assert found(home) == names(jobs, *decided)
    accept(jobs["agreed"], by="Rev")
    assert found(home) == names(jobs, *decided[1:])
    assert found(home, show="reviewed") == names(jobs, "agreed")
    take_back(jobs["agreed"], by="Rev")
    assert found(home) == names(jobs, *decided)


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        ({"show": "undecided"}, ("undecided", "unanswered")),
        ({"kind": "stop"}, ("stopped", "against", "corrected")),
        # A correction that no answer counts in yet makes the tool ask for a look.
        ({"kind": "by-hand"}, ("by hand", "corrected")),
        ({"kind": "corrected"}, ("corrected",)),
        ({"kind": "differs"}, ("against", "by hand", "corrected")),
        ({"technician": "bO"}, ("against",)),
        ({"technician": "e\u0301MILE"}, ("corrected",)),
        ({"part": "25"}, ("stopped",)),
        ({"part": "%"}, ()),
        ({"board": "LOGGER 9"}, ("stopped",)),
        ({"board": "spare"}, ("stopped",)),
        ({"board": "logger 9spare"}, ()),
        (
            {"since": date(2031, 3, 2), "until": date(2031, 3, 3)},
            ("stopped", "against"),
        ),
        ({"until": date.max, "since": date(2031, 3, 5)}, ("corrected",)),
        ({"show": "all", "kind": "by-hand"}, ("by hand", "corrected")),
    ],
)
def test_each_filter(home, jobs, wanted, expected):
    assert found(home, **wanted) == names(jobs, *expected)


def test_an_unanswered_job_is_not_counted_as_the_tools_word(home, jobs):
    rows = {row.job: row for row in read_rows(home, Filter(show="all"))}
    assert not rows[jobs["unanswered"].name].answered
    assert rows[jobs["agreed"].name].answered


def test_counts_are_those_of_the_lists(home, jobs):
    overrule(jobs["stopped"], "no-fault-seen", by="Rev", reason="a hair, not solder")
    for show in queue_module.SHOWS:
        for kind in queue_module.KINDS:
            wanted = Filter(show=show, kind=kind, technician="a")
            queue = read_queue(home, wanted)
            assert queue.count == len(queue.rows)
            assert queue.by_show[show] == queue.by_kind[kind] == queue.count
    everything = read_queue(home, Filter(show="all"))
    assert everything.count == len(jobs)
    assert everything.technicians == ("Ada", "Bo", "\u00c9mile")
    assert everything.parts == ("24-series", "25-series")


def test_pages_follow_each_other_though_rows_leave_meanwhile(home, jobs, monkeypatch):
    first = read_queue(home, Filter(), limit=2)
    assert (len(first.rows), first.count) == (2, 5)
    accept(jobs["agreed"], by="Rev")
    last = first.rows[-1]
    rest = read_queue(home, Filter(), limit=9, after=(last.opened_at, last.job)).rows
    assert [row.job for row in rest] == names(jobs, "against", "by hand", "corrected")
    monkeypatch.setattr(queue_module, "_CHUNK_ROWS", 2)
    assert len(list(read_rows(home, Filter(show="all")))) == len(jobs)


def test_a_review_of_a_decision_that_is_stale_does_not_count(home, tmp_path):
    folder = Jobs(home, tmp_path).add(decision="no-fault-seen")
    accept(folder, by="Rev")
    (row,) = read_rows(home, Filter(show="reviewed"))
    assert (row.reviewer, row.review_decision) == ("Rev", "no-fault-seen")
    take_back(folder, by="Ada", event=load_job(folder).decision.seq)
    (row,) = read_rows(home, Filter(show="undecided"))
    assert (row.decision, row.review, row.reviewer) == ("", "", "")


def test_damaged_jobs_stay_in_sight(home, jobs):
    (jobs["agreed"] / JOURNAL_NAME).write_bytes(b"nonsense\n")
    forget_index(home)
    rows = read_queue(home, Filter(show="undecided")).rows
    assert (rows[0].job, rows[0].step) == (jobs["agreed"].name, "damaged")
    nobody = read_queue(home, Filter(show="undecided", technician="nobody")).rows
    assert [row.job for row in nobody] == [jobs["agreed"].name]


@pytest.mark.parametrize(
    "text", ["'); DROP TABLE jobs; --", "\x00\ud800", "%_\\", "${7*7}", "x" * 500]
)
def test_hostile_filters_find_only_themselves(home, jobs, text):
    assert found(home, technician=text, part=text, show="all") == []
    opening = Opened(job=new_job_name(), technician=text, part=text, patient="p")
    job = open_job(home, opening).name
    assert found(home, technician=text, part=text, show="all") == [job]


def test_unknown_filters_are_named():
    with pytest.raises(RecordError, match="one of open, reviewed, undecided, all"):
        Filter(show="everything")
    with pytest.raises(RecordError, match="one of any, stop"):
        Filter(kind="'x'")
    with pytest.raises(RecordError, match="501 characters"):
        replace(Filter(), part="x" * 501)
