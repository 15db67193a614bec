"""Photos of rows of feet in a job: how they are named, judged and counted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.record.helpers import (
    compare_answer,
    fake_checker,
    look_answer,
    make_photo,
)
from ui.record import Checked, Decided, add_event, add_photo, check_job, load_job
from ui.record.checking import package_before, unanswered
from vision.errors import RecordError


@pytest.fixture
def pair(job, tmp_path):
    """Give a job with a before and an after photo (events 2 and 3)."""
    for shade, stage in ((40, "before"), (90, "after")):
        add_photo(
            job, make_photo(tmp_path / f"{stage}.jpg", shade), stage=stage, by="T"
        )
    return job


def add_side(job, tmp_path, leads=(), shade=150, **more):
    photo = tmp_path / f"side{shade}.jpg"
    if not photo.exists():  # made anew it would be another file
        make_photo(photo, shade)
    return add_photo(job, photo, stage="side", by="T", leads=leads, **more).seq


def side_checker(state="ok", decision="no-fault-seen", asked=None):
    """Answer side photos with a state, and note what was asked."""

    def look(path, *, stage, leads, **_):
        if asked is not None:
            asked.append((stage, leads))
        if stage == "side":
            return {"format": "dotward.side/1", "photo": {}, "state": state}
        return fake_checker().look(path)

    def compare(_before, _after, *, lands, side, **_):
        if asked is not None:
            asked.append((lands, [(path.stem, leads) for path, leads in side]))
        rows = [{"photo": {}, "leads": list(leads) or None} for _, leads in side]
        return compare_answer(decision) | {"side": rows}

    return replace(fake_checker(), look=look, compare=compare)


def test_rows_are_looked_at_and_then_compared_with_the_pair(pair, tmp_path):
    first = add_side(pair, tmp_path, (1, 4), 150)
    second = add_side(pair, tmp_path, (), 200)
    asked = []
    added = check_job(pair, side_checker(asked=asked))
    photos = {noted.seq: noted.event for noted in load_job(pair).photos}
    assert added[-1].data["photos"] == [2, 3, first, second]
    assert asked[-1] == (
        None,
        [(photos[first].sha256, (1, 4)), (photos[second].sha256, ())],
    )
    assert ("side", (1, 4)) in asked
    rows = added[-1].data["answer"]["side"]
    assert [row["photo"]["sha256"] for row in rows] == [
        photos[first].sha256,
        photos[second].sha256,
    ]
    assert load_job(pair).answer_pair.seq == added[-1].seq
    assert unanswered(load_job(pair)) == []


def test_lands_and_rows_are_told_apart(pair, tmp_path):
    side = add_side(pair, tmp_path, (1, 4))
    lands = add_photo(pair, make_photo(tmp_path / "l.jpg", 5), stage="lands", by="T")
    asked = []
    added = check_job(pair, side_checker(asked=asked))
    assert added[-1].data["photos"] == [2, 3, lands.seq, side]
    assert asked[-1][0].stem == lands.data["sha256"]
    assert asked[-1][1] == [
        (load_job(pair).photo("side").event.sha256, (1, 4)),
    ]


def test_a_row_older_than_the_photo_after_counts_without_its_name(pair, tmp_path):
    side = add_side(pair, tmp_path, (1, 4))
    reworked = make_photo(tmp_path / "again.jpg", 99)
    add_photo(pair, reworked, stage="after", by="T", replaces=3)
    asked = []
    added = check_job(pair, side_checker(asked=asked))
    assert asked[-1][1][0][1] == ()
    (row,) = added[-1].data["answer"]["side"]
    assert "may show joints as they were" in row["note"]
    add_side(pair, tmp_path, (1, 4), replaces=side)
    check_job(pair, side_checker(asked=asked))
    assert asked[-1][1][0][1] == (1, 4)
    assert "note" not in load_job(pair).answer_pair.event.answer["side"][0]


def test_a_lifted_foot_is_stop_whatever_the_pair_says(pair, tmp_path):
    check_job(pair, fake_checker())
    assert load_job(pair).tool_decision == "no-fault-seen"
    side = add_side(pair, tmp_path)
    check_job(pair, side_checker("fault"))
    assert load_job(pair).tool_decision == "stop"
    add_side(pair, tmp_path, shade=220, replaces=side)
    check_job(pair, side_checker("ok"))
    assert load_job(pair).tool_decision == "no-fault-seen"


def test_a_lifted_foot_is_stop_without_any_pair(job, tmp_path):
    add_side(job, tmp_path)
    check_job(job, side_checker("fault"))
    assert load_job(job).tool_decision == "stop"


def test_a_row_not_counted_yet_holds_the_all_clear_back(pair, tmp_path):
    check_job(pair, fake_checker())
    seq = add_side(pair, tmp_path, (1, 4))
    state = load_job(pair)
    assert state.tool_decision == "check-by-hand"
    decided = Decided(
        decision="no-fault-seen", by="T", tool_decision=state.tool_decision
    )
    with pytest.raises(RecordError, match=f"not counted the side photo of event {seq}"):
        add_event(pair, decided)


def test_a_row_that_is_not_read_takes_nothing_away(pair, tmp_path):
    add_side(pair, tmp_path, (1, 4))
    check_job(pair, side_checker("unsure"))
    assert load_job(pair).tool_decision == "no-fault-seen"


def test_each_row_has_its_newest_photo(job, tmp_path):
    first = add_side(job, tmp_path, (1, 4), 20)
    second = add_side(job, tmp_path, (5, 8), 60)
    state = load_job(job)
    assert state.photo("side", leads=(1, 4)).seq == first
    assert state.photo("side", leads=(5, 8)).seq == second
    assert state.photo("side", leads=()) is None
    assert [noted.seq for noted in state.side_photos()] == [first, second]


def test_a_photo_may_be_given_its_row_later(job, tmp_path):
    first = add_side(job, tmp_path)
    named = add_side(job, tmp_path, (1, 4))
    (photo,) = load_job(job).side_photos()
    assert (photo.seq, photo.event.replaces, photo.event.leads) == (
        named,
        first,
        (1, 4),
    )
    with pytest.raises(RecordError, match="this very file is already the side photo"):
        add_side(job, tmp_path, (5, 8))


@pytest.mark.parametrize("leads", [(4, 1), (0, 4), (1,), (1, 2, 3), (3, 3)])
def test_what_is_no_row_is_refused(job, tmp_path, leads):
    with pytest.raises(RecordError, match="first and its last lead, such as 1-4"):
        add_side(job, tmp_path, leads)


def test_only_a_side_photo_has_a_row(job, tmp_path):
    photo = make_photo(tmp_path / "x.jpg", 1)
    with pytest.raises(RecordError, match="photo from the side"):
        add_photo(job, photo, stage="after", by="T", leads=(1, 4))


@pytest.mark.parametrize("stage", ["lands", "side"])
def test_lands_and_rows_are_judged_anew_where_the_chip_is_another(job, tmp_path, stage):
    chips = {}

    def look(path, *, like, **_):
        asked.append(like)
        return look_answer() | {"packages": chips.get(path.stem, [])}

    checker, asked = replace(fake_checker(), look=look), []
    photo = make_photo(tmp_path / "beside.jpg", 5)
    seq = add_photo(job, photo, stage=stage, by="T", role="patient").seq
    check_job(job, checker)
    assert load_job(job).answers[-1].event.answer["like"] is None
    for shade, family in ((40, "SOIC"), (90, "SSOP")):
        before = make_photo(tmp_path / f"{family}.jpg", shade)
        added = add_photo(job, before, stage="before", by="T", role="patient")
        chips[added.data["sha256"]] = [{"family": family, "lead_count": 8}]
        entries = check_job(job, checker)
        assert [entry.data["photos"] for entry in entries] == [[added.seq], [seq]]
        assert entries[-1].data["answer"]["like"] == asked[-1] == f"{family}-8"
        assert check_job(job, checker) == ()
    again = make_photo(tmp_path / "again.jpg", 130)
    add_photo(job, again, stage="before", by="T", role="patient")
    check_job(job, checker)
    assert asked[-1] is None


def test_an_answer_that_does_not_say_as_what_it_was_judged_stays(job, tmp_path):
    """Answers of earlier versions are not all judged anew."""
    seq = add_side(job, tmp_path)
    answer = {"format": "dotward.side/1", "state": "ok"}
    add_event(job, Checked(photos=(seq,), answer=answer, tool_version="old"))
    assert check_job(job, fake_checker()) == ()


def test_the_chip_of_a_side_photo_is_that_after_where_none_was_before(job, tmp_path):
    chip = {"family": "SOIC", "lead_count": 8}
    add_photo(job, make_photo(tmp_path / "a.jpg", 9), stage="after", by="T")
    add_side(job, tmp_path)
    checker = fake_checker()
    seen = {**checker.look(None), "packages": [chip]}
    check_job(job, replace(checker, look=lambda _path, **_: seen))
    state = load_job(job)
    assert package_before(state, state.photo("side")) == "SOIC-8"
    assert package_before(state, state.photo("after")) is None
