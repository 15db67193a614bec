"""``dotward compare``: pairs, lists of pairs, and what a person gives with them."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from PIL import Image
from PIL.ExifTags import Base

from tests.unit.ui.conftest import lines, make, plain
from tests.unit.ui.reports import (
    pair_report,
    turned,
)


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
    assert said in err
    assert [row["error"]["code"] for row in lines(out)] == ["table"] * bool(text)


GOOD = {"pair": "0003", "before": "b.jpg", "after": "good.jpg"}


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        (
            GOOD | {"pair": "0002", "side": "side.jpg:1-4", "packge": "NOPE"},
            "line 1 (pair '0002'): unknown keys 'side', 'packge'; "
            "known: pair, before, after, package",
        ),
        (
            {"before": "b.jpg", "after": "good.jpg", "side": "s.jpg"},
            "line 1: unknown key 'side'; known: pair, before, after, package",
        ),
        ({"before": "b.jpg", "after": ""}, "line 1: after names no photo"),
        ({"before": None, "after": "b.jpg"}, "line 1: before names no photo"),
        (
            {"before": "b.jpg", "after": "a" * 300},
            "aaa: it cannot be read (File name too long). Check the name",
        ),
    ],
)
def test_a_bad_line_is_told_and_the_others_go_on(run, bad, said):
    rows = [bad, GOOD]
    Path("list.jsonl").write_text("\n".join(map(json.dumps, rows)))
    code, out, err = run("compare", "--pairs", "list.jsonl", "--jsonl")
    failed, answered = lines(out)
    assert code == 4
    assert failed["pair"] == bad.get("pair", "1")
    assert said in failed["error"]["message"]
    assert "decision" not in failed
    assert (answered["pair"], answered["decision"]) == ("0003", "no-fault-seen")
    assert said in err


def test_a_list_that_cannot_be_read_says_what_to_do(run):
    Path("list.jsonl").mkdir()
    code, out, err = run("compare", "--pairs", "list.jsonl")
    assert (code, out) == (4, "")
    assert "list.jsonl: the list of pairs cannot be read: Is a directory." in err
    assert "Check the rights and the medium" in err


def test_a_pair_that_cannot_be_judged_is_named_with_its_line(run):
    rows = [GOOD, GOOD | {"pair": "0004", "after": "cut.jpg"}]
    Path("list.jsonl").write_text("\n".join(map(json.dumps, rows)))
    _, _, err = run("compare", "--pairs", "list.jsonl", "--jsonl")
    assert "line 2, pair 0004: cut.jpg: ends early" in err


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
    every = ("compare", "--pairs", "list.jsonl", "--jsonl", "--package", "SOIC-14")
    code, _, err = run(*every)
    assert (code, asked[2:]) == (4, [{"SOIC-14"}, {"TSSOP-20"}])
    assert "package SOIC-9: not in the tables" in err
    run("compare", "b.jpg", "good.jpg", "--package", "soic-8")
    assert asked[4:] == [{"SOIC-8"}]
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
    "length", ["inf", "nan", "0", "-1", "1e300", "1e-320", "0.09", "1001"]
)
def test_a_ruler_has_a_length(sized, length):
    ruler = f"10,10 90,90 {length}"
    code, out, err = sized("compare", "before.jpg", "good.jpg", "--ruler", ruler)
    assert (code, out) == (2, "")
    assert "the length be above 0 mm: from 0.1 to 1000 mm" in plain(err)


def test_the_ticks_of_a_ruler_lie_apart(sized):
    ruler = ("--ruler", "10,10 10.1,10 5")
    code, _, err = sized("compare", "before.jpg", "good.jpg", *ruler)
    assert code == 2
    assert "the ticks must lie apart" in plain(err)


def test_the_photo_before_is_not_unpacked_for_its_size(sized, monkeypatch):
    monkeypatch.setattr("vision.load.load_photo", None)
    at = ("--at", "299,199")
    assert sized("compare", "before.jpg", "good.jpg", *at)[0] == 0


@pytest.mark.parametrize("row", ["", "foo", "1", "4-1"])
def test_a_row_that_is_none_says_how_one_is_written(run, row):
    side = ("--side", f"side.jpg:{row}")
    code, out, err = run("compare", "before.jpg", "good.jpg", *side)
    assert (code, out) == (2, "")
    assert "is no row of leads; write the first and the last, such as 1-4" in plain(err)


@pytest.mark.parametrize(
    "words",
    [
        ("", "good.jpg"),
        ("b.jpg", " "),
        ("b.jpg", "good.jpg", "--lands", ""),
        ("b.jpg", "good.jpg", "--side", ""),
        ("b.jpg", "good.jpg", "--draw", ""),
        ("--pairs", ""),
    ],
)
def test_an_empty_name_is_not_this_folder(run, words):
    code, out, err = run("compare", *words)
    assert (code, out) == (2, "")
    assert "the name is empty" in plain(err)
    assert list(Path().iterdir()) == []


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
