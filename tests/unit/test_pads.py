"""Marked contact pads: drawn ones of known stained share, and marks to refuse."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from vision.pads import read_pad
from vision.results import NotFound

MASKS = {"green": (60, 110, 30), "blue": (120, 60, 30), "black": (32, 30, 30)}
METALS = {"gold": (105, 180, 212), "tin": (198, 202, 205), "copper": (95, 140, 200)}
STAINS = {"brown": (30, 50, 80), "black": (25, 25, 28), "grey": (95, 100, 100)}
MARK = (60, 60, 260, 180)
PAD = (75, 72, 245, 168)
NEAR = 0.05
"""Share by which a pad in another light may be misread."""


def drawn(share=0.0, *, mask="green", metal="gold", stain="brown", light=0.0, seed=1):
    """Draw a pad with a stain over a share of it; say the true share."""
    picture = np.empty((240, 320, 3), np.float32)
    picture[:] = MASKS[mask]
    left, top, right, bottom = PAD
    picture[top:bottom, left:right] = METALS[metal]
    inside = np.zeros(picture.shape[:2], bool)
    inside[top:bottom, left:right] = True
    stained = np.zeros_like(inside)
    rng = np.random.default_rng(seed)
    while stained.sum() < share * inside.sum():
        x, y = rng.uniform(left, right), rng.uniform(top, bottom)
        radius = rng.uniform(6, 14)
        rows, cols = np.indices(inside.shape)
        stained |= inside & ((cols - x) ** 2 + (rows - y) ** 2 < radius**2)
    picture[stained] = STAINS[stain]
    slope = 1 + light * np.linspace(-0.5, 0.5, picture.shape[1])[None, :, None]
    soft = cv2.GaussianBlur(picture * slope, (0, 0), 1.0)
    noisy = soft + rng.normal(0, 3, picture.shape)
    return noisy.clip(0, 255).astype(np.uint8), stained.sum() / inside.sum()


def measured(picture, mark=MARK):
    pad = read_pad(picture, mark)
    assert not isinstance(pad, NotFound), pad.reason
    return pad


@pytest.mark.parametrize("mask", MASKS)
@pytest.mark.parametrize("metal", METALS)
@pytest.mark.parametrize("stain", STAINS)
@pytest.mark.parametrize("share", [0.0, 0.1, 0.4, 0.7, 0.9])
def test_the_stained_share_is_measured(mask, metal, stain, share):
    picture, truth = drawn(share, mask=mask, metal=metal, stain=stain)
    pad = measured(picture)
    assert abs(pad.stained_frac - truth) <= pad.u_frac
    assert pad.u_frac < 0.1
    assert (pad.stain & ~pad.metal).sum() == 0


@pytest.mark.parametrize("light", [-0.3, 0.3])
def test_uneven_light_is_no_stain(light):
    assert measured(drawn(light=light)[0]).stained_frac < NEAR


def test_a_reflection_is_no_stain():
    picture, _ = drawn()
    cv2.circle(picture, (160, 120), 11, (235, 248, 252), -1)
    assert measured(picture).stained_frac < NEAR


@pytest.mark.parametrize("factor", [0.7, 1.1])
def test_a_darker_or_lighter_photo_gives_the_same_share(factor):
    picture, truth = drawn(0.3)
    lit = (picture * factor).clip(0, 255).astype(np.uint8)
    assert abs(measured(lit).stained_frac - truth) <= NEAR


def test_a_mark_may_be_given_from_any_corner():
    picture, _ = drawn(0.3)
    turned = (MARK[2], MARK[1], MARK[0], MARK[3])
    assert measured(picture, turned).stained_frac == measured(picture).stained_frac


def whole_of(colour):
    picture = drawn()[0]
    picture[PAD[1] : PAD[3], PAD[0] : PAD[2]] = colour
    return picture


@pytest.mark.parametrize(
    ("picture", "mark", "said"),
    [
        (drawn()[0], (60, 60, 70, 180), "10 by 120 px of the photo; 16"),
        (drawn()[0], (400, 300, 500, 400), "0 by 0 px"),
        (drawn()[0], (2, 2, 50, 50), "px stand out from the board"),
        (drawn()[0], (110, 90, 210, 150), "px stand out from the board"),
        (drawn()[0], (160, 60, 260, 180), "runs out of the mark"),
        (drawn(1.0)[0], MARK, "no clean, light metal"),
        (whole_of((90, 90, 90)), MARK, "no clean, light metal"),
        (whole_of((255, 255, 255)), MARK, "100 % of the pad shines"),
    ],
    ids=[
        "small",
        "outside",
        "board",
        "inside-the-pad",
        "half-the-pad",
        "all-stained",
        "dark",
        "glare",
    ],
)
def test_what_cannot_be_measured_says_why(picture, mark, said):
    pad = read_pad(picture, mark)
    assert isinstance(pad, NotFound), pad
    assert said in pad.reason
