"""The job commands from opening a job to its export."""

from __future__ import annotations

import csv
import io
import json
import re

import pytest
from typer.testing import CliRunner

import ui.checker
from tests.unit.record.helpers import fake_checker, make_photo
from tests.unit.report.helpers import HOSTILE
from ui.job_commands import app, report_command
from ui.record import load_job
from ui.record.journal import JOURNAL_NAME


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    monkeypatch.setenv("DOTWARD_JOBS", str(tmp_path / "jobs"))
    monkeypatch.setenv("DOTWARD_BY", "Test technician")
    app_with_report = app

    def run_command(*words, code=0):
        result = CliRunner().invoke(app_with_report, [str(word) for word in words])
        assert result.exit_code == code, result.output
        return result.output

    return run_command


@pytest.fixture
def job(run):
    return run("new", "--part", "24-series", "--patient", "logger").strip()


def test_a_whole_job(run, job, tmp_path, monkeypatch):
    monkeypatch.setattr(ui.checker, "tool_checker", lambda _: fake_checker())
    for shade, stage in ((10, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        assert "event" in run("add", job, photo, "--stage", stage)
    assert "the tool says: no-fault-seen" in run("check", job)
    run("decide", job, "no-fault-seen")
    said = run("seal", job)
    count, head = said.strip().rsplit(": ", 1)[1].split(" events, ")
    assert "nothing speaks against" in run(
        "verify", job, "--count", count, "--head", head
    )
    assert "written anew" in run(
        "verify", job, "--count", count, "--head", "0" * 64, code=1
    )
    run("export", job, tmp_path / "bag")
    assert (tmp_path / "bag" / "manifest-sha256.txt").is_file()
    report_command(job, home=tmp_path / "jobs", out=tmp_path / "report.html")
    assert (tmp_path / "report.html").read_bytes().startswith(b"<!doctype html>")
    assert job in run("list")


def test_a_side_photo_names_its_row(run, job, tmp_path):
    photo = make_photo(tmp_path / "side.jpg")
    run("add", job, photo, "--stage", "side", "--leads", "5-8")
    assert load_job(tmp_path / "jobs" / job).photo("side").event.leads == (5, 8)
    run("add", job, photo, "--stage", "side", "--leads", "five", code=2)


@pytest.mark.parametrize(("said", "code"), [("stop", 1), ("check-by-hand", 3)])
def test_check_ends_with_the_code_of_its_answer(
    run, job, tmp_path, monkeypatch, said, code
):
    monkeypatch.setattr(ui.checker, "tool_checker", lambda _: fake_checker(said))
    for shade, stage in ((10, "before"), (90, "after")):
        run("add", job, make_photo(tmp_path / f"{stage}.jpg", shade), "--stage", stage)
    run("check", job, code=code)
    assert "needs a reason" in run("decide", job, "no-fault-seen", code=4)
    run("decide", job, "no-fault-seen", "--why", "seen under the microscope")


def test_errors_say_what_to_do(run, job, tmp_path):
    assert "not a job number" in run("verify", "../../etc", code=4)
    assert "no such job" in run("check", "20310101-aaaaaa", code=4)
    text = run("add", job, make_photo(tmp_path / "a.jpg"), "--stage", "hot", code=2)
    assert "stage is 'hot'; one of before, lands, after, side is needed" in text
    assert "PROBLEM event 1" in _changed(run, job, tmp_path)


def _changed(run, job, tmp_path):
    path = tmp_path / "jobs" / job / JOURNAL_NAME
    path.write_bytes(path.read_bytes().replace(b"24-series", b"25-series"))
    return run("verify", job, code=1)


def test_hostile_texts_are_listed_as_text(run, tmp_path):
    texts = "=1+1" + HOSTILE.replace("\ud800", "").replace("\x00", "")
    job = run("new", "--part", texts, "--patient", "[red]b[/red]").strip()
    assert load_job(tmp_path / "jobs" / job).opened.part == texts
    (row,) = csv.DictReader(io.StringIO(run("list", "--form", "csv")))
    assert row["part"].startswith("'=1+1<script>")
    assert "[U+202E]" in row["part"]
    assert json.loads(run("list", "--form", "jsonl"))["part"] == texts
    shown = run("list")
    assert "[red]b[/red]" in shown
    assert "\x1b" not in shown


@pytest.mark.parametrize(
    "name",
    [
        "..\u202egpj.exe.jpg",
        "two\nlines\x1b[31m.jpg",
        "x" * 240 + ".jpg",
        "=1+1.jpg",
        "<script>alert(1)<script>.jpg",
        "${7*7}{{7*7}}.jpg",
        "'; DROP TABLE jobs; --.jpg",
    ],
)
def test_hostile_file_names_lead_nowhere(run, job, tmp_path, name):
    try:
        photo = make_photo(tmp_path / name)
    except OSError:
        pytest.skip("this file system takes no such name")
    said = run("add", job, photo, "--stage", "before")
    assert all(line.isprintable() for line in said.splitlines())
    folder = tmp_path / "jobs" / job
    assert load_job(folder).photos[0].event.name == name
    report_command(job, home=tmp_path / "jobs", out=tmp_path / "report.html")
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert not set(page) & set("\u202e\x1b\x00")
    run("export", job, tmp_path / "bag", "--originals")
    for stored in (*folder.rglob("*"), *(tmp_path / "bag").rglob("*")):
        assert re.fullmatch(r"[\w.-]+", stored.name, flags=re.ASCII), stored


def test_a_narrow_window_shows_the_job_whole(run, job, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    assert job in run("list")
