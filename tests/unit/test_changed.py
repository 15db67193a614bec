"""A package that is turned is noticed, wherever it lies in the photo."""

from __future__ import annotations

import numpy as np

from tests.synthetic_pairs import Chip, board, package, photo, place
from vision.changed import turned_packages
from vision.results import Registration

STILL = Registration(
    before_to_after=((1.0, 0, 0), (0, 1.0, 0), (0, 0, 1.0)),
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
