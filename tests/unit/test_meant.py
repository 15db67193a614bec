"""The package meant is the one pointed at, else the one in the middle, else none."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from vision.meant import choose_meant, meant_first
from vision.results import Finding, NotFound, Package, Photo, PhotoReport, Pin1

PHOTO = Photo(
    path=Path("photo.jpg"), sha256="", width_px=1000, height_px=800,
    pixels=np.zeros((1, 1, 3), np.uint8),
)  # fmt: skip


def body(x, y, size=100.0):
    h = size / 2
    return Package(
        outline_px=((x - h, y - h), (x - h, y + h), (x + h, y + h), (x + h, y - h)),
        confidence=1.0, family="SOIC", family_confidence=1.0, lead_count=8,
        pin1=Pin1(state="ok", confidence=1.0),
    )  # fmt: skip


def seen(*packages, unread=()):
    return PhotoReport(
        photo=PHOTO, quality=Finding(state="ok"), packages=packages,
        unread_px=tuple(p.outline_px for p in unread),
    )  # fmt: skip


def test_the_small_one_under_the_middle_wins_over_a_large_neighbour():
    small, large = body(510, 390, 60), body(700, 400, 300)
    assert choose_meant(seen(large, small)) == (small,)


def test_of_two_drawn_over_one_another_the_better_is_taken():
    better, worse = body(500, 400, 200), body(480, 380, 80)
    assert choose_meant(seen(better, worse)) == (better,)


def test_beside_the_middle_the_only_one_is_taken():
    near, far = body(570, 400), body(900, 100)
    assert choose_meant(seen(far, near)) == (near,)


def test_two_beside_the_middle_are_not_guessed_between():
    both = body(570, 400), body(425, 400)
    assert choose_meant(seen(*both, body(900, 100))) == both


def test_off_the_middle_every_large_one_is_taken_the_nearest_first():
    near, far = body(200, 400, 250), body(800, 150, 200)
    assert choose_meant(seen(far, near, body(300, 700, 60))) == (near, far)


def test_what_could_not_be_read_about_the_middle_may_be_the_one_meant():
    large = body(200, 400, 250)
    assert choose_meant(seen(large, unread=[body(480, 380, 40)])) == (large,)
    assert isinstance(choose_meant(seen(large, unread=[body(480, 380)])), NotFound)


@pytest.mark.parametrize(
    "packages",
    [
        [],
        [body(900, 100)],
        [body(40, 400, 250)],
        [replace(body(200, 400, 250), confidence=0.6)],
    ],
    ids=["none", "small", "cut off by the edge", "not sure"],
)
def test_none_in_the_middle_is_said(packages):
    assert isinstance(choose_meant(seen(*packages)), NotFound)


def test_the_place_pointed_at_decides():
    here, there = body(500, 400), body(900, 100)
    assert choose_meant(seen(here, there), (905, 96)) == (there,)
    assert isinstance(choose_meant(seen(here, there), (10, 10)), NotFound)


def test_the_package_meant_comes_first_and_a_doubt_is_told():
    far, near = body(900, 100), body(500, 400)
    report = meant_first(seen(far, near))
    assert report.packages == (near, far)
    assert report.meant.state == "ok"
    both = body(430, 400), body(590, 400)
    torn = meant_first(seen(*both))
    assert set(torn.packages) == set(both)
    assert torn.meant.state == "unsure"
    assert "any of 2" in torn.meant.reasons[0]
    cut_off = meant_first(seen(body(40, 400, 250)))
    assert cut_off.meant.state == "unsure"
    assert len(cut_off.packages) == 1
