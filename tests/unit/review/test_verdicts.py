"""Accept, overrule, undo: what is recorded and what is refused."""

from __future__ import annotations

import pytest

from tests.unit.review.helpers import Jobs, add_as_once
from ui.page.steps import next_step
from ui.record import (
    Decided,
    Reviewed,
    Sealed,
    add_event,
    load_job,
    seal_job,
    verify_job,
)
from ui.record.standing import standing_of
from ui.review import accept, overrule, take_back
from vision.errors import RecordError


@pytest.fixture
def job(home, tmp_path):
    return Jobs(home, tmp_path).add(decision="no-fault-seen")


def test_accept_then_undo_then_overrule_are_three_events(job):
    before = load_job(job)
    accept(job, by="Rev", decided=before.decision.seq)
    (review,) = load_job(job).reviews
    assert (review.event.verdict, review.event.decision) == (
        "accepted",
        "no-fault-seen",
    )
    take_back(job, by="Rev", reason="slipped")
    assert load_job(job).reviews == ()
    overrule(job, "stop", by="Rev", reason="lead 3 floats")
    after = load_job(job)
    assert [noted.event.KIND for noted in after.history[before.count :]] == [
        "reviewed",
        "withdrawn",
        "reviewed",
    ]
    assert after.reviews[-1].event.decision == "stop"


def test_reviews_may_follow_the_seal_and_be_taken_back(job):
    seal_job(job, by="Ada", make_reports=lambda *_: {".html": b"report"})
    accept(job, by="Rev")
    take_back(job, by="Rev")
    with pytest.raises(RecordError, match="sealed"):
        take_back(job, by="Ada")  # the decision itself


@pytest.mark.parametrize("name", ["Ada", " ada ", "\uff21DA"])
def test_nobody_reviews_a_decision_of_their_own(job, name):
    with pytest.raises(RecordError, match="second pair of eyes"):
        accept(job, by=name)


def test_the_same_word_twice_is_refused(job):
    accept(job, by="Rev")
    with pytest.raises(RecordError, match="said so already"):
        accept(job, by="rev")
    accept(job, by="Another")


@pytest.mark.parametrize("reason", ["", "  \n"])
def test_overruling_needs_a_reason(job, reason):
    with pytest.raises(RecordError, match="needs a reason"):
        overrule(job, "stop", by="Rev", reason=reason)


def test_overruling_with_the_same_decision_is_refused(job):
    with pytest.raises(RecordError, match="is what was decided"):
        overrule(job, "no-fault-seen", by="Rev", reason="x")


def test_a_decision_that_changed_meanwhile_is_not_reviewed_by_mistake(job):
    seen = load_job(job).decision.seq
    take_back(job, by="Ada", event=seen)
    with pytest.raises(RecordError, match="nobody has decided yet"):
        accept(job, by="Rev", decided=seen)
    with pytest.raises(RecordError, match="so there is nothing to take back"):
        take_back(job, by="Ada")


def revive(job):
    """Take back a stop that came after an accepted no-fault-seen."""
    old = load_job(job).decision.seq
    accept(job, by="Rev")
    stop = Decided(decision="stop", by="Ada", tool_decision="no-fault-seen")
    add_event(job, stop)
    take_back(job, by="Cy")
    return old


def test_an_older_decision_does_not_come_back_with_its_review(job):
    old = revive(job)
    state = load_job(job)
    assert (state.decision, state.reviews) == (None, ())
    assert standing_of(state) is None
    for again in (
        lambda: accept(job, by="Rev"),
        lambda: add_event(
            job,
            Reviewed(verdict="accepted", by="R", decided=old, decision="no-fault-seen"),
        ),
        lambda: seal_job(job, by="Ada", make_reports=lambda *_: {".html": b"report"}),
    ):
        with pytest.raises(RecordError, match="newest decision was taken back"):
            again()
    assert not (job / "reports").exists()
    add_event(job, Decided(decision="stop", by="Ada", tool_decision="no-fault-seen"))
    assert standing_of(load_job(job)).decision == "stop"


def test_a_journal_in_which_an_older_decision_came_back_is_whole(job):
    old = revive(job)
    review = {"decided": old, "decision": "no-fault-seen", "verdict": "accepted"}
    add_as_once(job, Reviewed(by="Other", **review))
    state = load_job(job)
    add_as_once(job, Sealed(head=state.head, count=state.count, by="Ada"))
    assert verify_job(job).problems == ()
    assert "Do not power the board" in next_step(load_job(job))


def test_only_the_newest_decision_is_reviewed(job):
    with pytest.raises(RecordError, match="was changed since it was shown"):
        accept(job, by="Rev", decided=2)


def test_a_reviewer_has_a_name(job):
    with pytest.raises(RecordError, match="Give your name"):
        accept(job, by="  ")
