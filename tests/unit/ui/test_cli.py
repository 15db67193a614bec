"""The commands: what they print, in which order, and what the exit code says."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import types
from pathlib import Path

import cv2
import pytest
from PIL import Image
from PIL.ExifTags import Base

from tests.unit.ui.reports import (
    not_registered,
    package,
    pair_report,
    photo,
    photo_report,
    turned,
    unsure,
)
from ui import cli
from vision.errors import PhotoError
from vision.results import Finding

ROOT = Path(cli.__file__).resolve().parent.parent


def fake_look(path):
    """Answer by the file's name, so that a test reads like its photos."""
    name = Path(path).name
    if "cut" in name:
        raise PhotoError(f"{name}: ends early; take it from the camera again.")
    if "odd" in name:
        message = "nobody thought of this"
        raise ZeroDivisionError(message)
    found = unsure() if "doubt" in name else None
    return photo_report(package(found), shown=photo(str(path), value=len(str(path))))


def fake_compare(before, after, **_asked):
    name = Path(after).name
    if "cut" in name:
        raise PhotoError(f"{name}: ends early; take it from the camera again.")
    if "turned" in name:
        return turned()
    if "far" in name:
        return not_registered()
    if "good" in name:
        return pair_report(
            checks={"lands": Finding(state="ok")}, decision="no-fault-seen"
        )
    return pair_report()


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    pipeline = types.ModuleType("vision.pipeline")
    pipeline.look, pipeline.compare = fake_look, fake_compare
    monkeypatch.setitem(sys.modules, "vision.pipeline", pipeline)
    monkeypatch.chdir(tmp_path)

    def run_command(*words):
        monkeypatch.setattr(sys, "argv", ["dotward", *map(str, words)])
        with pytest.raises(SystemExit) as stop:
            cli.main()
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return int(stop.value.code or 0), out, err

    return run_command


def make(*names):
    for name in names:
        Path(name).parent.mkdir(parents=True, exist_ok=True)
        Path(name).write_bytes(b"x")


def lines(out):
    return [json.loads(line) for line in out.splitlines()]


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


def test_an_unknown_pinout_is_a_mistake_in_the_command(run):
    make("a.jpg")
    code, out, err = run("look", "a.jpg", "--pinout", "nothing-like-it")
    assert code == 2
    assert out == ""
    assert "24xx" in err


@pytest.mark.parametrize(
    ("after", "code", "said"),
    [
        ("good.jpg", 0, "No fault seen"),
        ("turned.jpg", 1, "Stop: the chip is turned by 180 degrees"),
        ("plain.jpg", 3, "Check by hand"),
        ("far.jpg", 3, "Take the photo again"),
    ],
)
def test_a_pair_in_words(run, after, code, said):
    found, out, _ = run("compare", "before.jpg", after)
    assert found == code
    assert said in out.splitlines()[1]


def test_a_turned_chip_warns_against_power(run):
    _, out, _ = run("compare", "before.jpg", "turned.jpg")
    assert "Caution: Do not power the board" in out


def test_one_pair_as_json(run):
    code, out, _ = run("compare", "before.jpg", "turned.jpg", "--json")
    assert code == 1
    assert lines(out)[0]["orientation"]["turn_deg"] == 180
    assert "pair" not in lines(out)[0]


def test_a_list_of_pairs_keeps_names_and_order(run):
    make("near/good.jpg")
    rows = [
        {"pair": "0002", "before": "b.jpg", "after": "turned.jpg"},
        {"pair": "0001", "before": "b.jpg", "after": "cut.jpg"},
        {"pair": "0003", "before": "b.jpg", "after": "good.jpg"},
    ]
    Path("near/list.jsonl").write_text("\n".join(map(json.dumps, rows)) + "\n\n")
    code, out, _ = run("compare", "--pairs", "near/list.jsonl", "--jsonl")
    found = lines(out)
    assert [row["pair"] for row in found] == ["0002", "0001", "0003"]
    assert found[0]["decision"] == "stop"
    assert found[1]["error"]["code"] == "photo"
    assert found[2]["decision"] == "no-fault-seen"
    assert code == 4


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no pair"),
        ("{}", "line 1"),
        ('{"pair": "1"}\n', "line 1"),
        ("[1]", "line 1"),
    ],
)
def test_a_broken_list_of_pairs_says_where(run, text, said):
    Path("list.jsonl").write_text(text)
    code, out, err = run("compare", "--pairs", "list.jsonl", "--jsonl")
    assert code == 4
    assert out == ""
    assert said in err


def test_a_package_is_named_for_all_pairs_or_for_one_in_the_list(run, monkeypatch):
    asked = []

    def compare(*_, named, **__):
        asked.append({f"{v.family}-{v.lead_count}" for v in named})
        return pair_report()

    monkeypatch.setattr(sys.modules["vision.pipeline"], "compare", compare)
    row = {"before": "b.jpg", "after": "good.jpg"}
    rows = [row, row | {"package": "TSSOP-20"}, row | {"package": "SOIC-9"}]
    Path("list.jsonl").write_text("\n".join(map(json.dumps, rows)))
    code, _, err = run("compare", "--pairs", "list.jsonl", "--jsonl")
    assert (code, asked) == (4, [set(), {"TSSOP-20"}])
    assert "package SOIC-9: not in the tables; nearest: SOIC-8, " in err
    run("compare", "b.jpg", "good.jpg", "--package", "soic-8")
    assert asked[2:] == [{"SOIC-8"}]
    code, _, err = run("compare", "b.jpg", "good.jpg", "--package", "SOIC9")
    assert code == 2
    assert "nearest: SOIC-8" in err


@pytest.fixture
def sized(run):
    """Give a photo before of 300 x 200 px when upright, on its side in its file."""
    exif = Image.Exif()
    exif[Base.Orientation] = 6
    Image.new("RGB", (200, 300)).save("before.jpg", exif=exif)
    return run


@pytest.mark.parametrize(
    ("option", "value", "outside"),
    [
        ("--at", "301,100", "301,100"),
        ("--at", "100,-1", "100,-1"),
        ("--at", "nan,1", "nan,1"),
        ("--ruler", "10,10 10,290 5", "10,290"),
    ],
)
def test_a_place_outside_the_photo_is_refused_with_its_size(
    sized, option, value, outside
):
    code, out, err = sized("compare", "before.jpg", "good.jpg", option, value)
    assert (code, out) == (2, "")
    assert f"{outside} lies outside before.jpg, which has 300 x 200 px" in err


@pytest.mark.parametrize(
    ("option", "value"), [("--at", "299,199"), ("--ruler", "1,1 290,190 10")]
)
def test_a_place_in_the_photo_is_asked_for(sized, option, value):
    assert sized("compare", "before.jpg", "good.jpg", option, value)[0] == 0


def test_a_photo_that_is_not_there_is_told_by_the_comparison(run):
    code, _, err = run("compare", "b.jpg", "cut.jpg", "--at", "9999,1")
    assert code == 4
    assert "cut.jpg: ends early" in err


@pytest.mark.parametrize(
    ("option", "value", "why"),
    [
        ("--at", "1,2", "points into one photo"),
        ("--ruler", "1,2 3,4 5", "a line of the list cannot hold them"),
        ("--lands", "lands.jpg", "the lands of one board"),
        ("--side", "side.jpg:1-4", "the feet of one chip"),
    ],
)
def test_what_belongs_to_one_pair_is_refused_for_many(run, option, value, why):
    row = json.dumps({"before": "b.jpg", "after": "good.jpg"})
    Path("list.jsonl").write_text(f"{row}\n{row}\n")
    code, out, err = run("compare", "--pairs", "list.jsonl", option, value)
    assert (code, out) == (2, "")
    assert f"{why}: compare one pair" in err


def test_the_limits_that_a_person_chooses_judge_the_pair(run, monkeypatch):
    given = []
    pipeline = sys.modules["vision.pipeline"]
    monkeypatch.setattr(
        pipeline, "compare", lambda *_, limits, **__: given.append(limits) or turned()
    )
    Path("own.toml").write_text(
        "[side_overhang.gull_wing.quay]\nmax_mm = 0.05\nsource = 'rule 7'\n"
    )
    pair = ("compare", "before.jpg", "after.jpg")
    run(*pair)
    run(*pair, "--limits", "strict")
    run(*pair, "--own", "own.toml", "--limits", "quay")
    assert [limits.name for limits in given] == [
        "general",
        "strict",
        "quay with own.toml",
    ]
    code, out, err = run(*pair, "--limits", "quay")
    assert (code, out) == (2, "")
    assert "known sets: general, strict" in err
    Path("own.toml").write_text("[skew.gull_wing.quay]\nmax_mm = 1\nsource = 'x'\n")
    code, _, err = run(*pair, "--own", "own.toml")
    assert code == 2
    assert "nothing measures 'skew'" in err


def test_compare_draws_a_still_and_a_blink_picture(run):
    code, _, err = run("compare", "before.jpg", "good.jpg", "--draw", "out")
    assert code == 0
    assert Path("out/before_to_after_compare.jpg").exists()
    blink = Path("out/before_to_after_blink.webp").read_bytes()
    assert blink[:4] == b"RIFF"
    assert b"ANIM" in blink
    assert err.count("drawn: ") == 2


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


def test_an_interrupt_is_neither_a_fault_nor_a_traceback(run, monkeypatch):
    def stop(_path):
        raise KeyboardInterrupt

    make("a.jpg")
    monkeypatch.setattr(sys.modules["vision.pipeline"], "look", stop)
    assert run("look", "a.jpg")[0] == 130


def test_a_file_name_cannot_write_to_the_terminal(run):
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
