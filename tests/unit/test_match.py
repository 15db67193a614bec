from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tests.synthetic_pairs import Chip, board, package, photo, place, view
from vision.geometry import apply_homography
from vision.match import match_packages
from vision.overlap import quad_iou_frac
from vision.results import NotFound, SizeScores

if TYPE_CHECKING:
    import pytest

    from vision.register import Place
    from vision.results import Package, Quad


def test_the_chip_at_the_same_place_of_the_board_is_picked() -> None:
    scene = place(board(8), Chip())
    meant, at = Chip().outline, view(90, 0.9)
    there = apply_homography(at, meant)
    decoy = package(meant * 0.9 + [280, 300], px_per_mm=None)
    match = match_packages(
        photo(scene),
        package(meant),
        photo(scene, at, seed=2),
        [decoy, package(there, px_per_mm=None)],
    )
    assert not isinstance(match, NotFound)
    before, after, _ = match
    assert np.allclose(before.outline_px, meant)
    assert np.allclose(after.outline_px, there)


def test_no_chip_in_one_photo_says_which() -> None:
    scene = photo(board(9))
    match = match_packages(scene, package(Chip().outline), scene, [])
    assert isinstance(match, NotFound)
    assert "after photo" in match.reason


def test_a_chip_gone_from_its_place_is_said_so() -> None:
    scene = place(board(8), Chip())
    elsewhere = package(np.add(Chip().outline, [200, 150]), px_per_mm=None)
    match = match_packages(
        photo(scene), package(Chip().outline), photo(scene, seed=2), [elsewhere]
    )
    assert isinstance(match, NotFound)
    assert "no chip was found" in match.reason


def test_a_chip_overlooked_in_the_after_photo_is_read_where_it_sat() -> None:
    scene = place(board(8), Chip())
    elsewhere = package(np.add(Chip().outline, [200, 150]), px_per_mm=None)
    there = apply_homography(view(180), Chip().outline)
    asked: list[Quad] = []

    def read_at(corners: Quad) -> Package:
        asked.append(corners)
        return package(there, px_per_mm=None)

    match = match_packages(
        photo(scene),
        package(Chip().outline),
        photo(scene, view(180), seed=2),
        [elsewhere],
        read_at,
    )
    assert not isinstance(match, NotFound)
    assert np.allclose(match[1].outline_px, there)
    assert quad_iou_frac(asked[0], there) > 0.97


def test_where_a_size_is_not_sure_the_leads_of_all_it_may_be_are_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    places: list[Place] = []

    def lay(before: Place, _after: Place) -> NotFound:
        places.append(before)
        return NotFound(reason="not asked here")

    monkeypatch.setattr("vision.match.lay_board", lay)
    scores = {
        ("SOIC", "SOIC-8 3.9x4.9 P1.27"): 0.0,
        ("MSOP", "MSOP-8 3x3 P0.65"): -1.0,
        ("QFP", "LQFP-32 7x7 P0.8"): -9.0,
    }
    scene, sized = photo(board(8)), package(Chip().outline)
    torn = replace(sized, px_per_mm=None, leads=(), size_scores=SizeScores(scores))
    for meant in (torn, replace(torn, size_scores=SizeScores())):
        match_packages(scene, meant, scene, [meant])
    may_be, unknown = places
    assert len(may_be.toes_px) == 16
    assert may_be.px_per_mm is not None
    assert (unknown.toes_px, unknown.px_per_mm) == ((), None)
