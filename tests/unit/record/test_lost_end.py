"""Events that were recorded and are gone: noticed wherever a job is read."""

from __future__ import annotations

import pytest

from tests.unit.record.helpers import fake_checker, make_photo, open_test_job
from ui.page.review_view import queue_view
from ui.record import (
    Decided,
    Outcome,
    Reviewed,
    add_event,
    add_photo,
    check_job,
    list_jobs,
    load_job,
)
from ui.record.journal import HEAD_NAME, JOURNAL_NAME
from ui.review import Filter, read_queue
from vision.errors import RecordError


@pytest.fixture
def overruled(job, tmp_path):
    """Give a job whose reviewer overruled the decision by its last event."""
    for shade, stage in ((40, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        add_photo(job, photo, stage=stage, by="T", role="patient")
    check_job(job, fake_checker())
    said = Decided(decision="no-fault-seen", tool_decision="no-fault-seen", by="T")
    decided = add_event(job, said).seq
    review = Reviewed(
        verdict="overruled", by="R", decided=decided, decision="stop", reason="gap"
    )
    add_event(job, review)
    return job


def cut_last_event(job):
    path = job / JOURNAL_NAME
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))


def test_a_lost_overruling_is_no_cleared_board(overruled):
    cut_last_event(overruled)
    with pytest.raises(RecordError, match="the end was cut off: 8 events noted"):
        load_job(overruled)
    (row,) = list_jobs(overruled.parent)
    assert (row.step, row.decision, row.tool_decision) == ("damaged", "", "")
    queue = read_queue(overruled.parent, Filter())
    assert [(row.job, row.step) for row in queue.rows] == [(overruled.name, "damaged")]
    (shown,) = queue_view(queue)["rows"]
    assert (shown["damaged"], shown["word"], shown["tool_word"]) == (True, "", "")


def test_a_list_that_knew_the_job_whole_notices_it_too(overruled):
    assert list_jobs(overruled.parent)[0].review == "overruled"
    cut_last_event(overruled)
    assert list_jobs(overruled.parent)[0].step == "damaged"


def test_a_journal_written_anew_is_noticed(overruled, tmp_path):
    other = open_test_job(tmp_path / "others")
    (overruled / JOURNAL_NAME).write_bytes((other / JOURNAL_NAME).read_bytes())
    (overruled / HEAD_NAME).write_bytes(b'{"count": 1, "hash": "0"}')
    with pytest.raises(RecordError, match="the journal was written anew"):
        load_job(overruled)


def test_a_head_that_is_gone_is_damage_and_its_return_heals(overruled):
    head = overruled / HEAD_NAME
    content = head.read_bytes()
    list_jobs(overruled.parent)
    head.unlink()
    with pytest.raises(RecordError, match=r"head.json is missing or unreadable"):
        load_job(overruled)
    assert list_jobs(overruled.parent)[0].step == "damaged"
    head.write_bytes(content)
    assert list_jobs(overruled.parent)[0].step == "decided"


def test_a_job_that_was_only_opened_has_no_end_to_lose(job):
    (job / HEAD_NAME).unlink()
    assert load_job(job).count == 1


def test_a_head_that_lags_behind_is_no_damage(job):
    head = (job / HEAD_NAME).read_bytes()
    add_event(job, Outcome(worked=True, by="T"))
    (job / HEAD_NAME).write_bytes(head)
    assert load_job(job).count == 2


def test_damaged_jobs_are_listed_first(overruled, tmp_path):
    home = overruled.parent
    others = {open_test_job(home).name for _ in range(3)}
    cut_last_event(overruled)
    first, *rest = list_jobs(home)
    assert (first.job, first.step) == (overruled.name, "damaged")
    assert {row.job for row in rest} == others
    assert [row.job for row in list_jobs(home, limit=1)] == [overruled.name]
