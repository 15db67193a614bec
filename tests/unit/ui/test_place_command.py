"""``dotward place`` and ``dotward tags``: lines, exit codes, folders that fill."""

from __future__ import annotations

import os
import threading
import types
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from ui import place_command
from ui.cli import app
from ui.place_command import watched
from vision import placing
from vision.errors import PhotoError
from vision.place import Move
from vision.results import NotFound, WrongWay

STILL = Move(dx_mm=0.0, dy_mm=0.0, turn_deg=0.0, u_mm=0.03, u_deg=0.2)
AWAY = Move(dx_mm=0.3, dy_mm=0.0, turn_deg=0.0, u_mm=0.03, u_deg=0.2)
BLURRED = Move(dx_mm=0.05, dy_mm=0.0, turn_deg=0.0, u_mm=0.3, u_deg=0.2)


@pytest.fixture
def run(monkeypatch):
    def begin(path: Path):
        if "cut" in path.name:
            message = f"{path.name}: ends early; take it again."
            raise PhotoError(message)
        return types.SimpleNamespace()

    def frame(_, path: Path):
        if "cut" in path.name:
            message = f"{path.name}: ends early; take it again."
            raise PhotoError(message)
        if "turned" in path.name:
            return WrongWay(180)
        if "quarter" in path.name:
            return WrongWay(270)
        if "hand" in path.name:
            return NotFound(reason="lost sight of the board or chip; hold still")
        if "blurred" in path.name:
            return BLURRED
        return STILL if "there" in path.name else AWAY

    monkeypatch.setattr(placing, "begin_placing", begin)
    monkeypatch.setattr(placing, "place_frame", frame)
    runner = CliRunner()
    return lambda *args: runner.invoke(app, ["place", *map(str, args)])


@pytest.mark.parametrize(
    ("frames", "code", "said"),
    [
        (["away.png"], 1, "away.png: move 0.30 mm right"),
        (["away.png", "there.png"], 0, "there.png: hold: in place"),
        (["there.png", "turned.png"], 1, "turned.png: the chip lies the wrong way"),
        (["quarter.png"], 1, "turn it by 90° clockwise first"),
        (["there.png", "hand.png"], 3, "hand.png: wait: lost sight"),
        (["blurred.png"], 3, "wait: this picture tells the place only to ± 0.30 mm"),
        (["there.png", "cut.png"], 4, "ends early"),
    ],
)
def test_a_line_a_picture_and_the_last_one_counts(run, frames, code, said) -> None:
    outcome = run("before.png", *frames)
    assert outcome.exit_code == code
    assert said in outcome.output


def test_an_unusable_before_photo_ends_it(run) -> None:
    outcome = run("cut.png", "away.png")
    assert outcome.exit_code == 4
    assert "cut.png" in outcome.output


def test_pictures_or_a_folder_but_not_both(run, tmp_path) -> None:
    assert run("before.png").exit_code == 2
    assert run("before.png", "a.png", "--watch", tmp_path).exit_code == 2
    outcome = run("before.png", "--watch", tmp_path / "none")
    assert outcome.exit_code == 2
    assert "not a" in outcome.output


def test_a_folder_that_goes_away_is_said(tmp_path) -> None:
    folder = tmp_path / "pictures"
    folder.mkdir()
    coming = watched(folder)
    (folder / "a.png").write_bytes(b"a")
    next(coming)
    (folder / "a.png").unlink()
    folder.rmdir()
    with pytest.raises(typer.BadParameter, match="cannot be read any more"):
        next(coming)


def test_a_folder_gives_its_newest_picture_and_then_every_new_one(
    tmp_path, monkeypatch
) -> None:
    monkeypatch.setattr(place_command, "LOOK_EVERY_S", 0.005)
    for age, name in ((200, "old.png"), (100, "last.jpg"), (50, "notes.txt")):
        (tmp_path / name).write_bytes(b"x")
        stamp = (tmp_path / name).stat().st_mtime - age
        os.utime(tmp_path / name, (stamp, stamp))
    pictures = watched(tmp_path)
    assert next(pictures).name == "last.jpg"
    drop = threading.Timer(0.02, (tmp_path / "new.png").write_bytes, [b"y"])
    drop.start()
    assert next(pictures).name == "new.png"
    drop.join()


def test_a_picture_that_changes_or_grows_is_given_again(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(place_command, "LOOK_EVERY_S", 0.005)
    live = tmp_path / "live.png"
    live.write_bytes(b"first")
    pictures = watched(tmp_path)
    assert next(pictures) == live
    for change in (lambda: live.write_bytes(b"first, whole"), lambda: os.utime(live)):
        drop = threading.Timer(0.02, change)
        drop.start()
        assert next(pictures) == live
        drop.join()


def test_watching_stops_after_so_many_frames(run, tmp_path) -> None:
    (tmp_path / "there.png").write_bytes(b"x")
    outcome = run("before.png", "--watch", tmp_path, "--frames", 1)
    assert outcome.exit_code == 0
    assert outcome.output.count("\n") == 1


def test_the_sheet_of_tags_is_written_where_it_is_wanted(tmp_path) -> None:
    outcome = CliRunner().invoke(app, ["tags", "--out", str(tmp_path)])
    assert outcome.exit_code == 0
    assert (tmp_path / "dotward-tags.pdf").read_bytes().startswith(b"%PDF")
    assert "100 %" in outcome.output
    (tmp_path / "file").write_text("x")
    outcome = CliRunner().invoke(
        app, ["tags", "--out", str(tmp_path / "file" / "a.pdf")]
    )
    assert outcome.exit_code == 4
    assert "cannot be written" in outcome.output
    assert "or name another place" in outcome.output
