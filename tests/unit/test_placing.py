from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.synthetic_pairs import Chip, board, leads, package, photo, place
from vision import placing
from vision.errors import PhotoError
from vision.geometry import apply_homography
from vision.place import Move
from vision.results import Finding, NotFound, PhotoReport, WrongWay

BARE = board(3)
SHOWN = {
    "before.png": Chip(),
    "far.png": Chip(0.3, -0.2, 1.5),
    "near.png": Chip(0.12, -0.08, 0.5),
    "there.png": Chip(),
    "turned.png": Chip(0.1, 0.0, 0.0, turn_deg=180),
}


def seen(name: str) -> PhotoReport:
    chip = SHOWN[name]
    shown = photo(place(BARE, chip), seed=sorted(SHOWN).index(name))
    at = np.linalg.inv(Chip().to_photo)
    moved = [
        type(lead)(
            number=lead.number,
            toe_px=tuple(apply_homography(chip.to_photo @ at, [lead.toe_px])[0]),
            heel_px=tuple(apply_homography(chip.to_photo @ at, [lead.heel_px])[0]),
            width_px=lead.width_px,
        )
        for lead in leads()
    ]
    found = package(chip.outline, pin1=0.999, leads=tuple(moved))
    return PhotoReport(photo=shown, quality=Finding(state="ok"), packages=(found,))


@pytest.fixture
def looked(monkeypatch) -> list[str]:
    """Answer from drawn chips instead of the networks; list what was looked at."""
    asked: list[str] = []

    def look(path: Path, *, reads_joints: bool) -> PhotoReport:
        assert not reads_joints  # a comparison reads them beside the other photo
        asked.append(Path(path).name)
        return seen(Path(path).name)

    monkeypatch.setattr(placing, "look", look)
    monkeypatch.setattr(placing, "load_photo", lambda path: seen(path.name).photo)
    return asked


@pytest.mark.parametrize("first", ["far.png", "near.png"])
def test_the_first_frame_and_the_next_say_the_way_home(looked, first: str) -> None:
    state = placing.begin_placing(Path("before.png"))
    for name in (first, first, "there.png"):
        chip = SHOWN[name]
        move = placing.place_frame(state, Path(name))
        assert isinstance(move, Move)
        error = np.hypot(move.dx_mm + chip.dx_mm, move.dy_mm + chip.dy_mm)
        assert error <= move.u_mm
        assert move.u_mm < 0.1
        assert move.turn_deg == pytest.approx(-chip.skew_deg, abs=move.u_deg)
    assert looked == ["before.png", first]


def test_after_many_frames_the_chip_is_measured_anew(looked, monkeypatch) -> None:
    monkeypatch.setattr(placing, "FRAMES_FOLLOWED", 2)
    state = placing.begin_placing(Path("before.png"))
    for _ in range(4):
        assert placing.place_frame(state, Path("near.png"))
    assert looked.count("near.png") == 2


def test_a_turned_chip_is_turned_first(looked) -> None:
    state = placing.begin_placing(Path("before.png"))
    found = placing.place_frame(state, Path("turned.png"))
    assert found == WrongWay(180)
    assert placing.place_frame(state, Path("near.png"))
    assert looked == ["before.png", "turned.png", "near.png"]


def test_without_a_size_no_way_is_told(looked, monkeypatch) -> None:
    real = placing.compare_looks

    def without_size(before, after):
        found = real(before, after)
        alignment = replace(found.alignment, px_per_mm=None)
        return replace(found, alignment=alignment)

    monkeypatch.setattr(placing, "compare_looks", without_size)
    state = placing.begin_placing(Path("before.png"))
    found = placing.place_frame(state, Path("near.png"))
    assert isinstance(found, NotFound)
    assert "size is not known" in found.reason


def test_the_way_is_told_by_the_scale_that_it_was_measured_by(
    looked, monkeypatch
) -> None:
    real = placing.compare_looks

    def with_another_outline(before, after):
        found = real(before, after)
        chip = replace(found.before_package, px_per_mm=0.5)
        return replace(found, before_package=chip)

    monkeypatch.setattr(placing, "compare_looks", with_another_outline)
    state = placing.begin_placing(Path("before.png"))
    move = placing.place_frame(state, Path("near.png"))
    chip = SHOWN["near.png"]
    assert isinstance(move, Move)
    assert np.hypot(move.dx_mm + chip.dx_mm, move.dy_mm + chip.dy_mm) <= move.u_mm


def test_a_photo_before_without_a_chip_is_said_at_the_start(monkeypatch) -> None:
    empty = PhotoReport(
        photo=seen("before.png").photo, quality=Finding(state="ok"), packages=()
    )
    monkeypatch.setattr(placing, "look", lambda *_, **__: empty)
    with pytest.raises(PhotoError, match=r"before\.png: no package was made out"):
        placing.begin_placing(Path("before.png"))
