"""``dotward look --stage side``: lines, JSON, pictures, exit codes, and the demo."""

from __future__ import annotations

import json

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from ui import side_command
from ui.cli import app
from ui.demo_side import judge_side
from ui.demo_truth import KnownPhoto
from vision.results import NotFound
from vision.side_view import SideFoot, SideView

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
            alike_frac=0.9,
            at_px=(100.0 * k + 4, 210.0),
            state=state,
        )
        for k, state in enumerate(states, 1)
    )
    worst = next(s for s in ("fault", "unsure", "ok") if s in states)
    return SideView(
        state=worst, feet=feet, limit_mm=0.1, pitch_mm=1.27, px_per_mm=79.0, reasons=()
    )


@pytest.fixture
def run(monkeypatch, tmp_path):
    path = tmp_path / "side.png"
    cv2.imwrite(str(path), np.full((300, 500, 3), 90, np.uint8))

    def invoke(answer, *args):
        monkeypatch.setattr(side_command, "side_of", lambda photo, variant: answer)
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


def test_an_unknown_package_is_not_understood(run):
    assert run(NOT_READ, "--package", "SOIC-9").exit_code == 2


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
    (row,) = judge_side(KNOWN, answer)
    assert row.outcome == outcome
