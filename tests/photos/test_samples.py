"""Known answers on the demo's photos, by the whole pipeline."""

from __future__ import annotations

import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest

from vision import pipeline
from vision.errors import PhotoError
from vision.overlap import quad_iou_frac

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
TOLD = tomllib.loads((SAMPLES / "truth.toml").read_text(encoding="utf-8"))
TRUTH = {row["file"]: row for row in TOLD["photo"]}
FROM_ABOVE = [
    name
    for name, row in TRUTH.items()
    if "chip" in row and not name.startswith("side_")
]
MIN_IOU_FRAC = 0.85  # a person's outline differs from another's by about 0.05


@pytest.mark.parametrize("name", FROM_ABOVE)
def test_the_chip_and_its_pin_1_are_found(name):
    chip = TRUTH[name]["chip"]
    report = pipeline.look(SAMPLES / name)
    found = max(
        report.packages,
        key=lambda p: quad_iou_frac(p.outline_px, chip["outline_px"]),
    )
    assert quad_iou_frac(found.outline_px, chip["outline_px"]) > MIN_IOU_FRAC
    assert found.pin1.state == "ok"
    distances = np.linalg.norm(
        np.asarray(chip["outline_px"]) - np.asarray(found.outline_px[0]), axis=1
    )
    assert distances.argmin() == 0


@pytest.mark.parametrize("name", FROM_ABOVE)
def test_the_size_is_named_rightly_or_not_at_all(name):
    chip = TRUTH[name]["chip"]
    report = pipeline.look(SAMPLES / name)
    found = max(
        report.packages,
        key=lambda p: quad_iou_frac(p.outline_px, chip["outline_px"]),
    )
    if found.px_per_mm is not None:
        named = (found.family, found.lead_count)
        assert named == (chip["family"], chip["lead_count"])


def test_the_scale_of_the_memory_before_is_right():
    report = pipeline.look(SAMPLES / "donor_before.jpg")
    truth = TRUTH["donor_before.jpg"]
    assert report.packages[0].px_per_mm == pytest.approx(truth["px_per_mm"], rel=0.04)


@pytest.mark.parametrize(
    ("name", "turn_deg"), [("after_good.jpg", 0), ("after_turned.jpg", 180)]
)
def test_the_turn_is_named_and_nothing_is_cleared_unseen(name, turn_deg):
    report = pipeline.compare(SAMPLES / "donor_before.jpg", SAMPLES / name)
    assert report.orientation.turn_deg == turn_deg
    assert (report.decision == "stop") == (turn_deg == 180)
    if report.decision == "no-fault-seen":
        assert all(check.state == "ok" for check in report.checks.values())


def test_a_chip_on_another_board_is_not_compared(tmp_path):
    noise = np.random.default_rng(5).integers(0, 255, (600, 800, 3), np.uint8)
    path = tmp_path / "noise.png"
    cv2.imwrite(str(path), cv2.GaussianBlur(noise, (0, 0), 3))
    report = pipeline.compare(SAMPLES / "donor_before.jpg", path)
    assert report.orientation.state == "unsure"
    assert report.decision == "retake"


def test_a_broken_file_is_a_clear_error(tmp_path):
    path = tmp_path / "cut.jpg"
    path.write_bytes((SAMPLES / "donor_before.jpg").read_bytes()[:3000])
    with pytest.raises(PhotoError, match=r"cut\.jpg"):
        pipeline.look(path)
