"""Steps of a job, the rules between them, and what follows from them."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import pytest

from tests.unit.record.helpers import decide, fake_checker, make_photo
from ui.record import (
    Checked,
    Checker,
    Corrected,
    Decided,
    Opened,
    Outcome,
    Reviewed,
    Withdrawn,
    add_event,
    add_photo,
    check_job,
    job_folder,
    load_job,
    new_job_name,
    open_job,
    seal_job,
    verify_job,
)
from ui.record.checking import package_before
from ui.record.events import data_of, event_of
from ui.record.limits import limits_in_force
from ui.record.store import photo_path
from ui.record.writer import open_for_adding
from vision.errors import PhotoError, RecordError


def test_photo_is_kept_untouched_and_named_by_its_hash(job, tmp_path):
    source = make_photo(tmp_path / "IMG 1.JPG")
    content = source.read_bytes()
    entry = add_photo(job, source, stage="before", by="Tester")
    sha256 = hashlib.sha256(content).hexdigest()
    assert entry.data["sha256"] == sha256
    assert photo_path(job, sha256, ".jpg").read_bytes() == content
    assert entry.data["claims"]["taken"] == "2031:01:02 03:04:05"
    assert entry.data["claims"]["camera maker"] == "Test camera works"
    assert entry.data["has_place"] is True
    assert "53" not in str(entry.data["claims"])


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>",
        b"<!doctype html><script>alert(1)</script>",
        b"PK\x03\x04" + bytes(60),
        b"%PDF-1.7\n" + bytes(60),
    ],
)
def test_what_is_no_photo_is_refused_whatever_its_name(job, tmp_path, content):
    source = tmp_path / "photo.jpg"
    source.write_bytes(content)
    with pytest.raises(PhotoError, match="not a JPEG"):
        add_photo(job, source, stage="before", by="Tester")
    assert load_job(job).count == 1
    assert list((job / "photos").iterdir()) == []


def test_photo_with_a_broken_header_is_kept_without_claims(job, tmp_path):
    source = tmp_path / "photo.jpg"
    source.write_bytes(b"\xff\xd8\xff\xe1\xff\xffExif\x00\x00garbage" + bytes(50))
    entry = add_photo(job, source, stage="before", by="Tester")
    assert entry.data["claims"] == {}


def test_missing_file_is_refused(job, tmp_path):
    with pytest.raises(PhotoError, match="cannot be read"):
        add_photo(job, tmp_path / "none.jpg", stage="before", by="Tester")


def test_one_file_cannot_be_two_stages(pair, tmp_path):
    """Comparing a photo with itself would always find no fault."""
    with pytest.raises(RecordError, match="already the before photo"):
        add_photo(pair, tmp_path / "before.jpg", stage="after", by="Tester")
    assert verify_job(pair).problems == ()


def test_replaced_photo_stays_and_no_longer_counts(pair, tmp_path):
    better = make_photo(tmp_path / "better.jpg", 200)
    add_photo(pair, better, stage="after", by="Tester", replaces=3)
    state = load_job(pair)
    assert [noted.seq for noted in state.photos] == [2, 4]
    assert len(list((pair / "photos").iterdir())) == 3
    with pytest.raises(
        RecordError, match="event 3 is not a photo of the same stage and board"
    ):
        add_photo(
            pair,
            make_photo(tmp_path / "c.jpg", 250),
            stage="after",
            by="T",
            replaces=3,
        )
    assert len(list((pair / "photos").iterdir())) == 3


def test_check_answers_each_photo_and_pair_once(pair):
    added = check_job(pair, fake_checker())
    assert [entry.data["photos"] for entry in added] == [[2], [3], [2, 3]]
    assert check_job(pair, fake_checker()) == ()
    answer = added[2].data["answer"]
    assert answer["before"]["file"].startswith("photos/")
    assert len(answer["before"]["sha256"]) == 64


def test_bare_lands_are_looked_at_and_measured_against(pair, tmp_path):
    check_job(pair, fake_checker())
    lands = make_photo(tmp_path / "lands.jpg", 150)
    add_photo(pair, lands, stage="lands", by="T")
    asked = []

    def look(path, **more):
        asked.append(more["like"])
        return fake_checker().look(path)

    def compare(before, after, *, by_hand, lands, side):
        asked.append(lands.stem)
        return fake_checker().compare(before, after)

    checker = replace(fake_checker(), look=look, compare=compare)
    added = check_job(pair, checker)
    (photo,) = [n for n in load_job(pair).photos if n.event.stage == "lands"]
    assert [entry.data["photos"] for entry in added] == [[photo.seq], [2, 3, photo.seq]]
    assert asked == [None, photo.event.sha256]
    assert added[1].data["answer"]["lands_photo"]["sha256"] == photo.event.sha256
    assert load_job(pair).answer_pair.seq == added[1].seq
    assert check_job(pair, checker) == ()


def test_the_kind_of_chip_is_known_from_the_photo_before(pair):
    state = load_job(pair)
    assert package_before(state, state.photos[1]) is None
    chip = {"family": "SOIC", "lead_count": 8, "variant": None}
    answer = {"photo": {}, "packages": [chip]}
    add_event(pair, Checked(photos=(2,), answer=answer, tool_version="t"))
    state = load_job(pair)
    assert package_before(state, state.photos[1]) == "SOIC-8"
    answer = {"photo": {}, "packages": [{**chip, "variant": "SOIC-8 wide"}]}
    add_event(pair, Checked(photos=(2,), answer=answer, tool_version="t"))
    assert package_before(load_job(pair), state.photos[1]) == "SOIC-8 wide"
    doubt = {**answer, "meant": {"state": "unsure", "reasons": ["two alike"]}}
    add_event(pair, Checked(photos=(2,), answer=doubt, tool_version="t"))
    assert package_before(load_job(pair), state.photos[1]) is None


def test_what_was_set_right_by_hand_is_judged_anew_and_named(pair):
    check_job(pair, fake_checker())
    fix = Corrected(photo=3, what="pin1", value={"at_px": [1.0, 2.0]}, by="T")
    seq = add_event(pair, fix).seq
    assert load_job(pair).tool_decision == "check-by-hand"
    given = []

    def compare(before, after, *, by_hand, lands, side):
        given.append(by_hand)
        return fake_checker().compare(before, after)

    added = check_job(pair, replace(fake_checker(), compare=compare))
    assert [entry.data["photos"] for entry in added] == [[3], [2, 3]]
    assert [entry.data["corrections"] for entry in added] == [[seq], [seq]]
    assert given == [((), (fix,))]
    assert load_job(pair).tool_decision == "no-fault-seen"
    add_event(pair, Withdrawn(event=seq, by="T"))
    assert load_job(pair).tool_decision == "check-by-hand"
    again = check_job(pair, fake_checker())
    assert [entry.data["corrections"] for entry in again] == [[], []]
    assert load_job(pair).tool_decision == "no-fault-seen"


def test_no_board_is_let_go_by_limits_that_have_changed_since(pair):
    def refused(act):
        with pytest.raises(RecordError, match=r"Run `dotward job check .*` first"):
            act()

    check_job(pair, fake_checker())
    limits = pair.parent / "limits.toml"
    limits.write_text("# tightened")
    refused(lambda: decide(pair, "no-fault-seen", "looks fine"))
    limits.unlink()
    decided = decide(pair, "no-fault-seen").seq
    limits.write_text("# tightened")
    said = {"by": "R", "decided": decided, "decision": "no-fault-seen"}
    refused(lambda: add_event(pair, Reviewed(verdict="accepted", **said)))
    refused(lambda: seal_job(pair, by="T", make_reports=lambda *_: {".html": b"r"}))
    assert not (pair / "reports").exists()
    now = replace(fake_checker(), made_with=limits_in_force(pair.parent))
    check_job(pair, now, by_limits=True)
    decide(pair, "no-fault-seen")
    seal_job(pair, by="T", make_reports=lambda *_: {".html": b"r"})
    limits.unlink()  # what is sealed stays as it was judged
    last = load_job(pair).decision.seq
    said["decided"] = last
    add_event(pair, Reviewed(verdict="accepted", **said))


@pytest.mark.parametrize("stage", ["lands", "side"])
def test_what_would_have_no_effect_is_not_set_right(pair, tmp_path, stage):
    photo = make_photo(tmp_path / "third.jpg", 150)
    seq = add_photo(pair, photo, stage=stage, by="T", role="patient").seq
    fix = Corrected(photo=seq, what="package", value={"name": "SOIC-14"}, by="T")
    with pytest.raises(RecordError, match="Correct the before or after photo"):
        add_event(pair, fix)
    with open_for_adding(pair) as writer:
        writer.append(fix.KIND, data_of(fix))
    assert verify_job(pair).problems == ()  # as it was recorded once


def test_answer_about_another_photo_is_refused(pair):
    wrong = {"photo": {"sha256": "1" * 64}}
    checker = Checker(
        look=lambda _p, **_: wrong,
        compare=lambda _a, _b, **_: {},
        tool_version="",
        made_with={},
    )
    with pytest.raises(RecordError, match="about another photo"):
        check_job(pair, checker)


def test_changed_photo_is_not_judged(pair):
    path = next((pair / "photos").iterdir())
    path.chmod(0o644)
    path.write_bytes(path.read_bytes() + b"x")
    with pytest.raises(RecordError, match="missing or was changed"):
        check_job(pair, fake_checker())
    assert "was changed (photos/" in " ".join(verify_job(pair).problems)


def test_missing_photo_is_named(pair):
    state = load_job(pair)
    photo = state.photos[1].event
    photo_path(pair, photo.sha256, photo.suffix).unlink()
    (problem,) = verify_job(pair).problems
    assert problem.startswith("the after photo of event 3 is missing")


@pytest.mark.parametrize("harm", ["changed", "missing"])
def test_a_job_with_a_harmed_photo_is_neither_judged_nor_sealed(pair, harm):
    """Everything was judged and decided before the photo came to harm."""
    check_job(pair, fake_checker())
    decide(pair, "no-fault-seen")
    photo = load_job(pair).photos[0].event
    path = photo_path(pair, photo.sha256, photo.suffix)
    path.chmod(0o644)
    path.write_bytes(b"x") if harm == "changed" else path.unlink()
    count = load_job(pair).count
    says = rf"the before photo of event 2 \w+ {harm} .*Restore the folder from a copy"
    with pytest.raises(RecordError, match=says):
        check_job(pair, fake_checker())
    with pytest.raises(RecordError, match=says):
        seal_job(pair, by="T", make_reports=lambda *_: {".html": b"report"})
    with pytest.raises(RecordError, match=says):
        decide(pair, "no-fault-seen")
    accepted = Reviewed(
        verdict="accepted", by="R", decided=count, decision="no-fault-seen"
    )
    with pytest.raises(RecordError, match=says):
        add_event(pair, accepted)
    assert load_job(pair).count == count
    decide(pair, "stop")  # what holds a board back needs no photo
    assert not (pair / "reports").exists()


def test_seal_closes_the_job_and_binds_the_report(pair, tmp_path):
    check_job(pair, fake_checker())
    decided = decide(pair, "no-fault-seen").seq
    seen = []

    def make_reports(folder, state):
        seen.append((state.count, state.head))
        return {".html": b"report", ".pdf": b"paper"}

    entry = seal_job(pair, by="Tester", make_reports=make_reports)
    assert seen == [(entry.data["count"], entry.data["head"])]
    assert entry.data["count"] == entry.seq - 1
    with pytest.raises(RecordError, match="sealed at event 8"):
        add_photo(pair, make_photo(tmp_path / "x.jpg", 3), stage="side", by="T")
    add_event(pair, Outcome(worked=True, by="T", text="logger counts tides"))
    add_event(
        pair,
        Reviewed(verdict="accepted", by="R", decided=decided, decision="no-fault-seen"),
    )
    assert verify_job(pair).problems == ()
    assert load_job(pair).step == "sealed"
    report = next((pair / "reports").glob("*.html"))
    assert report.stat().st_mode & 0o222 == 0
    report.chmod(0o644)
    report.write_bytes(b"Report")
    assert "was changed (reports/" in " ".join(verify_job(pair).problems)


def test_events_that_break_the_rules_are_named(pair):
    """A line forged with a right chain still has to make sense."""
    event = Decided(decision="no-fault-seen", by="T", tool_decision="no-fault-seen")
    with open_for_adding(pair) as writer:
        writer.append(event.KIND, data_of(event))
    assert "event 4 breaks the rules" in " ".join(verify_job(pair).problems)


@pytest.mark.parametrize(
    "name", ["../secret", "..", "", "20310101-abcdef/..", "20310101-ABCDEF", "x" * 300]
)
def test_job_numbers_cannot_lead_elsewhere(home, name):
    home.mkdir()
    with pytest.raises(RecordError, match="not a job number"):
        job_folder(home, name)


def test_job_that_is_not_there(home):
    home.mkdir()
    with pytest.raises(RecordError, match="no such job"):
        job_folder(home, new_job_name())


def test_a_job_number_is_never_used_twice(home, job):
    opening = load_job(job).opened
    with pytest.raises(RecordError):
        open_job(home, opening)
    assert load_job(job).count == 1


def test_newer_and_broken_events_are_told_apart():
    with pytest.raises(RecordError, match="a newer version wrote it"):
        event_of("teleported", {})
    with pytest.raises(RecordError, match=r"unknown fields \['colour'\]"):
        event_of("outcome", {"worked": True, "by": "T", "colour": 1})
    with pytest.raises(RecordError, match=r"missing fields \['by'\]"):
        event_of("outcome", {"worked": True})
    with pytest.raises(RecordError, match="worked is 1"):
        event_of("outcome", {"worked": 1, "by": "T"})


def test_too_long_texts_are_refused_with_their_length():
    with pytest.raises(RecordError, match="technician has 501 characters"):
        Opened(job="j", technician="x" * 501, part="p", patient="b")
