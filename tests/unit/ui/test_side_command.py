"""``dotward look --stage side``: lines, JSON, pictures, exit codes, and the demo."""

from __future__ import annotations

import errno
import json
from pathlib import Path

import cv2
import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from tests.unit.ui.reports import pair_report, photo
from ui import demo_side, side_command
from ui.cli import app
from ui.demo_truth import KnownPhoto
from ui.inputs import side_photo
from vision.decide import CHECKS
from vision.package_names import packages_named
from vision.results import Finding, NotFound, SideFoot, SideSeen, SideView
from vision.side_check import judge_side

HEIGHTS_MM = {"ok": 0.01, "unsure": 0.09, "fault": 0.23}
NOT_READ = NotFound(reason="no row of 4 bright leads")
KNOWN = KnownPhoto(
    file="side_a.jpg",
    title="a",
    outline_px=None,
    family="SOIC",
    lead_count=8,
    is_side_view=True,
    toes_px=tuple((100.0 * k, 200.0) for k in range(1, 5)),
    lifted=(3,),
)


def seen(*states):
    feet = tuple(
        SideFoot(
            from_left=k,
            height_mm=HEIGHTS_MM[state],
            u_mm=0.03,
            seen_frac=0.9,
            at_px=(100.0 * k + 4, 210.0),
            state=state,
        )
        for k, state in enumerate(states, 1)
    )
    worst = next(s for s in ("fault", "unsure", "ok") if s in states)
    return SideView(state=worst, feet=feet, limit_mm=0.1, pitch_mm=1.27, px_per_mm=79.0)


@pytest.fixture
def run(monkeypatch, tmp_path):
    path = tmp_path / "side.png"
    cv2.imwrite(str(path), np.full((300, 500, 3), 90, np.uint8))

    def invoke(answer, *args):
        monkeypatch.setattr(side_command, "read_side", lambda pixels, variant: answer)
        return CliRunner().invoke(app, ["look", str(path), "--stage", "side", *args])

    return invoke


@pytest.mark.parametrize(
    ("answer", "code", "said"),
    [
        (seen("ok", "ok", "ok", "ok"), 0, "all 4 within 0.10 mm of one line"),
        (seen("ok", "ok", "fault", "ok"), 1, "lifted: foot 3 from the left, +0.23"),
        (seen("ok", "unsure", "ok", "ok"), 3, "cannot tell of foot 2 from the left"),
        (NOT_READ, 3, "cannot tell: no row of 4 bright leads"),
    ],
)
def test_exit_code_and_headline_follow_the_feet(run, answer, code, said):
    result = run(answer)
    assert result.exit_code == code
    assert said in result.output


def test_the_scale_that_was_taken_is_said(run):
    assert "1.27 mm between leads, as SOIC-8 has" in run(seen(*["ok"] * 4)).output


def test_what_cannot_be_read_asks_for_another_photo(run):
    assert "light from behind the camera" in run(NOT_READ).output


@pytest.mark.parametrize("package", ["QFN-16", "SON-8", "PLCC-32", "DIP-8"])
def test_feet_that_no_photo_can_show_ask_for_none(tmp_path, package):
    path = tmp_path / "side.png"
    cv2.imwrite(str(path), np.full((300, 500, 3), 90, np.uint8))
    words = ["look", str(path), "--stage", "side", "--package", package]
    result = CliRunner().invoke(app, words)
    assert result.exit_code == 3
    assert "cannot be seen from the side" in result.output
    assert "Photograph the row again" not in result.output


def test_json_is_the_line_of_look_with_the_feet(run):
    line = json.loads(run(seen("ok", "ok", "fault", "ok"), "--jsonl").output)
    assert line["format"] == "dotward.look/1"
    assert line["packages"] == []
    assert line["side"]["coplanarity_mm"] == pytest.approx(0.22)
    assert [foot["state"] for foot in line["side"]["feet"]] == [
        "ok", "ok", "fault", "ok",
    ]  # fmt: skip


def test_json_of_an_unread_row_is_unsure_with_its_reason(run):
    line = json.loads(run(NOT_READ, "--jsonl").output)
    assert line["side"] == {"state": "unsure", "reasons": [NOT_READ.reason], "feet": []}


def test_a_picture_is_drawn(run, tmp_path):
    run(seen("ok", "ok", "fault", "ok"), "--draw", str(tmp_path / "out"))
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["side_side.jpg"]


def test_a_drawing_that_cannot_be_written_leaves_the_other_photos(
    run, tmp_path, monkeypatch
):
    def refuse(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device", "side_side.jpg")

    monkeypatch.setattr(side_command, "save_lands", refuse)
    again = str(tmp_path / "side.png")
    result = run(seen(*["ok"] * 4), again, "--draw", str(tmp_path / "out"), "--jsonl")
    assert result.exit_code == 4
    assert len(result.stdout.splitlines()) == 2
    assert result.stderr.count("side_side.jpg: No space left on device") == 2


def test_what_nobody_foresaw_in_a_photo_leaves_the_others(run, tmp_path, monkeypatch):
    def odd(_path):
        message = "nobody thought of this"
        raise ZeroDivisionError(message)

    monkeypatch.setattr(side_command, "load_photo", odd)
    result = run(NOT_READ, str(tmp_path / "side.png"), "--jsonl")
    assert result.exit_code == 4
    codes = [json.loads(line)["error"]["code"] for line in result.stdout.splitlines()]
    assert codes == ["internal", "internal"]


def test_an_unknown_package_is_not_understood(run):
    assert run(NOT_READ, "--package", "SOIC-9").exit_code == 2


@pytest.mark.parametrize("name", ["TSOP-32", "QFP-64", "MSOP-8"])
def test_a_name_of_sizes_whose_rows_differ_is_refused_with_their_names(run, name):
    result = run(seen(*["ok"] * 4), "--package", name)
    assert result.exit_code == 2
    told = " ".join(result.output.replace("│", " ").split())
    for size in packages_named(name):
        assert size.name in told
    one = run(seen(*["ok"] * 4), "--package", packages_named(name)[-1].name)
    assert one.exit_code == 0


@pytest.mark.parametrize(
    ("answer", "outcome"),
    [
        (seen("ok", "ok", "fault", "ok"), "right"),
        (seen("ok", "ok", "ok", "ok"), "wrong"),
        (seen("ok", "fault", "fault", "ok"), "wrong"),
        (seen("ok", "ok", "unsure", "ok"), "not judged"),
        (NOT_READ, "not judged"),
    ],
)
def test_the_demo_holds_feet_against_the_known_leads(answer, outcome):
    (row,) = demo_side.judge_side(KNOWN, answer)
    assert row.outcome == outcome


@pytest.mark.parametrize(
    ("text", "path", "leads"),
    [
        ("side.jpg", "side.jpg", None),
        ("a/side.jpg:1-4", "a/side.jpg", (1, 4)),
        ("C:\\photos\\side.jpg", "C:\\photos\\side.jpg", None),
        ("C:\\photos\\side.jpg:5-8", "C:\\photos\\side.jpg", (5, 8)),
    ],
)
def test_a_side_photo_may_name_its_row(text, path, leads):
    assert side_photo(text) == (Path(path), leads)


@pytest.mark.parametrize("row", ["4", "4-1", "0-4", "3-3", "1-4-8", "1000-2000"])
def test_what_is_no_row_is_refused(row):
    with pytest.raises(typer.BadParameter, match="such as 1-4"):
        side_photo(f"side.jpg:{row}")


@pytest.fixture
def compared(monkeypatch):
    """Compare without looking: the pair is given, the rows are read as told."""
    asked = []

    def invoke(answer, *args):
        def compare(_before, _after, *, side_paths=(), **_):
            asked.extend(side_paths)
            rows = tuple(
                SideSeen(photo=photo(str(path)), leads=leads, view=answer)
                for path, leads in side_paths
            )
            checks = {name: Finding(state="ok") for name in CHECKS}
            whole = pair_report(checks=checks, decision="no-fault-seen")
            return judge_side(whole, rows)

        monkeypatch.setattr("vision.pipeline.compare", compare)
        return CliRunner().invoke(app, ["compare", "a.jpg", "b.jpg", *args])

    return invoke, asked


def test_compare_takes_rows_from_the_side(compared):
    invoke, asked = compared
    result = invoke(
        seen("ok", "ok", "fault", "ok"), "--side", "x.jpg:1-4", "--side", "y.jpg"
    )
    assert asked == [(Path("x.jpg"), (1, 4)), (Path("y.jpg"), None)]
    assert result.exit_code == 1
    assert "Stop: a foot stands above the limit" in result.output
    assert "lead 3 stands +0.23 ± 0.03 mm off its row, limit 0.10 mm" in result.output
    assert "Side photo 2, foot 3 from the left stands" in result.output
    assert "wooden pick" in result.output


def test_a_row_not_read_beside_a_pair_asks_for_its_photo(compared):
    invoke, _ = compared
    result = invoke(NOT_READ, "--side", "x.jpg:1-4")
    assert result.exit_code == 0
    assert "(leads 1 to 4) not read, so it counts neither way: no row" in result.output
    assert "15 to 30 degrees above it" in result.output


def test_a_row_without_feet_beside_a_pair_asks_for_no_photo(compared):
    invoke, _ = compared
    none = NotFound(reason="QFN-16 3x3 P0.5: no feet that stand out of the body")
    result = invoke(none, "--side", "x.jpg")
    assert "cannot be seen from the side" in result.output
    assert "15 to 30 degrees above it" not in result.output


def test_json_of_a_pair_holds_its_rows(compared):
    invoke, _ = compared
    args = ("--side", "x.jpg:5-8", "--json")
    (row,) = json.loads(invoke(seen("ok", "ok", "fault", "ok"), *args).output)["side"]
    assert row["leads"] == [5, 8]
    assert [foot["lead"] for foot in row["feet"]] == [5, 6, 7, 8]
    assert row["photo"]["file"] == "x.jpg"


def test_pictures_of_the_rows_are_drawn(compared, tmp_path):
    invoke, _ = compared
    args = ("--side", "x.jpg:1-4", "--draw", str(tmp_path))
    result = invoke(seen("ok", "ok", "ok", "ok"), *args)
    assert result.exit_code == 0, result.output
    assert (tmp_path / "x_side.jpg").is_file()


def test_many_pairs_take_no_side_photo(tmp_path):
    pairs = tmp_path / "pairs.jsonl"
    pairs.write_text('{"before": "a.jpg", "after": "b.jpg"}\n' * 2)
    args = ["compare", "--pairs", str(pairs), "--side", "x.jpg"]
    assert CliRunner().invoke(app, args).exit_code == 2
