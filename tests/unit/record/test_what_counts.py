"""What the answers amount to: nothing that counts is left out of the decision."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.record.helpers import compare_answer, fake_checker, make_photo
from ui.record import (
    Corrected,
    Decided,
    Opened,
    add_event,
    add_photo,
    check_job,
    load_job,
    new_job_name,
    open_job,
)
from ui.record.checking import unanswered
from vision.errors import RecordError


def put(job, tmp_path, stage, shade, role="patient", **more):
    photo = make_photo(tmp_path / f"{stage}{role}{shade}.jpg", shade)
    return add_photo(job, photo, stage=stage, role=role, by="T", **more).seq


@pytest.fixture
def pair(job, tmp_path):
    put(job, tmp_path, "before", 40)
    put(job, tmp_path, "after", 90)
    return job


def decided(decision="no-fault-seen", *, tool, by="T", reason=""):
    return Decided(decision=decision, tool_decision=tool, by=by, reason=reason)


def test_bare_lands_that_were_not_counted_in_clear_nothing(pair, tmp_path):
    check_job(pair, fake_checker())
    assert load_job(pair).tool_decision == "no-fault-seen"
    lands = put(pair, tmp_path, "lands", 150)
    assert load_job(pair).tool_decision == "check-by-hand"
    with pytest.raises(RecordError, match=f"the lands photo of event {lands}"):
        add_event(pair, decided(tool="check-by-hand"))
    check_job(pair, fake_checker("stop"))
    assert load_job(pair).tool_decision == "stop"
    put(pair, tmp_path, "lands", 200, replaces=lands)
    assert load_job(pair).tool_decision == "check-by-hand"


def by_board(said):
    """Answer the pairs one after the other: the patient's comes first."""
    answers = iter(said)
    return replace(
        fake_checker(), compare=lambda *_, **__: compare_answer(next(answers))
    )


@pytest.mark.parametrize(
    ("patient", "donor", "together"),
    [
        ("stop", "no-fault-seen", "stop"),
        ("no-fault-seen", "stop", "stop"),
        ("retake", "no-fault-seen", "retake"),
        ("no-fault-seen", "no-fault-seen", "no-fault-seen"),
    ],
)
def test_of_two_boards_the_graver_answer_stands(
    pair, tmp_path, patient, donor, together
):
    put(pair, tmp_path, "before", 120, "donor")
    put(pair, tmp_path, "after", 180, "donor")
    check_job(pair, by_board([patient, donor]))
    state = load_job(pair)
    assert state.tool_decision == together
    assert state.answer_pair.event.answer["decision"] == together


def test_a_board_that_was_never_compared_clears_nothing(pair, tmp_path):
    check_job(pair, fake_checker())
    put(pair, tmp_path, "before", 120, "donor")
    assert load_job(pair).tool_decision == "no-fault-seen"
    put(pair, tmp_path, "after", 180, "donor")
    assert load_job(pair).tool_decision == "check-by-hand"


def test_lands_and_sides_are_judged_anew_after_the_chip_was_set_right(pair, tmp_path):
    lands = put(pair, tmp_path, "lands", 150)
    side = put(pair, tmp_path, "side", 200)
    check_job(pair, fake_checker())
    assert unanswered(load_job(pair)) == []
    add_event(
        pair, Corrected(photo=2, what="package", value={"name": "SOIC-8"}, by="T")
    )
    waiting = [tuple(p.seq for p in photos) for photos in unanswered(load_job(pair))]
    assert waiting == [(2,), (lands,), (side,), (2, 3, lands, side)]
    check_job(pair, fake_checker())
    assert unanswered(load_job(pair)) == []


@pytest.fixture
def moved(tmp_path):
    """Give a job whose chip goes from the failed board to another."""
    opening = Opened(
        job=new_job_name(), technician="T", part="p", patient="failed", donor="spare"
    )
    return open_job(tmp_path / "jobs", opening)


def usual(job, tmp_path, stage, shade):
    photo = make_photo(tmp_path / f"{stage}{shade}.jpg", shade)
    return add_photo(job, photo, stage=stage, by="T").data["role"]


def test_the_donor_gets_the_chip_and_its_later_photos(moved, tmp_path):
    roles = [
        usual(moved, tmp_path, stage, shade)
        for shade, stage in ((40, "before"), (90, "lands"), (140, "after"))
    ]
    assert roles == ["patient", "donor", "donor"]
    waiting = [tuple(p.seq for p in photos) for photos in unanswered(load_job(moved))]
    assert waiting[-1] == (2, 4, 3)  # held against the patient: no other photo before
    check_job(moved, fake_checker())
    assert load_job(moved).tool_decision == "no-fault-seen"
    own = put(moved, tmp_path, "before", 200, "donor")
    assert load_job(moved).tool_decision == "check-by-hand"
    added = check_job(moved, fake_checker("stop"))
    assert added[-1].data["photos"] == [own, 4, 3]
    assert load_job(moved).tool_decision == "stop"


def test_a_job_whose_later_photos_lie_with_the_patient_goes_on_so(moved, tmp_path):
    put(moved, tmp_path, "lands", 90, "patient")
    assert usual(moved, tmp_path, "after", 140) == "patient"


def test_without_a_donor_all_photos_are_of_the_patient(pair, tmp_path):
    assert usual(pair, tmp_path, "lands", 150) == "patient"


def test_a_photo_replaces_only_one_of_its_own_stage_and_board(pair, tmp_path):
    with pytest.raises(RecordError, match="same stage and board"):
        put(pair, tmp_path, "after", 200, replaces=2)
    with pytest.raises(RecordError, match="same stage and board"):
        put(pair, tmp_path, "before", 200, "donor", replaces=2)


def test_a_photo_of_one_stage_added_twice_is_not_called_one_of_two(pair, tmp_path):
    again = tmp_path / "afterpatient90.jpg"
    for replaces in (None, 3):
        with pytest.raises(
            RecordError, match=r"already the after photo \(event 3\); n"
        ):
            add_photo(pair, again, stage="after", by="T", replaces=replaces)
    with pytest.raises(RecordError, match="two stages cannot share one photo"):
        add_photo(pair, again, stage="before", by="T", replaces=2)


def test_nothing_is_recorded_by_nobody(pair, tmp_path):
    check_job(pair, fake_checker())
    with pytest.raises(RecordError, match="name of who does this is empty"):
        add_event(pair, decided(tool="no-fault-seen", by="  "))
    opening = load_job(pair).opened
    for field in ("technician", "part", "patient"):
        unsaid = replace(opening, job=new_job_name(), **{field: " "})
        with pytest.raises(RecordError, match="no job was opened"):
            open_job(tmp_path / "others", unsaid)
    assert not (tmp_path / "others").exists()
