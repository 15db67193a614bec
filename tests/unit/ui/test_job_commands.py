"""The job commands from opening a job to its export."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

import ui.checker
from tests.unit.record.helpers import fake_checker, make_photo
from tests.unit.report.helpers import HOSTILE
from tests.unit.ui.conftest import plain
from ui import job_commands
from ui.job_commands import app, report_command
from ui.record import load_job
from ui.record.journal import JOURNAL_NAME
from ui.words import DO_NOT_POWER


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


def test_a_row_that_was_named_wrongly_is_named_anew(run, job, tmp_path):
    side = ("add", job, make_photo(tmp_path / "side.jpg"), "--stage", "side")
    run(*side, "--leads", "1-4")
    said = run(*side, "--leads", "5-8", code=4)
    assert "shows leads 1-4; to name another row add --replaces 2" in said
    run(*side, "--leads", "5-8", "--replaces", "2")
    (photo,) = load_job(tmp_path / "jobs" / job).side_photos()
    assert photo.event.leads == (5, 8)
    before = (*side[:-1], "before")
    assert "two stages cannot share one photo" in run(*before, code=4)


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


def test_a_stop_comes_with_its_caution(run, job, tmp_path, monkeypatch):
    monkeypatch.setattr(ui.checker, "tool_checker", lambda _: fake_checker("stop"))
    for shade, stage in ((10, "before"), (90, "after")):
        run("add", job, make_photo(tmp_path / f"{stage}.jpg", shade), "--stage", stage)
    assert DO_NOT_POWER in run("check", job, code=1)
    assert DO_NOT_POWER in run("decide", job, "check-by-hand")
    said = run("decide", job, "no-fault-seen", "--why", "seen under the microscope")
    assert DO_NOT_POWER in said
    assert "a second person has to review that before the board is powered" in said
    accepted = run("review", job, "accept", "--by", "Bo")
    assert DO_NOT_POWER not in accepted
    assert "a second person" not in accepted
    run("undo", job, "--by", "Bo")
    overruled = ("review", job, "overrule", "stop", "--by", "Bo", "--why", "crack")
    assert DO_NOT_POWER in run(*overruled)


def test_a_board_without_a_stop_comes_with_no_caution(run, job, tmp_path, monkeypatch):
    monkeypatch.setattr(ui.checker, "tool_checker", lambda _: fake_checker())
    for shade, stage in ((10, "before"), (90, "after")):
        run("add", job, make_photo(tmp_path / f"{stage}.jpg", shade), "--stage", stage)
    assert DO_NOT_POWER not in run("check", job)
    assert DO_NOT_POWER not in run("decide", job, "no-fault-seen")
    assert DO_NOT_POWER in run("decide", job, "stop", "--why", "crack")


def test_a_stop_that_a_second_photo_outvotes_is_told(run, job, tmp_path, monkeypatch):
    said = ["stop", "no-fault-seen"]
    monkeypatch.setattr(ui.checker, "tool_checker", lambda _: fake_checker(said.pop(0)))
    for shade, stage in ((10, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        assert "no longer counts" not in run("add", job, photo, "--stage", stage)
    run("check", job, code=1)
    second = make_photo(tmp_path / "second.jpg", 200)
    added = run("add", job, second, "--stage", "after")
    assert "event 3 no longer counts for the stage after" in added
    outvoted = (
        "an earlier photo of the stage after (event 3) was judged stop; it no longer "
        "counts"
    )
    assert outvoted in run("check", job)
    assert "was judged stop" in run("decide", job, "no-fault-seen", code=4)
    assert outvoted in run("decide", job, "no-fault-seen", "--why", "bridge taken out")


def test_help_says_when_a_reason_is_needed(run):
    said = " ".join(run("decide", "--help").split())
    assert (
        "reason is needed for no-fault-seen against the tool or after an earlier stop"
        in said
    )


def test_being_more_careful_than_the_tool_needs_no_reason(
    run, job, tmp_path, monkeypatch
):
    monkeypatch.setattr(ui.checker, "tool_checker", lambda _: fake_checker())
    for shade, stage in ((10, "before"), (90, "after")):
        run("add", job, make_photo(tmp_path / f"{stage}.jpg", shade), "--stage", stage)
    run("check", job)
    assert "decided" in run("decide", job, "stop")


@pytest.mark.parametrize("what", ["mistyped", "file"])
def test_a_folder_that_is_not_there_lists_no_jobs(run, job, tmp_path, what):
    (tmp_path / "file").write_text("x")
    seen = "this is a file" if what == "file" else "there is no such folder"
    assert f"{what}: {seen}" in run("list", "--jobs", tmp_path / what, code=4)
    assert job in run("list")


def test_the_usual_folder_may_still_have_to_be_made(run, tmp_path, monkeypatch):
    monkeypatch.delenv("DOTWARD_JOBS")
    monkeypatch.setattr(Path, "home", lambda: tmp_path / "someone")
    assert "step" in run("list")
    assert not (tmp_path / "someone").exists()


@pytest.mark.parametrize("value", ["x", "-1", "0", "1.5", "\u0663"])
def test_an_event_that_is_replaced_is_named_by_its_number(run, job, tmp_path, value):
    photo = make_photo(tmp_path / "a.jpg")
    words = ("add", job, photo, "--stage", "before", "--replaces", value)
    assert "is no event; write the number" in plain(run(*words, code=2))
    assert not load_job(tmp_path / "jobs" / job).photos


def test_an_event_that_is_none_is_answered_with_those_that_may_be_named(
    run, job, tmp_path
):
    first, second = (make_photo(tmp_path / f"{n}.jpg", n) for n in (10, 90))
    add = ("add", job, first, "--stage", "before", "--replaces", "9")
    assert "there is none to replace" in run(*add, code=4)
    undone = run("undo", job, "--event", "9", code=4)
    assert "none does, so there is nothing to take back" in undone
    run(*add[:-2])
    asked = run("add", job, second, *add[3:], code=4)
    assert "name one of these: 2." in asked


@pytest.mark.parametrize(
    "words",
    [
        ("list", "--jobs", ""),
        ("add", "JOB", "", "--stage", "before"),
        ("export", "JOB", " "),
    ],
)
def test_an_empty_name_is_not_this_folder(run, job, words):
    given = [job if word == "JOB" else word for word in words]
    assert "the name is empty" in plain(run(*given, code=2))


@pytest.fixture
def report(run, job, tmp_path):
    command = typer.Typer()
    command.command()(report_command)

    def run_report(out):
        words = [job, "--jobs", str(tmp_path / "jobs"), "--out", str(out)]
        result = CliRunner().invoke(command, words)
        return result.exit_code, plain(result.output)

    return run_report


def test_a_report_is_of_the_kind_that_its_name_says(report, tmp_path):
    code, _ = report(tmp_path / "r.HTML")
    assert code == 0
    assert (tmp_path / "r.HTML").read_bytes().startswith(b"<!doctype html>")
    (tmp_path / "S").mkdir()
    for name, said in (
        ("S", "this is a folder; a file that ends in .html or .pdf is needed"),
        ("r", "the name has no ending; a file that ends in .html or .pdf"),
        ("r.png", "the name ends in '.png'; a file that ends in .html or .pdf"),
    ):
        code, told = report(tmp_path / name)
        assert code == 2
        assert said in told
    assert "the name is empty" in report("")[1]


def test_a_place_that_cannot_be_is_named_and_no_disk_is_blamed(run, report, tmp_path):
    file = tmp_path / "file"
    file.write_text("x")
    said = {
        place: report(place)
        for place in (tmp_path / "none" / "r.pdf", tmp_path / "file" / "r.pdf")
    }
    new = ("new", "--part", "x", "--patient", "y", "--jobs", file)
    said[file] = (4, plain(run(*new, code=4)))
    for place, (code, words) in said.items():
        assert code == 4
        assert words.startswith(f"{place}: ")
        assert "Name another place" in words
        assert "Check the disk" not in words


def test_no_report_is_written_among_the_files_of_a_job(report, job, tmp_path):
    folder = tmp_path / "jobs" / job
    (folder / "reports").mkdir()
    sealed = folder / "reports" / "report-7-0123.html"
    sealed.write_bytes(b"sealed")
    (tmp_path / "way").symlink_to(folder)
    for out in (sealed, folder / "new.pdf", tmp_path / "way" / "x.html"):
        code, said = report(out)
        assert code == 2
        assert "name a file outside it" in said
    assert sealed.read_bytes() == b"sealed"
    assert len(list(folder.glob("*.*"))) == 2


def test_a_report_of_a_changed_photo_says_so_and_does_not_end_well(
    run, report, job, tmp_path
):
    run("add", job, make_photo(tmp_path / "a.jpg"), "--stage", "before")
    (photo,) = (tmp_path / "jobs" / job / "photos").iterdir()
    photo.chmod(0o644)
    photo.write_bytes(b"x")
    code, said = report(tmp_path / "r.html")
    assert code == 4
    assert "PROBLEM the before photo of event 2 was changed" in said


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


def test_a_list_is_whole_or_says_how_much_of_it_is_shown(run, monkeypatch):
    monkeypatch.setattr(job_commands, "MOST_IN_TABLE", 2)
    for part in "abc":
        run("new", "--part", part, "--patient", "board")
    assert "2 of 3 jobs shown" in run("list")
    assert "3 of 3 jobs shown" in run("list", "--limit", 9)
    assert len(run("list", "--form", "jsonl").splitlines()) == 3
    assert len(list(csv.DictReader(io.StringIO(run("list", "--form", "csv"))))) == 3
    assert len(run("list", "--form", "jsonl", "--limit", 1).splitlines()) == 1


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
