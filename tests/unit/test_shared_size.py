from __future__ import annotations

import dataclasses

import pytest

from tests.leaning_views import Pose, photograph, same_board
from tests.tolerances import SCALE_FRAC
from vision.results import Pin1
from vision.shared_size import share_size, size_like

BEFORE, AFTER = photograph(Pose())[1], photograph(Pose(0.2, 0.1, 0.5))[1]


def unnamed(package, **changes):
    return dataclasses.replace(
        package, px_per_mm=None, variant=None, leads=(), family="MSOP", **changes
    )


def test_a_photo_without_size_takes_it_from_the_other() -> None:
    first, second = share_size(BEFORE, unnamed(AFTER), same_board())
    assert first == BEFORE
    assert second.px_per_mm == pytest.approx(AFTER.px_per_mm, rel=SCALE_FRAC)
    assert second.variant == AFTER.variant
    assert second.leads == AFTER.leads
    assert second.family == "MSOP"
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


def test_another_body_gets_no_size_of_the_old_one() -> None:
    (x, y), *_ = AFTER.outline_px
    larger = tuple((x + 1.4 * (a - x), y + 1.4 * (b - y)) for a, b in AFTER.outline_px)
    other = unnamed(AFTER, outline_px=larger)
    assert share_size(BEFORE, other, same_board()) == (BEFORE, other)


@pytest.mark.parametrize(
    ("shares", "other", "is_sized"),
    [
        ((0.69, 0.67), AFTER.variant, True),
        ((0.55, 0.50), AFTER.variant, False),
        ((0.69, 0.67), "SOIC-16 3.9x9.9 P1.27", False),
        ((0.69, 0.67), None, False),
    ],
)
def test_two_half_sure_photos_are_sure_together_of_one_size(shares, other, is_sized):
    half_sure = [
        dataclasses.replace(
            package, px_per_mm=None, variant=None, leads=(), family_confidence=share,
            likely_variant=likely,
        )
        for package, share, likely in zip(
            (BEFORE, AFTER), shares, (BEFORE.variant, other), strict=True
        )
    ]  # fmt: skip
    first, second = share_size(*half_sure, same_board())
    assert (first.variant == BEFORE.variant) == is_sized
    assert (second.variant == BEFORE.variant) == is_sized
    assert (first.leads == BEFORE.leads) == is_sized


def test_where_both_know_nothing_is_changed() -> None:
    assert share_size(BEFORE, AFTER, same_board()) == (BEFORE, AFTER)


def test_a_chip_whose_leads_were_found_again_takes_the_size_of_before() -> None:
    misnamed = dataclasses.replace(AFTER, variant="other", leads=AFTER.leads[:2])
    assert size_like(BEFORE, misnamed, same_board()).leads == AFTER.leads
