"""Whatever is written comes back; whatever is changed is noticed."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from ui.plain_text import csv_cell, visible
from ui.record.events import KINDS, Corrected, Opened, Outcome, data_of, event_of
from ui.record.jobs import add_event, load_job, new_job_name, open_job
from ui.record.journal import JOURNAL_NAME, Head, line_of, next_entry, parse_journal

ANY_TEXT = st.text(
    st.characters(codec=None, categories=None), max_size=300
) | st.sampled_from(
    ["<script>alert(1)</script>", "${7*7}{{7*7}}", "../../etc", "\u202e", "x" * 300]
)
JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | ANY_TEXT,
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(ANY_TEXT, inner, max_size=4)
    ),
    max_leaves=12,
)
JSON_OBJECT = st.dictionaries(ANY_TEXT, JSON, max_size=4)


def chain(objects):
    head, lines = Head(count=0, hash="0" * 64), []
    for data in objects:
        entry = next_entry(head, "kind", data, "2031-01-01T00:00:00.000+00:00")
        head = Head(count=entry.seq, hash=entry.hash)
        lines.append(line_of(entry))
    return lines


@given(st.lists(JSON_OBJECT, min_size=1, max_size=5))
def test_any_json_comes_back(objects):
    journal = parse_journal(b"".join(chain(objects)))
    assert not journal.damage
    assert not journal.torn
    assert [entry.data for entry in journal.entries] == objects


@given(st.lists(JSON_OBJECT, min_size=2, max_size=4), st.data())
def test_any_changed_byte_is_noticed(objects, data):
    content = b"".join(chain(objects))
    at = data.draw(st.integers(0, len(content) - 1))
    new = data.draw(st.integers(0, 255).filter(lambda byte: byte != content[at]))
    journal = parse_journal(content[:at] + bytes((new,)) + content[at + 1 :])
    assert journal.damage or journal.torn or len(journal.entries) < len(objects)


@given(st.lists(JSON_OBJECT, min_size=2, max_size=5), st.data())
def test_any_cut_leaves_whole_events_only(objects, data):
    lines = chain(objects)
    content = b"".join(lines)
    cut = data.draw(st.integers(0, len(content)))
    journal = parse_journal(content[:cut])
    assert not journal.damage
    whole = sum(sum(map(len, lines[: n + 1])) <= cut for n in range(len(lines)))
    assert [entry.data for entry in journal.entries] == objects[:whole]
    assert content[:cut].endswith(journal.torn)


@given(st.lists(JSON_OBJECT, min_size=3, max_size=6), st.randoms())
def test_any_other_order_is_noticed(objects, random):
    lines = chain(objects)
    shuffled = lines[:]
    random.shuffle(shuffled)
    journal = parse_journal(b"".join(shuffled))
    assert bool(journal.damage) == (shuffled != lines)


@given(st.binary(max_size=400))
def test_any_bytes_are_read_without_a_crash(content):
    parse_journal(content)


@given(ANY_TEXT, ANY_TEXT, JSON_OBJECT)
def test_events_round_trip(name, text, value):
    for event in (
        Outcome(worked=False, by=name, text=text),
        Corrected(photo=3, what="outline", value=value, by=name, reason=text),
    ):
        assert event_of(event.KIND, data_of(event)) == event


@settings(max_examples=25, deadline=None)
@given(ANY_TEXT.filter(str.strip), ANY_TEXT.filter(lambda text: text[:500].strip()))
def test_any_text_survives_the_disk(name, text):
    with tempfile.TemporaryDirectory() as place:
        opening = Opened(
            job=new_job_name(), technician=name, part=text[:500], patient=name
        )
        folder = open_job(Path(place), opening)
        add_event(folder, Outcome(worked=True, by=name, text=text))
        state = load_job(folder)
        assert state.opened == opening
        assert state.outcomes[0].event.text == text
        assert (folder / JOURNAL_NAME).read_bytes().isascii()


@given(ANY_TEXT)
def test_shown_text_hides_nothing(text):
    shown = visible(text)
    assert shown.isprintable() or not text.isprintable() or "\u3000" in text
    shown.encode("utf-8")
    assert "\n" not in shown
    assert csv_cell(text).lstrip()[:1] not in set("=+-@\t\r")


def test_every_kind_is_named_after_its_key():
    assert all(name == kind.KIND for name, kind in KINDS.items())
