"""Lands of a leaning photo, laid flat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.benchmark.given_lands import affine_of, bare_lands
from vision.flat_lands import laid_flat
from vision.geometry import apply_homography
from vision.lands import corners_mm, strips_of
from vision.tables import land_positions, variant_named

VARIANT = variant_named("SOIC", "SOIC-8 3.9x4.9 P1.27")
DRAWN = strips_of(land_positions(VARIANT))
LEANING = np.array([[40.0, 3.0, 900.0], [-2.0, 38.0, 700.0], [0.003, -0.002, 1.0]])


def as_found(drawn=DRAWN, places=DRAWN):
    """What reading gives: an affine frame, toes and sides as seen in it."""
    centres = np.array([land.centre_mm for land in places])
    to_photo = affine_of(centres, apply_homography(LEANING, centres))
    back = np.linalg.inv(to_photo) @ LEANING
    found = []
    for land in drawn:
        quad = apply_homography(back, corners_mm(land))
        toe, heel = (quad[1] + quad[2]) / 2, (quad[0] + quad[3]) / 2
        way = (toe - heel) / np.linalg.norm(toe - heel)
        x, y = toe - way * land.length_mm / 2
        found.append(replace(land, centre_mm=(x, y), outward=tuple(way)))
    return bare_lands(VARIANT, to_photo, found, 39.0)


def test_lands_of_a_leaning_photo_come_to_lie_as_drawn() -> None:
    found = as_found()
    off = [
        np.subtract(a.centre_mm, b.centre_mm)
        for a, b in zip(found.lands, DRAWN, strict=True)
    ]
    assert np.abs(off).max() > 0.03
    flat = laid_flat(found)
    for land, drawn in zip(flat.lands, DRAWN, strict=True):
        assert land.centre_mm == pytest.approx(drawn.centre_mm, abs=0.006)
        assert land.outward == pytest.approx(drawn.outward, abs=0.003)
    seen = apply_homography(np.array(flat.to_photo), [d.centre_mm for d in DRAWN])
    true = apply_homography(LEANING, [d.centre_mm for d in DRAWN])
    assert np.abs(seen - true).max() < 0.3


def test_a_land_off_its_place_stays_off_it() -> None:
    x, y = DRAWN[2].centre_mm
    moved = [replace(d, centre_mm=(x, y + 0.3)) if d is DRAWN[2] else d for d in DRAWN]
    flat = laid_flat(as_found(moved))
    assert flat.lands[2].centre_mm[1] - y == pytest.approx(0.3, abs=0.03)
    others = [k for k in range(len(DRAWN)) if k != 2]
    for k in others:
        assert flat.lands[k].centre_mm == pytest.approx(DRAWN[k].centre_mm, abs=0.03)


def test_few_lands_are_left_as_they_are() -> None:
    found = as_found()
    few = replace(found, lands=found.lands[:5])
    assert laid_flat(few) is few
