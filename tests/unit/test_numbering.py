"""One number is one lead in all that is said of a pair, whichever photo shows pin 1."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from vision.leads import sized_as
from vision.pipeline import compare_looks, look
from vision.results import BY_HAND, Pin1
from vision.tables import variant_named

SAMPLES = Path(__file__).parents[2] / "sample_images"
UNKNOWN = Pin1(state="unsure", confidence=0.5, reasons=("no mark was made out",))


@pytest.fixture(scope="module")
def before():
    return look(SAMPLES / "donor_before.jpg", reads_joints=False)


def without_pin1(report, turn):
    """Give a report whose main package starts elsewhere, its pin 1 unknown."""
    main = report.packages[0]
    outline = main.outline_px[turn:] + main.outline_px[:turn]
    main = replace(main, outline_px=outline, pin1=UNKNOWN)
    main = sized_as(main, variant_named(main.family, main.variant))
    return replace(report, packages=(main, *report.packages[1:]))


def true_toes(name):
    photos = tomllib.loads((SAMPLES / "truth.toml").read_text("utf-8"))["photo"]
    return next(p["chip"]["lead_toe_px"] for p in photos if p["file"] == name)


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_leads_lie_where_their_numbers_say_though_only_before_shows_pin_1(before, turn):
    name = "after_bridged.jpg"
    after = without_pin1(look(SAMPLES / name, reads_joints=False), turn)
    found = compare_looks(before, after)
    assert [bridge.between for bridge in found.bridges] == [(2, 3)]
    toes = np.array([lead.toe_px for lead in found.after_package.leads])
    off_px = np.hypot(*(toes - true_toes(name)).T)
    assert off_px.max() < 0.3 * np.hypot(*np.subtract(*true_toes(name)[:2]))


def test_overhang_is_told_of_the_same_leads_though_only_after_shows_pin_1(before):
    after = look(SAMPLES / "after_shifted.jpg", reads_joints=False)
    known = compare_looks(before, after)
    found = compare_looks(without_pin1(before, 2), after)
    assert found.is_numbered
    assert {row.lead for row in known.overhang if row.state == "fault"} == {1, 2, 3, 4}
    assert [(row.lead, row.state) for row in found.overhang] == [
        (row.lead, row.state) for row in known.overhang
    ]


def test_pin_1_set_by_hand_outweighs_a_less_sure_one_of_the_other_photo(before):
    misread = without_pin1(before, 2)
    main = replace(misread.packages[0], pin1=Pin1(state="ok", confidence=0.85))
    misread = replace(misread, packages=(main, *misread.packages[1:]))
    after = look(SAMPLES / "after_bridged.jpg", reads_joints=False)
    by_hand = Pin1(state="ok", confidence=1.0, reasons=(BY_HAND,))
    main = replace(after.packages[0], pin1=by_hand)
    found = compare_looks(misread, replace(after, packages=(main, *after.packages[1:])))
    assert found.orientation.turn_deg == 0
    assert [bridge.between for bridge in found.bridges] == [(2, 3)]
    assert found.after_package.outline_px == main.outline_px
