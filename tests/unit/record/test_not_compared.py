"""No board is let go on photos that were never held against one another."""

from __future__ import annotations

import pytest

from tests.unit.record.helpers import fake_checker, make_photo
from ui.record import (
    Checked,
    Decided,
    Reviewed,
    add_event,
    add_photo,
    check_job,
    load_job,
    seal_job,
    verify_job,
)
from ui.record.events import data_of
from ui.record.writer import open_for_adding
from vision.errors import RecordError


def put(job, tmp_path, stage, shade):
    photo = make_photo(tmp_path / f"{stage}{shade}.jpg", shade)
    return add_photo(job, photo, stage=stage, by="T").seq


def decided(job, decision="no-fault-seen"):
    tool = load_job(job).tool_decision
    return Decided(decision=decision, by="T", tool_decision=tool, reason="looks fine")


@pytest.mark.parametrize(
    ("stages", "words"),
    [
        (["before"], "no photo after reflow"),
        (["after"], "no photo before lifting"),
        (["lands"], "no photo before lifting and no photo after reflow"),
    ],
)
def test_what_is_missing_is_named(job, tmp_path, stages, words):
    for shade, stage in enumerate(stages):
        put(job, tmp_path, stage, 40 + 50 * shade)
    check_job(job, fake_checker())
    with pytest.raises(RecordError, match=words):
        add_event(job, decided(job))
    assert load_job(job).decision is None
    for decision in ("check-by-hand", "retake", "stop"):
        add_event(job, decided(job, decision))


def test_photos_that_wait_for_their_answer_clear_nothing(job, tmp_path):
    put(job, tmp_path, "before", 40)
    put(job, tmp_path, "after", 90)
    with pytest.raises(RecordError, match="were not compared"):
        add_event(job, decided(job))
    check_job(job, fake_checker("check-by-hand"))
    add_event(job, decided(job))
    assert load_job(job).decision is not None


def test_a_comparison_that_failed_clears_nothing(job, tmp_path):
    put(job, tmp_path, "before", 40)
    put(job, tmp_path, "after", 90)
    answer = {"format": "dotward.compare/1", "error": {"code": "photo"}}
    add_event(job, Checked(photos=(2, 3), answer=answer, tool_version="t"))
    with pytest.raises(RecordError, match="event 4 could not use the photos"):
        add_event(job, decided(job))


def test_a_reviewer_cannot_clear_it_either(job, tmp_path):
    put(job, tmp_path, "before", 40)
    seq = add_event(job, decided(job, "stop")).seq
    event = Reviewed(
        verdict="overruled", by="R", decided=seq, decision="no-fault-seen", reason="x"
    )
    with pytest.raises(RecordError, match="no photo after reflow"):
        add_event(job, event)


def test_an_older_journal_stays_whole_but_is_not_sealed_so(job, tmp_path):
    put(job, tmp_path, "before", 40)
    with open_for_adding(job) as writer:  # as it was before the rule
        writer.append(Decided.KIND, data_of(decided(job)))
    assert load_job(job).decision.event.decision == "no-fault-seen"
    assert verify_job(job).problems == ()
    with pytest.raises(RecordError, match="no photo after reflow"):
        seal_job(job, by="T", make_reports=lambda *_: {})
    add_event(job, decided(job, "check-by-hand"))
    seal_job(job, by="T", make_reports=lambda *_: {})
    assert load_job(job).step == "sealed"
