"""The demo's side view against its known truth."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from ui.demo_side import judge_side
from ui.demo_truth import read_truth
from vision.load import load_photo
from vision.results import NotFound
from vision.side_view import read_side
from vision.tables import variants_of

SAMPLES = Path(__file__).parents[2] / "sample_images"
FILE = "side_lifted.jpg"


@pytest.mark.photos
def test_the_lifted_lead_of_the_demo_is_found_and_measured():
    known = next(k for k in read_truth(SAMPLES)[0] if k.file == FILE)
    truth = tomllib.loads((SAMPLES / "truth.toml").read_text(encoding="utf-8"))
    (lift_mm,) = next(p for p in truth["photo"] if p["file"] == FILE)["chip"]["lift_mm"]
    side = read_side(load_photo(SAMPLES / FILE).pixels, variants_of("SOIC", 8)[0])
    assert not isinstance(side, NotFound)
    assert [row.outcome for row in judge_side(known, side)] == ["right"]
    (foot,) = (f for f in side.feet if f.state == "fault")
    assert abs(foot.height_mm - lift_mm) <= foot.u_mm


@pytest.mark.photos
@pytest.mark.parametrize("name", ["after_lifted", "after_good", "donor_lands"])
def test_photos_from_above_are_not_judged_as_side_views(name):
    photo = load_photo(SAMPLES / f"{name}.jpg")
    assert isinstance(read_side(photo.pixels, variants_of("SOIC", 8)[0]), NotFound)
