"""The commands: what they print, in which order, and what the exit code says."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import cv2
import pytest
from PIL import Image

from tests.unit.ui.conftest import lines, make, plain
from ui import cli

ROOT = Path(cli.__file__).resolve().parent.parent


def test_a_person_reads_the_answer_first(run):
    make("a.jpg")
    code, out, err = run("look", "a.jpg")
    assert code == 0
    assert err == ""
    first, second, *rest = out.splitlines()
    assert first == "a.jpg"
    assert second.startswith("  Pin 1: lower left corner, sure to 99.7 %: dimple")
    assert any(line.startswith("  Next: ") for line in rest)


def test_lines_come_in_the_order_given_and_the_rest_go_on(run):
    make("a.jpg", "cut.jpg", "odd.jpg", "doubt.jpg")
    code, out, err = run("look", "doubt.jpg", "cut.jpg", "odd.jpg", "a.jpg", "--jsonl")
    found = lines(out)
    names = [row["photo"]["file"] for row in found]
    assert names == ["doubt.jpg", "cut.jpg", "odd.jpg", "a.jpg"]
    assert found[1]["error"] == {
        "code": "photo",
        "message": "cut.jpg: ends early; take it from the camera again.",
    }
    assert found[2]["error"]["code"] == "internal"
    assert "packages" in found[3]
    assert "cut.jpg: ends early" in err
    assert code == 4


@pytest.mark.parametrize(
    ("name", "code"), [("a.jpg", 0), ("doubt.jpg", 3), ("cut.jpg", 4)]
)
def test_the_exit_code_of_one_photo(run, name, code):
    make(name)
    assert run("look", name, "--jsonl")[0] == code


def test_folders_and_patterns_stand_for_their_photos(run):
    make("board/b.jpg", "board/a.PNG", "board/notes.txt", "c1.jpg", "c2.jpg")
    _, out, _ = run("look", "board", "c*.jpg", "--jsonl")
    names = [Path(row["photo"]["file"]).name for row in lines(out)]
    assert names == ["a.PNG", "b.jpg", "c1.jpg", "c2.jpg"]


def test_a_name_with_brackets_is_a_file_if_it_is_one(run):
    make("a[1].jpg")
    _, out, _ = run("look", "a[1].jpg", "--jsonl")
    assert lines(out)[0]["photo"]["file"] == "a[1].jpg"
    assert "error" not in lines(out)[0]


@pytest.mark.parametrize("name", ["nothing*.jpg", "empty"])
def test_what_stands_for_no_photo_is_an_error_line(run, name):
    Path("empty").mkdir()
    code, out, _ = run("look", name, "--jsonl")
    assert code == 4
    assert lines(out)[0]["photo"]["file"] == name
    assert lines(out)[0]["error"]["code"] == "photo"


@pytest.mark.parametrize("options", [["--jsonl"], ["--jsonl", "--stage", "lands"]])
def test_a_name_that_cannot_be_looked_up_leaves_the_others(run, options):
    make("a.jpg")
    code, out, err = run("look", "a.jpg", "a" * 300 + ".jpg", "a.jpg", *options)
    assert code == 4
    assert len(lines(out)) == 3
    assert lines(out)[1]["error"]["code"] == "photo"
    assert "File name too long" in err
    assert "Check the name" in err


def test_a_folder_without_rights_leaves_the_others(run, monkeypatch):
    make("a.jpg", "shut/b.jpg")

    def refuse(path):
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr(Path, "iterdir", refuse)
    code, out, err = run("look", "shut", "a.jpg", "--jsonl")
    assert code == 4
    assert [row["photo"]["file"] for row in lines(out)] == ["shut", "a.jpg"]
    assert "shut: it cannot be read (Permission denied). Check" in err


@pytest.mark.parametrize("suffix", ["tif", "webp", "png"])
def test_of_several_pictures_in_a_file_the_first_is_named(run, suffix):
    first, *others = (Image.new("RGB", (60, 40), (k, 0, 0)) for k in (10, 90, 200))
    name = f"pages.{suffix}"
    first.save(name, save_all=True, append_images=others)
    make("one.jpg")
    said = f"{name}: the first of 3 pictures in this file was looked at"
    assert said in run("look", name)[1]
    assert said in run("compare", "one.jpg", name)[1]
    first.save(name)
    assert "the first of" not in run("look", name)[1]
    assert "the first of" not in run("look", "one.jpg")[1]


def test_look_draws_one_picture_a_photo_even_with_equal_names(run):
    make("one/a.jpg", "twice/a.jpg")
    code, out, err = run("look", "one/a.jpg", "twice/a.jpg", "--draw", "out")
    assert code == 0
    first = Path("out/a_look.jpg")
    assert first.exists()
    assert cv2.imread(str(first)).shape[2] == 3
    assert len(list(Path("out").iterdir())) == 2
    assert err.count("drawn: ") == 2
    assert "drawn: " not in out


def test_pin_names_of_a_trade_standard(run):
    make("a.jpg")
    _, out, _ = run("look", "a.jpg", "--pinout", "24xx")
    assert "1 A0, 2 A1, 3 A2, 4 GND" in out


def test_a_pinout_file_that_cannot_be_read_is_a_mistake_in_the_command(
    run, monkeypatch
):
    make("a.jpg", "good.jpg", "own.toml")

    def refuse(name):
        raise PermissionError(errno.EACCES, "Permission denied", name)

    monkeypatch.setattr("vision.pinouts.load_pinout", refuse)
    for words in (("look", "a.jpg"), ("compare", "a.jpg", "good.jpg")):
        code, out, err = run(*words, "--pinout", "own.toml")
        assert (code, out) == (2, "")
        assert "own.toml: Permission denied. Check the rights" in plain(err)


@pytest.mark.parametrize(
    "words",
    [
        ("look", "a.jpg", "--jsonl"),
        ("compare", "a.jpg", "good.jpg", "--json"),
        ("compare", "a.jpg", "good.jpg", "--jsonl", "--draw", "out"),
    ],
)
def test_pin_names_that_json_would_leave_out_are_refused(run, words):
    make("a.jpg", "good.jpg")
    code, out, err = run(*words, "--pinout", "24xx")
    assert code == 2
    assert out == ""
    assert "no place for them" in plain(err)


def test_pin_names_are_drawn_beside_json(run):
    make("a.jpg")
    code, out, _ = run("look", "a.jpg", "--jsonl", "--pinout", "24xx", "--draw", "out")
    assert code == 0
    assert len(lines(out)) == 1


def test_an_unknown_pinout_is_a_mistake_in_the_command(run):
    make("a.jpg")
    code, out, err = run("look", "a.jpg", "--pinout", "nothing-like-it")
    assert code == 2
    assert out == ""
    assert "24xx" in err


@pytest.mark.parametrize(
    "words",
    [
        ("compare", "a.jpg"),
        ("compare",),
        ("compare", "a.jpg", "b.jpg", "--pairs", "x"),
        ("look",),
        ("look", "a.jpg", "--no-such-option"),
        ("look", "a.jpg", "--package", "SOIC-8"),
        ("nonsense",),
    ],
)
def test_a_command_that_is_not_understood(run, words):
    code, out, err = run(*words)
    assert code == 2
    assert out == ""
    assert "Usage" in err


def test_a_folder_that_cannot_be_made_is_said_before_any_work(run):
    make("a.jpg", "file")
    code, out, err = run("look", "a.jpg", "--draw", "file/inside")
    assert code == 2
    assert out == ""
    assert "cannot be made" in err
    assert "--draw" in err
    assert "Name a folder" in plain(err)
    assert "--out" in run("demo", "--out", "file/inside")[2]


@pytest.mark.parametrize(
    "words",
    [
        ("look", ""),
        ("look", "a.jpg", ""),
        ("look", "a.jpg", "--draw", ""),
        ("demo", "--out", ""),
        ("tags", "--out", ""),
        ("page", "--lan", "--address", ""),
    ],
)
def test_an_empty_name_is_not_this_folder(run, words):
    make("a.jpg")
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert "the name is empty" in plain(err)
    assert [path.name for path in Path().iterdir()] == ["a.jpg"]


@pytest.mark.parametrize("stage", ["lands", "side", "pads"])
def test_pin_names_belong_to_a_chip_seen_from_above(run, stage):
    make("a.jpg")
    code, out, err = run("look", "a.jpg", "--stage", stage, "--pinout", "24xx")
    assert (code, out) == (2, "")
    assert "it names the pins of a chip seen from above" in plain(err)


def test_what_is_passed_over_in_a_folder_is_said(run):
    make("board/a.jpg", "board/.hidden", "board/notes.txt")
    _, out, err = run("look", "board", "--jsonl")
    assert len(lines(out)) == 1
    assert err == "board: 1 file passed over that is no photo\n"
    make("board/b.md", "board/c.md", "board/more/d.jpg")
    _, _, err = run("look", "board", "--jsonl")
    assert "board: 3 files passed over that are no photos" in err
    assert "board: folders in it that are not looked into: 1; name them" in err


@pytest.mark.parametrize("name", ["t.png", "t", "t.pdf.txt"])
def test_the_sheet_of_tags_is_a_pdf(run, name):
    code, _, err = run("tags", "--out", name)
    assert code == 2
    assert "name a file that ends in .pdf" in plain(err)
    assert not Path(name).exists()
    assert run("tags", "--out", "t.PDF")[0] == 0


def test_an_interrupt_is_neither_a_fault_nor_a_traceback(run, monkeypatch):
    def stop(_path):
        raise KeyboardInterrupt

    make("a.jpg")
    monkeypatch.setattr(sys.modules["vision.pipeline"], "look", stop)
    assert run("look", "a.jpg")[0] == 130


def test_a_file_name_cannot_write_to_the_terminal(run):
    make("a\x1b(0b.jpg")
    code, out, _ = run("look", "a\x1b(0b.jpg")
    assert code == 0
    assert "\x1b" not in out


def test_help_loads_no_heavy_library():
    program = (
        "import sys; sys.argv = ['dotward', '--help']\n"
        "from ui.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "heavy = {'cv2', 'onnxruntime', 'skimage', 'scipy', 'gradio', 'rapidocr'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env={**os.environ, "COLUMNS": "100"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "HEAVY []" in done.stdout
    for command in ("look", "compare", "demo"):
        assert command in done.stdout
