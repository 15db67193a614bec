"""A package that is turned is noticed, wherever it lies in the photo."""

from __future__ import annotations

import numpy as np

from tests.synthetic_pairs import Chip, board, package, photo, place
from vision.changed import overlooked_packages, turned_packages
from vision.results import Registration

STILL = Registration(
    before_to_after=((1.0, 0, 0), (0, 1.0, 0), (0, 0, 1.0)),
    inliers=200,
    residual_px=0.3,
)
MOVED = Registration(
    before_to_after=((1.0, 0, 30.0), (0, 1.0, -20.0), (0, 0, 1.0)),
    inliers=200,
    residual_px=0.3,
)
BEFORE = package(Chip().outline)
SCENE = board(4)


def found(chip, at=None):
    return turned_packages(
        photo(place(SCENE, Chip())),
        [BEFORE],
        photo(place(SCENE, chip), seed=2),
        [package((at or chip).outline)],
        STILL,
    )


def test_a_turned_package_is_found_by_its_looks():
    assert found(Chip(turn_deg=180)) == (BEFORE,)


def test_one_that_sits_as_before_is_not():
    assert found(Chip()) == ()


def test_one_that_is_no_longer_there_is_left_to_the_other_checks():
    assert found(Chip(turn_deg=180), at=Chip(dx_mm=5.0)) == ()


def test_too_small_a_body_is_not_judged():
    small = package((np.array(Chip().outline) - 450) * 0.1 + 450)
    scene = photo(place(SCENE, Chip()))
    assert turned_packages(scene, [small], scene, [small], STILL) == ()


def moved_by(*px):
    return package(np.array(Chip().outline) + np.array(px))


def looked_again(after, there, before=()):
    """What is found at places that only the photo after shows; and those places."""
    asked = []

    def read_at(corners):
        asked.append(corners)
        return there

    return overlooked_packages(before, [after], MOVED, read_at), asked


def test_a_package_that_only_the_photo_after_shows_is_looked_for_in_the_one_before():
    moved = moved_by(30, -20)
    found_again, asked = looked_again(moved, BEFORE)
    assert found_again == (BEFORE,)
    np.testing.assert_allclose(asked, [BEFORE.outline_px], atol=1e-9)


def test_nothing_is_looked_for_where_the_photo_before_shows_a_package():
    moved = moved_by(30, -20)
    assert looked_again(moved, BEFORE, before=[BEFORE]) == ((), [])


def test_nothing_is_found_where_nothing_is_or_something_beside_it():
    moved = moved_by(30, -20)
    aside = moved_by(400, 0)
    assert looked_again(moved, None)[0] == ()
    assert looked_again(moved, aside)[0] == ()


def test_too_small_a_body_is_not_looked_for():
    small = package((np.array(Chip().outline) - 450) * 0.1 + 450)
    assert looked_again(small, small) == ((), [])
