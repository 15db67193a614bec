"""The chain: what was changed, moved, removed or cut off is named."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from tests.unit.record.helpers import fake_checker, make_photo, open_test_job
from ui.record import (
    Corrected,
    Decided,
    Outcome,
    add_event,
    add_photo,
    check_job,
    load_job,
    seal_job,
    verify_job,
)
from ui.record.journal import (
    HEAD_NAME,
    JOURNAL_NAME,
    Head,
    content_hash,
    line_of,
    parse_journal,
    read_journal,
)
from vision.errors import RecordError


@pytest.fixture
def filled(job, tmp_path):
    """Give a job with six events."""
    for shade, stage in ((40, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        add_photo(job, photo, stage=stage, by="Tester")
    check_job(job, fake_checker())
    assert len(read_journal(job).entries) == 6
    return job


def lines_of(job):
    return (job / JOURNAL_NAME).read_bytes().splitlines(keepends=True)


def rewrite(job, lines):
    (job / JOURNAL_NAME).write_bytes(b"".join(lines))


def problems(job, expected=None):
    return " | ".join(verify_job(job, expected=expected).problems)


def test_untouched_job_has_no_problem(filled):
    assert verify_job(filled).problems == ()


def test_each_changed_byte_is_noticed(filled):
    """Every byte of a middle line, turned into its neighbour."""
    lines = lines_of(filled)
    for at in range(0, len(lines[2]) - 1, 3):
        changed = bytearray(lines[2])
        changed[at] ^= 1
        journal = parse_journal(b"".join([*lines[:2], bytes(changed), *lines[3:]]))
        assert journal.damage, at


def test_changed_event_is_named(filled):
    lines = lines_of(filled)
    lines[1] = lines[1].replace(b'"by":"Tester"', b'"by":"Tasted"')
    rewrite(filled, lines)
    assert "event 2 (line 2) was changed" in problems(filled)


def test_missing_event_is_named(filled):
    lines = lines_of(filled)
    rewrite(filled, lines[:2] + lines[3:])
    assert problems(filled).startswith("event 3 is missing")


def test_reordered_events_are_named(filled):
    lines = lines_of(filled)
    rewrite(filled, [*lines[:2], lines[3], lines[2], *lines[4:]])
    assert "event 3 was moved: it stands after event 4" in problems(filled)


def test_doubled_event_is_named(filled):
    lines = lines_of(filled)
    rewrite(filled, [*lines, lines[4]])
    assert "event 5 is there more than once" in problems(filled)


def test_replaced_event_with_right_hash_is_named(filled):
    """Someone who knows the form rewrites one event and its own hash."""
    lines = lines_of(filled)
    value = json.loads(lines[1])
    value["data"]["by"] = "Someone else"
    entry = type(read_journal(filled).entries[0])(**value)
    lines[1] = line_of(type(entry)(**{**value, "hash": content_hash(entry)}))
    rewrite(filled, lines)
    assert "event 3 does not follow from event 2" in problems(filled)


@pytest.mark.parametrize("kept", [1, 3, 5])
def test_cut_end_is_named(filled, kept):
    rewrite(filled, lines_of(filled)[:kept])
    found = problems(filled)
    assert "the end was cut off: 6 events noted" in found
    assert f"the last one in the journal is event {kept}" in found
    with pytest.raises(RecordError, match="6 events were recorded"):
        add_event(filled, Outcome(worked=True, by="T"))


def test_cut_inside_the_last_acknowledged_line_is_named(filled):
    content = (filled / JOURNAL_NAME).read_bytes()
    (filled / JOURNAL_NAME).write_bytes(content[:-20])
    assert "the end was cut off" in problems(filled)


def test_rewritten_journal_is_named_by_the_head(filled, home):
    """A whole chain made anew is consistent; only the head shows it."""
    other = open_test_job(home)
    (filled / JOURNAL_NAME).write_bytes((other / JOURNAL_NAME).read_bytes())
    (filled / HEAD_NAME).write_bytes((other / HEAD_NAME).read_bytes())
    assert "holds the job" in problems(filled)
    good = Head(count=6, hash="1" * 64)
    assert "6 events on the report given" in problems(filled, good)
    assert "was written anew" in problems(other, Head(count=1, hash="1" * 64))


def test_missing_head_is_named(filled):
    (filled / HEAD_NAME).unlink()
    assert "head.json is missing" in problems(filled)


def test_torn_end_is_reported_and_set_aside(filled):
    whole = (filled / JOURNAL_NAME).read_bytes()
    torn = b'{"at":"2031-01-01T00:00:00.000+00:00","data":{"by":"T'
    (filled / JOURNAL_NAME).write_bytes(whole + torn)
    found = verify_job(filled)
    assert not found.problems
    assert f"{len(torn)} bytes after the last event" in found.remarks[0]
    assert load_job(filled).count == 6
    add_event(filled, Outcome(worked=True, by="Tester"))
    entries = read_journal(filled).entries
    assert [entry.kind for entry in entries[-2:]] == ["set-aside", "outcome"]
    assert (filled / JOURNAL_NAME).read_bytes().startswith(whole)
    digest = entries[-2].data["file_sha256"]
    assert (filled / "set-aside" / f"{digest}.bin").read_bytes() == torn
    assert verify_job(filled).problems == ()
    (filled / "set-aside" / f"{digest}.bin").unlink()
    assert "the piece set aside at event 7 is missing" in problems(filled)


def test_a_seal_after_a_cut_off_write_covers_what_was_set_aside(filled):
    add_event(
        filled,
        Decided(decision="stop", by="Tester", tool_decision="no-fault-seen"),
    )
    with (filled / JOURNAL_NAME).open("ab") as journal:
        journal.write(b'{"at":"2031-01-0')
    seal_job(filled, by="Tester", make_reports=lambda *_: {".html": b"report"})
    assert verify_job(filled).problems == ()
    kinds = [entry.kind for entry in read_journal(filled).entries]
    assert kinds[-2:] == ["set-aside", "sealed"]


def test_zero_filled_last_line_is_torn(filled):
    """A file may have its length before its content after a power cut."""
    whole = (filled / JOURNAL_NAME).read_bytes()
    (filled / JOURNAL_NAME).write_bytes(whole + b"\x00" * 100 + b'"}\n')
    assert len(read_journal(filled).torn) == 103
    add_event(filled, Outcome(worked=False, by="Tester"))
    assert verify_job(filled).problems == ()


def test_clock_that_jumps_back_does_not_change_the_order(job, tmp_path):
    now = datetime(2031, 5, 1, 12, tzinfo=UTC)
    times = iter([now, now - timedelta(days=900), now + timedelta(days=5)])
    photo = make_photo(tmp_path / "a.jpg")
    add_photo(job, photo, stage="before", by="T", clock=lambda: next(times))
    add_event(
        job,
        Decided(decision="stop", by="T", tool_decision="check-by-hand"),
        clock=lambda: next(times),
    )
    state = load_job(job)
    assert state.decision is not None
    assert [noted.seq for noted in state.history] == [1, 2, 3]
    found = verify_job(job)
    assert not found.problems
    assert any("the clock went back before event 3" in text for text in found.remarks)


def test_not_a_job(tmp_path):
    with pytest.raises(RecordError, match="it is not a job"):
        read_journal(tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n",
        b"[]\n",
        b"null\n",
        b"\xff\xfe\n",
        b"{" * 5000 + b"\n",
        b'{"seq":NaN}\n',
    ],
)
def test_hostile_journals_are_damage_not_crashes(job, content):
    (job / JOURNAL_NAME).write_bytes(content)
    assert verify_job(job).problems
    with pytest.raises(RecordError):
        load_job(job)


def test_nan_is_refused(job, tmp_path):
    add_photo(job, make_photo(tmp_path / "a.jpg"), stage="before", by="T")
    event = Corrected(photo=2, what="outline", value={"x": float("nan")}, by="T")
    with pytest.raises(RecordError, match="only plain JSON"):
        add_event(job, event)
    assert load_job(job).count == 2
