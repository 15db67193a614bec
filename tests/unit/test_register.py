from __future__ import annotations

import numpy as np
import pytest

from tests.synthetic_pairs import Chip, board, photo, place, view
from tests.tolerances import REGISTRATION_PX
from vision.geometry import apply_homography, roll
from vision.register import register
from vision.results import NotFound, Registration


def corner_error_px(found: Registration, truth: np.ndarray) -> float:
    """Largest error at the chip's corners, in before pixels."""
    corners = Chip().outline
    there = apply_homography(found.before_to_after, corners)
    back = apply_homography(np.linalg.inv(truth), there)
    return float(np.linalg.norm(back - corners, axis=1).max())


@pytest.mark.parametrize(
    ("turn", "zoom", "tilt"),
    [(0, 1.0, 0.0), (95, 0.8, 0.1), (180, 1.3, -0.12), (-60, 0.45, 0.05)],
)
def test_the_board_is_found_from_another_viewpoint(turn, zoom, tilt) -> None:
    scene, at = place(board(1), Chip()), view(turn, zoom, tilt)
    outline = Chip().outline
    found = register(
        photo(scene), outline, photo(scene, at, seed=2), apply_homography(at, outline)
    )
    assert isinstance(found, Registration)
    assert corner_error_px(found, at) < REGISTRATION_PX
    assert found.inliers > 50


@pytest.mark.parametrize("chip", [Chip(0.5, 0.3, 3.0), Chip(turn_deg=180), Chip(-0.6)])
def test_a_moved_or_turned_chip_does_not_pull_the_board_along(chip: Chip) -> None:
    bare, at = board(2), view(20, 0.9, 0.08)
    found = register(
        photo(place(bare, Chip())),
        Chip().outline,
        photo(place(bare, chip), at, seed=3),
        apply_homography(at, chip.outline),
    )
    assert isinstance(found, Registration)
    assert corner_error_px(found, at) < REGISTRATION_PX


def test_the_start_and_the_error_of_the_outlines_do_not_matter() -> None:
    scene, at = place(board(3), Chip()), view(170, 0.9)
    outline, rng = Chip().outline, np.random.default_rng(0)
    placed = apply_homography(at, outline)
    for start in range(4):
        noisy = roll(placed + rng.normal(0, 4, (4, 2)), start)
        found = register(
            photo(scene),
            roll(outline + rng.normal(0, 4, (4, 2)), 3 - start),
            photo(scene, at, seed=4),
            noisy,
        )
        assert isinstance(found, Registration)
        assert corner_error_px(found, at) < REGISTRATION_PX


def test_another_board_is_refused() -> None:
    outline = Chip().outline
    found = register(
        photo(place(board(4), Chip())), outline, photo(place(board(5), Chip())), outline
    )
    assert isinstance(found, NotFound)
    assert "same kind of board" in found.reason


def test_a_bare_board_is_refused_with_the_count() -> None:
    bare = np.full((900, 900, 3), 90, np.uint8)
    outline = Chip().outline
    found = register(
        photo(place(bare, Chip())), outline, photo(place(bare, Chip())), outline
    )
    assert isinstance(found, NotFound)
    assert "12 needed" in found.reason


def test_a_mirrored_photo_is_refused() -> None:
    scene = place(board(6), Chip())
    outline = Chip().outline
    mirrored = outline * [-1, 1] + [899, 0]
    found = register(photo(scene), outline, photo(scene[:, ::-1].copy()), mirrored)
    assert isinstance(found, NotFound)


def test_texture_in_one_corner_only_is_refused() -> None:
    picture = board(7)
    picture[:, :600] = picture[:600] = (70, 110, 40)
    scene = place(picture, Chip())
    outline = Chip().outline
    found = register(photo(scene), outline, photo(scene, seed=2), outline)
    assert isinstance(found, NotFound)
    assert "three chip lengths of board on every side" in found.reason
