"""``dotward look --stage pads``: lines, JSON, pictures, exit codes."""

from __future__ import annotations

import json
import re

import cv2
import pytest
from typer.testing import CliRunner

from tests.unit.test_pads import MARK, drawn
from ui import pads_command
from ui.cli import app

PAD_MARK = ",".join(map(str, MARK))
BOARD_MARK = "2,2,50,50"


@pytest.fixture
def run(tmp_path):
    def invoke(share, *args, stage="pads"):
        path = tmp_path / "board.png"
        cv2.imwrite(str(path), drawn(share)[0])
        return CliRunner().invoke(app, ["look", str(path), "--stage", stage, *args])

    return invoke


def test_the_share_is_said_with_how_to_clean(run):
    result = run(0.4, "--mark", PAD_MARK)
    assert result.exit_code == 0
    truth = drawn(0.4)[1]
    share, spread = re.search(r"Pad 1: (\d+) ± (\d+) % of", result.output).groups()
    assert abs(int(share) - 100 * truth) <= int(spread) + 1
    assert "isopropyl alcohol" in result.output
    assert "No eraser, fibre pen or other abrasive on thin gold" in result.output
    assert "A note, not a fault" in result.output


def test_a_clean_pad_asks_for_no_cleaning(run):
    result = run(0.0, "--mark", PAD_MARK)
    assert result.exit_code == 0
    assert "no stain beyond 3 % of the metal" in result.output
    assert "Next:" not in result.output


def test_one_mark_that_cannot_be_measured_is_told(run):
    result = run(0.4, "--mark", PAD_MARK, "--mark", BOARD_MARK)
    assert result.exit_code == 3
    assert "Pad 2: cannot tell: 0 px stand out" in result.output
    assert "even light" in result.output


def test_json_is_the_line_of_look_with_the_pads(run):
    args = ("--mark", PAD_MARK, "--mark", BOARD_MARK, "--jsonl")
    line = json.loads(run(0.4, *args).output)
    assert line["format"] == "dotward.look/1"
    assert line["packages"] == []
    first, second = line["pads"]
    assert first["mark_px"] == list(MARK)
    assert first["state"] == "ok"
    assert 0 < first["u_frac"] < first["stained_frac"] < 1
    assert (second["state"], "stained_frac" in second) == ("unsure", False)
    assert second["reasons"]


def test_a_stain_is_never_a_fault(run):
    assert run(0.9, "--mark", PAD_MARK).exit_code == 0


def test_marks_and_stains_are_drawn(run, tmp_path):
    shown = []
    for share in (0.0, 0.4):
        folder = tmp_path / str(share)
        run(share, "--mark", PAD_MARK, "--mark", BOARD_MARK, "--draw", str(folder))
        shown.append(cv2.imread(str(folder / "board_pads.jpg")))
    clean, stained = shown
    assert clean is not None
    assert stained is not None
    assert clean.shape != stained.shape or (clean != stained).any()


def test_a_drawing_that_cannot_be_written_is_said_after_the_answer(
    run, tmp_path, monkeypatch
):
    def refuse(*_, **__):
        raise OSError(28, "No space left on device", "board_pads.jpg")

    monkeypatch.setattr(pads_command, "save_pads", refuse)
    result = run(0.4, "--mark", PAD_MARK, "--draw", str(tmp_path / "out"))
    assert result.exit_code == 4
    assert "isopropyl alcohol" in result.stdout
    assert "board_pads.jpg: No space left on device. Check" in result.stderr


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((), "mark at least one pad"),
        (("--mark", "1,2,3"), "is no mark"),
        (("--mark", "a,b,c,d"), "is no mark"),
        (("--mark", "nan,2,30,40"), "is no mark"),
        (("--mark", "10,10,10,40"), "is no mark"),
        (("--mark", "10,10,9000,40"), "which has 320 x 240 px"),
        (("--mark", "-5,10,40,40"), "-5,10 lies outside"),
    ],
)
def test_marks_that_are_none_are_refused(run, args, said):
    result = run(0.0, *args)
    assert result.exit_code == 2
    assert said in re.sub(r"[\s│]+", " ", result.output)


@pytest.mark.parametrize("stage", ["chip", "lands", "side"])
def test_marks_go_with_pads_alone(run, stage):
    assert run(0.0, "--mark", PAD_MARK, stage=stage).exit_code == 2


def test_a_photo_that_is_not_there_is_told(tmp_path):
    args = ["look", str(tmp_path / "no.jpg"), "--stage", "pads", "--mark", PAD_MARK]
    result = CliRunner().invoke(app, args)
    assert result.exit_code == 4


def test_marks_lie_in_one_photo(tmp_path):
    args = ["look", "a.jpg", "b.jpg", "--stage", "pads", "--mark", PAD_MARK]
    assert CliRunner().invoke(app, args).exit_code == 2
