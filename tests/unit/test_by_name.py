"""A package that a person names is that package, unless it looks otherwise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.leaning_views import Pose, photograph, same_board
from vision.by_name import name_by_hand, size_both
from vision.package_names import packages_named
from vision.results import SizeScores

BEFORE, AFTER = photograph(Pose())[1], photograph(Pose(0.2, 0.1, 0.5))[1]
"""An SOIC-8 before and after."""
TORN = SizeScores({("SOIC", BEFORE.variant): 0.0, ("MSOP", "MSOP-8 3x3 P0.65"): 0.1})


def unread(package):
    return replace(
        package, family="MSOP", family_confidence=0.5, size_scores=TORN, variant=None,
        leads=(), px_per_mm=None,
    )  # fmt: skip


def test_a_name_gives_both_photos_size_scale_and_leads() -> None:
    named = packages_named("SOIC-8")
    first, second, doubt = size_both(unread(BEFORE), unread(AFTER), same_board(), named)
    assert doubt.state == "ok"
    for given, known in ((first, BEFORE), (second, AFTER)):
        assert (given.family, given.variant) == ("SOIC", known.variant)
        assert given.leads == known.leads
        assert given.px_per_mm == pytest.approx(known.px_per_mm)
        assert given.family_confidence == 1.0


def test_without_a_name_the_photos_tell() -> None:
    first, second, doubt = size_both(BEFORE, AFTER, same_board(), ())
    assert (first, second) == (BEFORE, AFTER)
    assert doubt.state == "ok"


def test_what_was_surely_read_as_something_else_is_a_doubt() -> None:
    sure = replace(BEFORE, family="TSSOP", family_confidence=0.99)
    given, doubt = name_by_hand(sure, packages_named("SOIC-8"))
    assert given == sure
    assert doubt.state == "unsure"
    assert "looks like TSSOP-8" in doubt.reasons[0]


@pytest.mark.parametrize(
    ("scores", "state"),
    [
        ({("MSOP", "MSOP-8 3x3 P0.65"): 0.0}, "unsure"),
        ({("MSOP", "MSOP-8 3x3 P0.65"): 0.0, ("SOIC", BEFORE.variant): -9.0}, "unsure"),
        ({("MSOP", "MSOP-8 3x3 P0.65"): 0.0, ("SOIC", BEFORE.variant): -3.4}, "ok"),
        ({}, "ok"),
    ],
)
def test_what_looks_far_likelier_something_else_is_a_doubt(scores, state) -> None:
    package = replace(unread(BEFORE), size_scores=SizeScores(scores))
    given, doubt = name_by_hand(package, packages_named("SOIC-8"))
    assert doubt.state == state
    assert (given == package) == (state == "unsure")
    assert not doubt.reasons or "looks like MSOP-8" in doubt.reasons[0]


@pytest.mark.parametrize("is_before", [True, False])
def test_a_name_that_one_photo_contradicts_is_given_to_neither(is_before) -> None:
    sure = replace(BEFORE if is_before else AFTER, family_confidence=0.99)
    pair = (sure, unread(AFTER)) if is_before else (unread(BEFORE), sure)
    first, second, doubt = size_both(*pair, same_board(), packages_named("TSSOP-8"))
    assert {first.family, second.family} == {"SOIC"}
    assert first.variant == second.variant == BEFORE.variant
    assert "named TSSOP-8" in doubt.reasons[0]


def test_a_body_of_another_shape_is_not_what_it_is_named() -> None:
    given, doubt = name_by_hand(BEFORE, packages_named("SOIC-28"))
    assert given == BEFORE
    assert doubt.state == "unsure"
    assert "times as long as wide" in doubt.reasons[0]
