"""The list of jobs: always as the journals are, whatever happens to the index."""

from __future__ import annotations

import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from tests.unit.record.helpers import make_photo, open_test_job
from ui.record import (
    Opened,
    Outcome,
    add_event,
    add_photo,
    forget_index,
    list_jobs,
    load_job,
    new_job_name,
    open_job,
)
from ui.record.changes import INDEX_FOLDER
from ui.record.events import data_of
from ui.record.index import INDEX_NAME
from ui.record.journal import JOURNAL_NAME, Head, line_of, next_entry

MANY = 2_000  # tests/benchmark/bench_record.py measures 100,000
LONGEST_LIST_S = 0.3


def test_no_folder_no_jobs(home):
    assert list_jobs(home) == ()
    assert not home.exists()


def test_list_follows_the_journals(home, tmp_path):
    first, second = open_test_job(home), open_test_job(home)
    assert {row.job for row in list_jobs(home)} == {first.name, second.name}
    add_photo(first, make_photo(tmp_path / "a.jpg"), stage="before", by="T")
    rows = {row.job: row for row in list_jobs(home)}
    assert rows[first.name].photo_count == 1
    assert rows[first.name].step == "photos"
    assert rows[second.name].step == "open"
    forget_index(home)
    assert {row.job: row for row in list_jobs(home)} == rows


@pytest.mark.parametrize("content", [b"", b"not a database at all" * 100])
def test_broken_index_is_thrown_away(home, job, content):
    list_jobs(home)
    (home / INDEX_FOLDER / INDEX_NAME).write_bytes(content)
    assert [row.job for row in list_jobs(home)] == [job.name]
    assert [row.job for row in list_jobs(home)] == [job.name]


def test_index_that_cannot_be_made_is_done_without(home, job):
    (home / INDEX_FOLDER).write_bytes(b"in the way")
    assert [row.job for row in list_jobs(home)] == [job.name]


def test_damaged_job_is_listed_as_damaged(home, job):
    (job / JOURNAL_NAME).write_bytes(b"nonsense\n")
    (row,) = list_jobs(home)
    assert (row.job, row.step) == (job.name, "damaged")
    (job / JOURNAL_NAME).unlink()
    (row,) = list_jobs(home)
    assert row.step == "damaged"


def test_removed_job_leaves_the_list(home, job):
    other = open_test_job(home)
    list_jobs(home)
    for path in sorted(job.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    job.rmdir()
    assert [row.job for row in list_jobs(home)] == [other.name]


def test_many_ask_at_once_and_the_index_is_built_once(home, monkeypatch):
    jobs = {open_test_job(home).name for _ in range(20)}
    forget_index(home)
    read, load = [], load_job

    def counted(folder):
        read.append(folder.name)
        return load(folder)

    monkeypatch.setattr("ui.record.index.load_job", counted)
    with ThreadPoolExecutor(8) as many:
        lists = list(many.map(lambda _: list_jobs(home), range(8)))
    assert [{row.job for row in rows} for rows in lists] == [jobs] * 8
    assert sorted(read) == sorted(jobs)


def test_hostile_texts_do_not_break_the_list(home):
    texts = "'); DROP TABLE jobs; --\x00\ud800<script>"
    opening = Opened(job=new_job_name(), technician=texts, part=texts, patient=texts)
    open_job(home, opening)
    (row,) = list_jobs(home)
    assert row.technician == texts.replace("\ud800", "?")
    assert list_jobs(home) == (row,)


@pytest.mark.slow
def test_a_long_list_comes_at_once(home, job):
    """Real folders with real journals; the first list builds the index."""
    opened = load_job(job).opened
    for number in range(MANY):
        name = f"20310101-{_letters(number)}"
        folder = home / name
        folder.mkdir()
        data = data_of(replace(opened, job=name))
        entry = next_entry(Head(count=0, hash="0" * 64), "opened", data, "2031")
        (folder / JOURNAL_NAME).write_bytes(line_of(entry))
    assert len(list_jobs(home)) == MANY + 1
    add_event(job, Outcome(worked=True, by="T"))
    times = []
    for _ in range(3):
        start = time.perf_counter()
        rows = list_jobs(home, limit=50)
        times.append(time.perf_counter() - start)
        assert len(rows) == 50
    assert min(times) < LONGEST_LIST_S


def _letters(number):
    letters = "abcdefghijklmnopqrstuvwxyz"
    return "".join(letters[number // 26**power % 26] for power in range(6))


def test_announced_change_is_read_even_where_it_is_not_shown(home, tmp_path):
    """A row beyond the limit follows its journal too."""
    jobs = [open_test_job(home) for _ in range(3)]
    last = list_jobs(home)[-1].job
    assert {job.name for job in jobs} >= {last}
    add_photo(home / last, make_photo(tmp_path / "a.jpg"), stage="before", by="T")
    list_jobs(home, limit=1)
    (home / last / JOURNAL_NAME).rename(home / last / "away")
    index = sqlite3.connect(home / INDEX_FOLDER / INDEX_NAME)
    (step,) = index.execute("SELECT step FROM jobs WHERE job = ?", (last,)).fetchone()
    index.close()
    assert step == "photos"
