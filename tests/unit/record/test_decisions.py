"""What the tool says of a job, what people decide, and what overtakes it."""

from __future__ import annotations

import pytest

from tests.unit.record.helpers import compare_answer, decide, fake_checker, make_photo
from ui.record import (
    Checked,
    Corrected,
    Decided,
    Reviewed,
    Withdrawn,
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


def test_tool_never_says_no_fault_without_a_comparison_that_counts(pair, tmp_path):
    assert load_job(pair).tool_decision == "check-by-hand"
    check_job(pair, fake_checker())
    assert load_job(pair).tool_decision == "no-fault-seen"
    add_photo(
        pair, make_photo(tmp_path / "n.jpg", 7), stage="after", by="T", replaces=3
    )
    assert load_job(pair).tool_decision == "check-by-hand"


def test_hand_correction_overtakes_the_answer(pair):
    check_job(pair, fake_checker())
    fix = Corrected(photo=3, what="pin1", value={"corner": 2}, by="T", reason="seen")
    add_event(pair, fix)
    assert load_job(pair).tool_decision == "check-by-hand"
    answer = Checked(
        photos=(2, 3),
        answer=compare_answer("stop"),
        tool_version="test",
        corrections=(7,),
    )
    add_event(pair, answer)
    assert load_job(pair).tool_decision == "stop"
    add_event(pair, Corrected(photo=3, what="pin1", value={"corner": 0}, by="T"))
    assert load_job(pair).tool_decision == "stop"  # a stop is never softened


@pytest.mark.parametrize("said", ["stop", "retake", "check-by-hand", "nonsense"])
def test_no_fault_against_the_tool_needs_a_reason(pair, said):
    check_job(pair, fake_checker(said))
    with pytest.raises(RecordError, match="needs a reason"):
        decide(pair, "no-fault-seen", "  ")
    decide(pair, "no-fault-seen", "seen under the microscope")
    assert load_job(pair).step == "decided"


def test_decision_must_know_what_the_tool_says_now(pair):
    check_job(pair, fake_checker("stop"))
    event = Decided(
        decision="no-fault-seen", by="T", tool_decision="no-fault-seen", reason="r"
    )
    with pytest.raises(RecordError, match="the tool now says stop"):
        add_event(pair, event)


def test_decision_ends_when_a_photo_comes_after_it(pair, tmp_path):
    check_job(pair, fake_checker())
    decide(pair, "no-fault-seen")
    add_photo(pair, make_photo(tmp_path / "s.jpg", 9), stage="side", by="T")
    state = load_job(pair)
    assert state.decision is None
    assert state.earlier_decision is not None
    with pytest.raises(RecordError, match="older than the newest photo"):
        seal_job(pair, by="T", make_reports=lambda _f, _s: {})


def test_nothing_to_decide_without_photos(job):
    with pytest.raises(RecordError, match="no photo has been added"):
        decide(job, "stop")


def test_review_overrule_and_undo(pair):
    check_job(pair, fake_checker())
    decided = decide(pair, "no-fault-seen").seq
    with pytest.raises(RecordError, match="needs a reason"):
        add_event(
            pair,
            Reviewed(verdict="overruled", by="R", decided=decided, decision="stop"),
        )
    review = add_event(
        pair,
        Reviewed(
            verdict="overruled", by="R", decided=decided, decision="stop", reason="gap"
        ),
    )
    assert len(load_job(pair).reviews) == 1
    add_event(pair, Withdrawn(event=review.seq, by="R", reason="the gap was a hair"))
    assert load_job(pair).reviews == ()
    with pytest.raises(RecordError, match="not a correction, decision or review"):
        add_event(pair, Withdrawn(event=review.seq, by="R"))


def test_a_review_is_taken_back_by_its_author_alone_and_with_a_reason(pair):
    check_job(pair, fake_checker())
    decided = decide(pair, "no-fault-seen").seq
    said = {"by": "R", "decided": decided}
    review = add_event(
        pair, Reviewed(verdict="overruled", decision="stop", reason="gap", **said)
    )
    for by in ("Tester", "Somebody"):
        with pytest.raises(RecordError, match="is the review of R; nobody else"):
            add_event(pair, Withdrawn(event=review.seq, by=by, reason="it is fine"))
    with pytest.raises(RecordError, match="taking back an overruling needs a reason"):
        add_event(pair, Withdrawn(event=review.seq, by="R", reason=" "))
    assert load_job(pair).reviews[-1].event.decision == "stop"
    add_event(pair, Withdrawn(event=review.seq, by="r", reason="a hair"))
    accepted = add_event(
        pair, Reviewed(verdict="accepted", decision="no-fault-seen", **said)
    )
    add_event(pair, Withdrawn(event=accepted.seq, by="R"))
    assert load_job(pair).reviews == ()


def test_journals_from_before_a_rule_are_not_called_damaged(pair):
    """What was written when only the older rules held stays a whole record."""
    check_job(pair, fake_checker())
    decided = decide(pair, "no-fault-seen").seq
    review = Reviewed(
        verdict="overruled", by="R", decided=decided, decision="stop", reason="gap"
    )
    seq = add_event(pair, review).seq
    event = Withdrawn(event=seq, by="Tester")
    with open_for_adding(pair) as writer:
        writer.append(event.KIND, data_of(event))
    assert load_job(pair).reviews == ()
    assert verify_job(pair).problems == ()


@pytest.mark.parametrize("then", ["no-fault-seen", "stop", "retake"])
def test_what_the_tool_is_taken_to_say_may_differ_in_another_version(pair, then):
    """A decision records what the tool said then, not what follows today."""
    check_job(pair, fake_checker())
    doubtful = Checked(
        photos=(2, 3), answer=compare_answer("check-by-hand"), tool_version="test"
    )
    add_event(pair, doubtful)
    decision = "no-fault-seen" if then == "no-fault-seen" else "stop"
    event = Decided(decision=decision, by="T", tool_decision=then)
    with open_for_adding(pair) as writer:
        writer.append(event.KIND, data_of(event))
    assert verify_job(pair).problems == ()
