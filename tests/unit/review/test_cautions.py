"""What speaks against a board that was let go, in a list and before it is accepted."""

from __future__ import annotations

import pytest

from tests.unit.record.helpers import look_answer
from tests.unit.review.helpers import Jobs
from ui.record import Checked, add_event, add_photo, load_job
from ui.record.index import summary_of
from ui.review import Filter, accept, job_caution, overrule, read_rows, row_caution


@pytest.fixture
def jobs(home, tmp_path):
    return Jobs(home, tmp_path)


def cautions(job):
    """Give the caution of the list and that of the job, which are of one kind."""
    state = load_job(job)
    found = row_caution(summary_of(state)), job_caution(state)
    kinds = [c and (c.state, c.word) for c in found]
    assert kinds[0] == kinds[1]
    return found


def test_a_board_let_go_against_a_stop(jobs):
    job = jobs.add(tool="stop", decision="no-fault-seen")
    in_list, at_job = cautions(job)
    assert (in_list.state, in_list.word) == ("fault", "Against the tool: stop")
    assert "the tool says stop, and the technician lets the board go" in at_job.text
    accept(job, by="Rev")
    assert cautions(job)[0] == in_list


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ({"stages": ("before",)}, "there is no photo after reflow"),
        ({"tool": None}, "the photos of the patient were not compared"),
        ({"tool": None, "stages": ()}, "no photo before lifting"),
    ],
    ids=["no photo after", "not judged", "no photo"],
)
def test_a_board_let_go_without_a_comparison(jobs, settings, says):
    in_list, at_job = cautions(jobs.add(decision="no-fault-seen", **settings))
    assert (in_list.state, in_list.word) == ("unsure", "No comparison was made")
    assert says in at_job.text
    assert "the technician lets the board go" in at_job.text


@pytest.mark.parametrize(
    ("tool", "decision"),
    [
        ("no-fault-seen", "no-fault-seen"),
        ("check-by-hand", "no-fault-seen"),  # compared, and then looked at
        ("stop", "stop"),
        ("stop", "check-by-hand"),
        (None, "stop"),
        (None, None),
    ],
)
def test_nothing_speaks_against_what_is_held_back_or_was_compared(jobs, tool, decision):
    assert cautions(jobs.add(tool=tool, decision=decision)) == (None, None)


def test_a_reviewer_who_lets_a_board_go_is_named(jobs):
    job = jobs.add(tool="stop", decision="stop")
    overrule(job, "no-fault-seen", by="Rev", reason="a hair, not solder")
    assert "the reviewer lets the board go" in cautions(job)[1].text


def test_an_overruled_decision_leads_the_list_no_more(jobs):
    job = jobs.add(tool="stop", decision="no-fault-seen")
    overrule(job, "stop", by="Rev", reason="pin 1 is at the other end")
    state = load_job(job)
    assert row_caution(summary_of(state)) is None
    # Someone else may still accept the technician's decision.
    assert "the technician lets the board go" in job_caution(state).text


def test_what_was_never_compared_differs_once_the_board_is_let_go(jobs, home):
    let_go = jobs.add(tool=None, decision="no-fault-seen")
    jobs.add(tool=None, decision="stop")
    jobs.add(tool=None)
    against = jobs.add(tool="stop", decision="no-fault-seen")
    found = [row.job for row in read_rows(home, Filter(show="all", kind="differs"))]
    assert found == [let_go.name, against.name]


def test_a_lifted_foot_is_a_stop_without_a_comparison(jobs, home, tmp_path):
    job = jobs.add(tool=None)
    photo = tmp_path / "side.jpg"
    photo.write_bytes((tmp_path / "1-before.jpg").read_bytes() + b"\0")
    seq = add_photo(job, photo, stage="side", by="Ada").seq
    answer = look_answer() | {"state": "fault"}
    add_event(job, Checked(photos=(seq,), answer=answer, tool_version="test"))
    found = [row.job for row in read_rows(home, Filter(show="all", kind="stop"))]
    assert found == [job.name]
