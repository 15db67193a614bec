"""The demo: a wrong answer ends it badly, and what is not judged is never passed."""

from __future__ import annotations

import importlib
import sys
import types
from dataclasses import replace
from pathlib import Path

import pytest

from tests.unit.ui.reports import (
    SQUARE,
    not_registered,
    package,
    pair_report,
    photo,
    photo_report,
    soldered,
    turned,
    unsure,
)
from ui import demo_truth
from ui.demo_truth import KnownPair, KnownPhoto, judge_pair, judge_photo, read_truth
from vision.errors import PhotoError, TableError
from vision.results import Finding, Joint, Orientation

CHIP = """
[photo.chip]
family = "SOIC"
lead_count = 8
outline_px = [[100, 300], [300, 300], [300, 100], [100, 100]]
turn_deg = {turn_deg}
shift_mm = {shift_mm}
skew_deg = {skew_deg}
bridges = {bridges}
lifted_leads = {lifted}
"""
PHOTO = """
[[photo]]
file = "{file}"
stage = "{stage}"
shows = "the <drowned> logger"
px_per_mm = 40.0
board_mm_to_px = [[0.0, 40.0, 200.0], [-40.0, 0.0, 200.0], [0.0, 0.0, 1.0]]
"""


def sample(file, stage, *, chip=True, **changes):
    """Write one photo's table; the board lies a quarter turn counter-clockwise."""
    known = {
        "turn_deg": 0,
        "shift_mm": [0.0, 0.0],
        "skew_deg": 0.0,
        "bridges": [],
        "lifted": [],
    }
    text = PHOTO.format(file=file, stage=stage)
    return text + CHIP.format(**{**known, **changes}) if chip else text


BEFORE = sample("donor_before.jpg", "before", skew_deg=-0.1)
TRUTH = (
    BEFORE
    + sample("donor_lands.jpg", "lands", chip=False)
    + sample("after_good.jpg", "after", shift_mm=[0.05, 0.11], skew_deg=0.1)
)
MEMORY = KnownPhoto(
    file="a.jpg", title="a", outline_px=SQUARE, family="SOIC", lead_count=8
)
GOOD = KnownPair(
    before="b.jpg",
    after="a.jpg",
    title="good",
    turn_deg=0,
    dx_mm=0.11,
    dy_mm=-0.05,
    skew_deg=0.2,
)
ALL_OK = {name: Finding(state="ok") for name in ("lands", "joints", "bridges")}


def outcomes(rows):
    return {row.question: row.outcome for row in rows}


def test_a_right_answer_is_as_known():
    rows = judge_photo(MEMORY, photo_report(package()))
    assert outcomes(rows) == {"Pin 1": "right", "Chip": "right"}


@pytest.mark.parametrize("k", [1, 2, 3])
def test_pin_1_at_another_corner_is_wrong(k):
    rolled = package(outline_px=SQUARE[k:] + SQUARE[:k])
    assert outcomes(judge_photo(MEMORY, photo_report(rolled)))["Pin 1"] == "wrong"


def test_not_telling_pin_1_is_not_the_known_truth():
    rows = judge_photo(MEMORY, photo_report(package(unsure())))
    assert outcomes(rows)["Pin 1"] == "wrong"


def test_the_chip_is_looked_for_where_it_is_known_to_be():
    elsewhere = package(outline_px=tuple((x + 500, y) for x, y in SQUARE))
    assert outcomes(judge_photo(MEMORY, photo_report(elsewhere))) == {"Chip": "wrong"}
    both = photo_report(elsewhere, package())
    assert outcomes(judge_photo(MEMORY, both))["Pin 1"] == "right"


def test_another_kind_of_chip_is_wrong():
    other = photo_report(package(lead_count=16))
    assert outcomes(judge_photo(MEMORY, other))["Chip"] == "wrong"


def test_bare_lands_are_not_judged():
    lands = replace(MEMORY, outline_px=None)
    rows = judge_photo(lands, photo_report(package()))
    assert set(outcomes(rows).values()) == {"not judged"}


def test_a_sound_pair_that_is_not_wholly_judged_is_not_passed():
    found = outcomes(judge_pair(GOOD, pair_report()))
    assert found["Way round"] == "right"
    assert found["Place"] == "right"
    assert found["Solder bridges"] == "not judged"
    assert found["Lifted leads"] == "not judged"
    assert found["Decision"] == "not judged"


def test_a_sound_pair_wholly_judged():
    report = pair_report(checks=ALL_OK, decision="no-fault-seen")
    assert set(outcomes(judge_pair(GOOD, report)).values()) == {"right"}


@pytest.mark.parametrize(
    ("known", "report"),
    [
        (GOOD, turned()),
        (replace(GOOD, turn_deg=180, is_faulty=True), pair_report()),
        (
            replace(GOOD, turn_deg=180),
            pair_report(
                orientation=Orientation(state="unsure", turn_deg=None, confidence=0)
            ),
        ),
    ],
)
def test_a_wrong_or_missing_turn_is_wrong(known, report):
    assert outcomes(judge_pair(known, report))["Way round"] == "wrong"


@pytest.mark.parametrize("known", [replace(GOOD, dx_mm=0.3), replace(GOOD, skew_deg=3)])
def test_a_wrong_place_is_wrong(known):
    assert outcomes(judge_pair(known, pair_report()))["Place"] == "wrong"


def test_a_place_that_was_not_measured_is_not_the_known_truth():
    assert outcomes(judge_pair(GOOD, not_registered()))["Place"] == "wrong"


def test_bridges_and_lifted_leads_are_held_against_the_truth_once_judged():
    bridged = replace(GOOD, bridges=((3, 4),), is_faulty=True)
    assert outcomes(judge_pair(bridged, soldered()))["Solder bridges"] == "right"
    assert outcomes(judge_pair(GOOD, soldered()))["Solder bridges"] == "wrong"
    clean = pair_report(checks=ALL_OK)
    assert outcomes(judge_pair(bridged, clean))["Solder bridges"] == "wrong"
    lifted = replace(GOOD, lifted=(2,), is_faulty=True)
    seen = pair_report(joints=(Joint(lead=2, state="fault"),))
    assert outcomes(judge_pair(lifted, seen))["Lifted leads"] == "right"
    assert outcomes(judge_pair(lifted, clean))["Lifted leads"] == "wrong"


def test_passing_a_faulty_board_is_wrong_and_asking_is_not():
    faulty = replace(GOOD, is_faulty=True)
    passed = pair_report(checks=ALL_OK, decision="no-fault-seen")
    assert outcomes(judge_pair(faulty, passed))["Decision"] == "wrong"
    assert outcomes(judge_pair(faulty, pair_report()))["Decision"] == "not judged"
    assert outcomes(judge_pair(GOOD, turned()))["Decision"] == "wrong"


def pair_of(tmp_path, **changes):
    text = BEFORE + sample("after_x.jpg", "after", **changes)
    (tmp_path / "truth.toml").write_text(text)
    return read_truth(tmp_path)[1][0]


def test_what_happened_is_worked_out_in_the_before_photos_axes(tmp_path):
    found = pair_of(tmp_path, turn_deg=180, shift_mm=[0.05, 0.11], skew_deg=0.3)
    assert (found.before, found.after) == ("donor_before.jpg", "after_x.jpg")
    assert found.turn_deg == 180
    assert found.dx_mm == pytest.approx(0.11)
    assert found.dy_mm == pytest.approx(-0.05)
    assert found.skew_deg == pytest.approx(0.4)
    assert found.is_faulty


@pytest.mark.parametrize(
    ("changes", "is_faulty"),
    [
        ({}, False),
        ({"shift_mm": [0.2, 0.1]}, False),
        ({"shift_mm": [0.43, -0.13]}, True),
        ({"turn_deg": 90}, True),
        ({"bridges": [[2, 3]]}, True),
        ({"lifted": [3]}, True),
    ],
)
def test_which_boards_are_faulty(tmp_path, changes, is_faulty):
    assert pair_of(tmp_path, **changes).is_faulty == is_faulty


def test_lands_and_side_views_are_looked_at_but_not_compared(tmp_path):
    text = TRUTH + sample("side_lifted.jpg", "after", lifted=[3])
    (tmp_path / "truth.toml").write_text(text)
    photos, pairs = read_truth(tmp_path)
    assert [known.outline_px is None for known in photos] == [False, True, False, False]
    assert [known.is_side_view for known in photos] == [False, False, False, True]
    assert [known.after for known in pairs] == ["after_good.jpg"]


@pytest.mark.parametrize("text", ["[[photo]", "[[photo]]\nfile = 'a.jpg'", "photo = 1"])
def test_a_broken_truth_says_so(tmp_path, text):
    (tmp_path / "truth.toml").write_text(text)
    with pytest.raises(TableError, match=r"truth\.toml: not in its form"):
        read_truth(tmp_path)


@pytest.fixture
def demo(monkeypatch, tmp_path):
    """Give the demo on two sample pictures and answers made by hand."""
    samples = tmp_path / "samples"
    samples.mkdir()
    (samples / "truth.toml").write_text(TRUTH, encoding="utf-8")
    answers = types.ModuleType("vision.pipeline")
    answers.pair = pair_report()

    def look(path):
        if answers.pair is None:
            raise PhotoError(f"{path.name}: empty.")
        return photo_report(package(), shown=photo(path.name, value=len(path.name)))

    answers.look = look
    answers.compare = lambda _before, _after: answers.pair or look(_before)
    monkeypatch.setitem(sys.modules, "vision.pipeline", answers)
    monkeypatch.delitem(sys.modules, "ui.demo", raising=False)
    module = importlib.import_module("ui.demo")
    monkeypatch.setattr(module, "sample_folder", lambda: samples)
    yield module, answers
    sys.modules.pop("ui.demo", None)


def run(demo, out):
    out.mkdir(exist_ok=True)
    told: list[str] = []
    return demo[0].run_demo(out, told.append), "\n".join(told)


def test_the_demo_shows_answers_beside_the_truth(demo, tmp_path):
    good, told = run(demo, tmp_path / "out")
    assert good
    assert "0 not as known" in told
    assert "Not judged is not passed" in told
    assert "not judged    Solder bridges" in told
    page = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert str(tmp_path / "out" / "index.html") in told
    assert "not judged by this version" in page
    assert "&lt;drowned&gt;" in page
    assert "<drowned>" not in page
    assert page.count("data:image/jpeg;base64,") == 4
    assert page.count("data:image/webp;base64,") == 1
    for outside in ("http://", "https://", "<script", "url("):
        assert outside not in page


def test_the_demo_writes_over_nothing_of_a_person(demo, tmp_path):
    own = tmp_path / "out"
    own.mkdir()
    for name in ("index.html", "donor_before_look.jpg"):
        (own / name).write_text("mine")
    _, told = run(demo, own)
    assert (own / "index.html").read_text() == "mine"
    assert (own / "donor_before_look.jpg").read_text() == "mine"
    page = own / told.rsplit("page: ", maxsplit=1)[1]
    assert "<!doctype html>" in page.read_text(encoding="utf-8").lower()
    before = sorted(own.iterdir())
    assert run(demo, own)[1] == told
    assert sorted(own.iterdir()) == before


def test_a_wrong_answer_makes_the_demo_fail(demo, tmp_path):
    demo[1].pair = turned()
    good, told = run(demo, tmp_path / "out")
    assert not good
    assert "NOT AS KNOWN  Way round" in told


def test_a_sample_that_cannot_be_read_makes_the_demo_fail(demo, tmp_path):
    demo[1].pair = None
    good, told = run(demo, tmp_path / "out")
    assert not good
    assert "empty." in told


def test_missing_samples_are_said_plainly(monkeypatch, tmp_path):
    monkeypatch.setattr(demo_truth, "__file__", str(tmp_path / "ui" / "x.py"))
    monkeypatch.chdir(tmp_path)
    with pytest.raises(TableError, match="sample pictures"):
        demo_truth.sample_folder()


def test_samples_beside_the_command_are_found(monkeypatch, tmp_path):
    monkeypatch.setattr(demo_truth, "__file__", str(tmp_path / "ui" / "x.py"))
    monkeypatch.chdir(tmp_path)
    folder = Path("sample_images")
    folder.mkdir()
    (folder / "truth.toml").write_text(TRUTH)
    assert demo_truth.sample_folder().name == "sample_images"
