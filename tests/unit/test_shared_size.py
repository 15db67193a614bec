from __future__ import annotations

import dataclasses
import math

import pytest

from tests.leaning_views import Pose, photograph, same_board
from tests.tolerances import SCALE_FRAC
from vision.results import Pin1, SizeScores
from vision.shared_size import leadless_share, share_size, size_like

BEFORE, AFTER = photograph(Pose())[1], photograph(Pose(0.2, 0.1, 0.5))[1]
OWN = BEFORE.variant


def unnamed(package, **changes):
    guess = {"family": "MSOP", "family_confidence": 0.5} | changes
    return dataclasses.replace(package, px_per_mm=None, variant=None, leads=(), **guess)


def test_a_photo_without_size_takes_it_from_the_other() -> None:
    first, second = share_size(BEFORE, unnamed(AFTER), same_board())
    assert first == BEFORE
    assert second.px_per_mm == pytest.approx(AFTER.px_per_mm, rel=SCALE_FRAC)
    assert second.variant == AFTER.variant
    assert second.leads == AFTER.leads
    assert second.family == "SOIC"
    first, second = share_size(unnamed(BEFORE), AFTER, same_board())
    assert first.leads == BEFORE.leads
    assert second == AFTER


def test_without_pin_1_the_leads_start_as_in_the_other_photo() -> None:
    turned = AFTER.outline_px[1:] + AFTER.outline_px[:1]
    unread = unnamed(
        AFTER, outline_px=turned, pin1=Pin1(state="unsure", confidence=0.3)
    )
    _, second = share_size(BEFORE, unread, same_board())
    assert second.leads == AFTER.leads


@pytest.mark.parametrize("is_before", [True, False])
def test_a_sure_family_takes_no_size_of_another(is_before) -> None:
    if is_before:
        pair = unnamed(BEFORE, family_confidence=0.9), AFTER
    else:
        pair = BEFORE, unnamed(AFTER, family_confidence=0.9)
    assert share_size(*pair, same_board()) == pair


def test_another_body_gets_no_size_of_the_old_one() -> None:
    (x, y), *_ = AFTER.outline_px
    larger = tuple((x + 1.4 * (a - x), y + 1.4 * (b - y)) for a, b in AFTER.outline_px)
    other = unnamed(AFTER, outline_px=larger)
    assert share_size(BEFORE, other, same_board()) == (BEFORE, other)


SOIC_16, SOIC_20 = "SOIC-16 3.9x9.9 P1.27", "SOIC-20W 7.5x12.8 P1.27"


def half_sure(package, by_size, other_share=0.0):
    scores = SizeScores({("SOIC", k): v for k, v in by_size.items()}, other_share)
    return dataclasses.replace(
        package, px_per_mm=None, variant=None, leads=(), size_scores=scores
    )


@pytest.mark.parametrize(
    ("before", "after", "other_share", "is_sized"),
    [
        ({SOIC_16: -2.0, OWN: 0.0}, {SOIC_16: -2.5, OWN: 0.0}, 0.0, True),
        ({SOIC_16: -0.5, OWN: 0.0}, {SOIC_16: -0.5, OWN: 0.0}, 0.0, False),
        ({SOIC_16: -2.0, OWN: 0.0}, {SOIC_16: 0.0, OWN: -2.0}, 0.0, False),
        ({SOIC_16: -6.0, OWN: 0.0}, {SOIC_20: 0.0, OWN: -0.1}, 0.0, True),
        ({SOIC_16: -4.0, OWN: 0.0}, {SOIC_16: -4.0, OWN: 0.0}, 0.4, False),
        ({SOIC_16: -4.0, OWN: 0.0}, {}, 0.0, False),
    ],
)
def test_two_half_sure_photos_are_sure_together_of_one_size(
    before, after, other_share, is_sized
):
    packages = half_sure(BEFORE, before, other_share), half_sure(AFTER, after)
    first, second = share_size(*packages, same_board())
    assert (first.variant == OWN) == is_sized
    assert (second.variant == OWN) == is_sized
    assert (first.leads == BEFORE.leads) == is_sized


def test_a_family_that_was_a_guess_is_that_of_the_size_settled_together():
    scores = {OWN: 0.0, SOIC_16: -6.0}
    guess = {"family": "MSOP", "lead_count": 10, "family_confidence": 0.5}
    other = dataclasses.replace(half_sure(AFTER, scores), **guess)
    first, second = share_size(half_sure(BEFORE, scores), other, same_board())
    assert (second.family, second.lead_count) == (first.family, 8) == ("SOIC", 8)
    assert second.variant == OWN


def test_no_size_is_settled_against_a_family_that_one_photo_is_sure_of():
    scores = {OWN: 0.0, SOIC_16: -6.0}
    other = dataclasses.replace(
        half_sure(AFTER, scores), family="MSOP", family_confidence=0.9
    )
    first = half_sure(BEFORE, scores)
    assert share_size(first, other, same_board()) == (first, other)


def test_where_both_know_nothing_is_changed() -> None:
    assert share_size(BEFORE, AFTER, same_board()) == (BEFORE, AFTER)


def test_a_chip_whose_leads_were_found_again_takes_the_size_of_before() -> None:
    misnamed = dataclasses.replace(AFTER, variant="other", leads=AFTER.leads[:2])
    like = size_like(BEFORE, misnamed, same_board())
    assert like.leads == AFTER.leads
    assert (like.family, like.variant) == (BEFORE.family, BEFORE.variant)


@pytest.mark.parametrize(
    ("scores", "share"),
    [
        (((0.0, -3.0), (0.0, -5.0)), 1 / (1 + math.exp(6.0))),
        (((0.0, 1.0), (0.0, -1.0)), 0.5),
        (((0.0, None), (0.0, None)), 0.0),
        (((None, 0.0), (None, 0.0)), 1.0),
    ],
)
def test_both_photos_tell_how_likely_a_package_has_no_leads(scores, share) -> None:
    sizes = ("QFP", "LQFP-64 14x14 P0.8"), ("QFN", "QFN-64 9x9 P0.5")
    before, after = (
        unnamed(
            package,
            size_scores=SizeScores(
                {k: s for k, s in zip(sizes, row, strict=True) if s is not None}
            ),
        )
        for package, row in zip((BEFORE, AFTER), scores, strict=True)
    )
    assert leadless_share(before, after) == pytest.approx(share, abs=1e-9)


def test_where_no_size_was_thought_of_nothing_is_said_to_be_leadless() -> None:
    assert leadless_share(unnamed(BEFORE), unnamed(AFTER)) == 0.0


def test_a_photo_that_thought_of_no_size_leaves_it_to_the_other() -> None:
    scores = SizeScores({("SON", "WSON-8 6x5 P1.27"): 0.0, (BEFORE.family, OWN): 0.0})
    told = dataclasses.replace(BEFORE, size_scores=scores)
    silent = dataclasses.replace(AFTER, family="other", size_scores=SizeScores())
    one = leadless_share(told, silent)
    assert 0 < one < 1
    assert leadless_share(silent, told) == one
