"""What a person sets right stands, and the rest is read on top of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from vision.by_hand import ByHand, apply_by_hand
from vision.errors import PhotoError
from vision.geometry import signed_area_px2
from vision.leads import sized_as
from vision.load import load_photo
from vision.package_names import packages_named
from vision.pipeline import compare, compare_looks, look
from vision.results import BY_HAND, Finding, PhotoReport
from vision.tables import variant_named

PHOTO = Path(__file__).parents[2] / "sample_images" / "patient_before.jpg"
TRUTH = ((575.3, 688.02), (961.26, 752.93), (1006.24, 446.29), (622.75, 382.91))


@pytest.fixture(scope="module")
def photo():
    return load_photo(PHOTO)


@pytest.fixture(scope="module")
def found():
    return look(PHOTO).packages


def test_nothing_set_right_changes_nothing(photo, found):
    assert apply_by_hand(photo, found, ByHand()) is found
    assert not ByHand()


def test_an_outline_set_by_hand_stands_to_the_pixel(photo, found):
    clockwise = tuple(reversed(TRUTH))
    first, *others = apply_by_hand(photo, found, ByHand(outline_px=clockwise))
    assert {tuple(p) for p in first.outline_px} == set(TRUTH)
    assert signed_area_px2(first.outline_px) > 0
    assert len(others) == len(found) - 1
    assert first.lead_count == 8
    assert first.pin1.state == "ok"
    assert first.outline_px[0] == TRUTH[0]


@pytest.mark.parametrize(
    ("family", "name"), [("QFP", "LQFP-64 14x14 P0.8"), ("QFN", "QFN-16 4x4 P0.65")]
)
def test_pin_1_set_by_hand_leaves_the_size_that_was_read(photo, found, family, name):
    corners = np.array([[100.0, 300.0], [300.0, 300.0], [300.0, 100.0], [100.0, 100.0]])
    square = tuple(map(tuple, corners))
    size = variant_named(family, name)
    read = sized_as(
        replace(found[0], outline_px=square, family=family, lead_count=size.lead_count),
        size,
    )
    at_px = (305.0, 95.0)
    first = apply_by_hand(photo, (read,), ByHand(pin1_px=at_px))[0]
    assert (first.variant, first.px_per_mm) == (name, pytest.approx(read.px_per_mm))
    assert first.outline_px[0] == (300.0, 100.0)


@pytest.mark.parametrize("corner", range(4))
def test_pin_1_set_by_hand_renumbers_the_leads(photo, found, corner):
    at_px = tuple(np.array(TRUTH[corner]) + 3.0)
    first = apply_by_hand(photo, found, ByHand(pin1_px=at_px))[0]
    assert np.hypot(*(np.array(first.outline_px[0]) - TRUTH[corner])) < 15
    assert first.pin1.state == "ok"
    assert first.pin1.reasons == (BY_HAND,)
    assert first.pin1.evidence == ()
    if first.leads:  # a size that fits this way round
        near = np.hypot(*(np.array(first.leads[0].toe_px) - first.outline_px[0]))
        far = np.hypot(*(np.array(first.leads[0].toe_px) - first.outline_px[2]))
        assert near < far
    else:
        assert first.px_per_mm is None


def test_an_outline_around_nothing_says_that_nothing_was_read(photo, found):
    bare = ((20.0, 20.0), (20.0, 120.0), (140.0, 120.0), (140.0, 20.0))
    first = apply_by_hand(photo, found, ByHand(outline_px=bare))[0]
    assert {tuple(p) for p in first.outline_px} == set(bare)
    assert first.pin1.state == "unsure"
    assert first.pin1.reasons


def test_a_crossed_outline_is_refused(photo, found):
    a, b, c, d = TRUTH
    with pytest.raises(ValueError, match="not the corners"):
        apply_by_hand(photo, found, ByHand(outline_px=(a, c, b, d)))


def test_a_pin_1_without_a_chip_is_no_chip(photo):
    assert apply_by_hand(photo, (), ByHand(pin1_px=(1.0, 1.0))) == ()


def test_a_package_named_by_hand_gives_size_and_leads(photo, found):
    torn = replace(found[0], family="MSOP", variant=None, leads=(), px_per_mm=None)
    named = ByHand(package=packages_named("SOIC-8"))
    first = apply_by_hand(photo, (torn, *found[1:]), named)[0]
    assert (first.family, first.lead_count, len(first.leads)) == ("SOIC", 8, 8)


def test_a_name_that_a_sure_reading_contradicts_waits_for_the_pair_to_say_so(
    photo, found
):
    sure = replace(found[0], family="TSSOP", family_confidence=0.99)
    named = ByHand(package=packages_named("SOIC-8"))
    assert apply_by_hand(photo, (sure,), named) == (sure,)


def test_a_place_says_which_chip_is_meant_and_a_name_does_not():
    assert ByHand(pin1_px=(1.0, 1.0)).points_at_chip
    assert ByHand(outline_px=TRUTH).points_at_chip
    assert not ByHand(package=packages_named("SOIC-8")).points_at_chip


def test_a_name_on_a_photo_without_a_chip_is_answered_and_not_a_crash(photo):
    none = PhotoReport(photo=photo, quality=Finding(state="ok"), packages=())
    negative = replace(photo, sha256="another", pixels=255 - photo.pixels)
    other = replace(none, photo=negative)
    for chosen in ((False, False), (True, False), (True, True)):
        answer = compare_looks(none, other, chosen=chosen)
        assert answer.decision == "retake"


def test_an_outline_set_in_the_photo_after_is_the_chip_that_is_compared():
    bare = ((100.0, 300.0), (300.0, 300.0), (300.0, 100.0), (100.0, 100.0))
    answer = compare(
        PHOTO.with_name("donor_before.jpg"),
        PHOTO.with_name("after_good.jpg"),
        by_hand=(ByHand(), ByHand(outline_px=bare)),
    )
    assert answer.decision == "retake"


def test_a_photo_is_not_compared_with_itself(photo):
    report = PhotoReport(photo=photo, quality=Finding(state="ok"), packages=())
    with pytest.raises(PhotoError, match="the photo before once more"):
        compare_looks(report, report)
