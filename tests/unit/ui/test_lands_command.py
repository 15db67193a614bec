"""``dotward look --stage lands``: lines, JSON, pictures and exit codes."""

from __future__ import annotations

import dataclasses
import json
import re

import cv2
import pytest
from PIL import Image
from typer.testing import CliRunner

from tests.leaning_views import Pose, flat_map, photograph
from tests.unit.test_on_lands import bare
from ui import lands_command, pictures
from ui.cli import app
from ui.page.answer_view import photo_view
from vision.land_faults import LandSeen
from vision.results import Finding, NotFound

PHOTO = photograph(Pose(with_leads=False, with_body=False))[0]


def found(state: str, reason: str):
    lands = bare()
    seen = tuple(
        LandSeen(
            number=strip.number,
            strip=strip,
            corners_px=((0.0, 0.0),) * 4,
            state=state if strip.number == 2 else "ok",
            findings=(reason,) if strip.number == 2 and state != "ok" else (),
        )
        for strip in lands.lands
    )
    report = dataclasses.replace(
        lands.report, lands=seen, finding=Finding(state=state, reasons=(reason,))
    )
    return dataclasses.replace(lands, report=report)


@pytest.fixture
def run(monkeypatch, tmp_path):
    path = tmp_path / "lands.png"
    cv2.imwrite(str(path), PHOTO.pixels)

    def invoke(answer, *args: str):
        monkeypatch.setattr(
            lands_command, "read_photo", lambda path, variants: (PHOTO, answer)
        )
        line = ["look", str(path), "--stage", "lands", *args]
        return CliRunner().invoke(app, line)

    return invoke


@pytest.mark.parametrize(
    ("state", "reason", "code"),
    [
        ("ok", "all 8 lands are there", 0),
        ("fault", "land L2 is missing", 1),
        ("unsure", "land L2 has another colour", 3),
    ],
)
def test_what_was_found_is_told_and_counts(run, state, reason, code) -> None:
    outcome = run(found(state, reason))
    assert outcome.exit_code == code
    assert reason in outcome.output
    assert "0.60 by 1.95 mm" in outcome.output
    assert ("hidden once it is soldered" in outcome.output) == (state != "ok")


def test_lands_that_are_not_there_cannot_be_told(run) -> None:
    outcome = run(NotFound(reason="the land pattern is not in the picture"))
    assert outcome.exit_code == 3
    assert "Lands of SOIC-8: cannot tell" in outcome.output
    assert "--package" in outcome.output


def test_json_names_every_land(run) -> None:
    outcome = run(found("fault", "land L2 is missing"), "--jsonl")
    data = json.loads(outcome.stdout)
    assert data["format"] == "dotward.lands/1"
    assert data["lands"][1]["state"] == "fault"
    assert data["lands"][0]["size_mm"] == pytest.approx([0.6, 1.95])
    corners = data["lands"][0]["corners_px"]
    assert len(corners) == 4
    scale = flat_map()[0, 0]
    assert abs(corners[0][0] - corners[1][0]) == pytest.approx(1.95 * scale, abs=0.1)


def test_the_answer_is_drawn(run, tmp_path) -> None:
    run(found("fault", "land L2 is missing"), "--draw", str(tmp_path / "drawn"))
    picture = cv2.imread(str(tmp_path / "drawn" / "drawn_lands.jpg"))
    assert picture is not None
    assert picture.shape[1] > 600


def test_the_picture_names_lands_as_the_page_and_the_text_do(
    run, tmp_path, monkeypatch
) -> None:
    drawn = []

    def note(photo, marks, **_):
        drawn.extend(name for name, *_ in marks)
        return photo.pixels

    monkeypatch.setattr(pictures, "draw_lands", note)
    answer = found("fault", "land L2 is missing")
    said = run(answer, "--draw", str(tmp_path / "drawn")).output
    view = photo_view(lands_command.lands_json(PHOTO, answer))
    assert drawn == [mark["text"] for mark in view["marks"]]
    assert drawn == [f"L{number}" for number in range(1, 9)]
    assert "L1, L2 and so on count from one end" in said


def test_of_several_pages_the_first_is_named(run, tmp_path) -> None:
    pages = [Image.new("RGB", (60, 40), (k, 0, 0)) for k in (10, 90)]
    path = tmp_path / "pages.tif"
    pages[0].save(path, save_all=True, append_images=pages[1:])
    told = run(found("ok", "x"), str(path))
    assert told.output.count("the first of 2 pictures in this file") == 1


def test_an_unknown_package_is_told(run) -> None:
    told = run(found("ok", "x"), "--package", "SOIC9")
    assert told.exit_code == 2
    assert re.search(r"nearest:\W+SOIC-8\b", told.output)


def test_a_broken_photo_is_told(tmp_path) -> None:
    broken = tmp_path / "cut.jpg"
    broken.write_bytes(b"\xff\xd8 not a photo")
    outcome = CliRunner().invoke(app, ["look", str(broken), "--stage", "lands"])
    assert outcome.exit_code == 4
    assert "cut.jpg" in outcome.output
