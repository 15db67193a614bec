"""The rhythm of the leads tells sizes of one shape apart."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tests.unit.drawn_leads import SCALE_FRAC, SIZE_PX, drawn
from vision.leads import log_odds, name_package, rows_differ
from vision.rhythm import cut_lead_strips, lead_evidence
from vision.tables import lead_positions, variants_of


@pytest.mark.parametrize(
    ("family", "count"),
    [
        ("SOIC", 14),
        ("SOIC", 16),
        ("SOIC", 18),
        ("TSSOP", 20),
        ("TSOP", 54),
        ("QFP", 44),
        ("QFP", 144),
    ],
)
@pytest.mark.parametrize("off_frac", [-0.02, 0.0, 0.02])
def test_the_true_count_beats_every_other_count_of_its_family(family, count, off_frac):
    variant = variants_of(family, count)[0]
    strips = cut_lead_strips(*drawn(variant, off_frac=off_frac))
    evidence = {}
    for other in variants_of(family):
        aspect = other.body_y_mm[1] / other.body_x_mm[1]
        if 0.8 < aspect * variant.body_x_mm[1] / variant.body_y_mm[1] < 1.25:
            (one,) = lead_evidence(strips, [other])
            best = evidence.get(other.lead_count, 0.0)
            evidence[other.lead_count] = max(one.rhythm, best)
    assert max(evidence, key=evidence.__getitem__) == count
    assert evidence[count] > 0.5


def test_the_rhythm_overrules_a_network_that_miscounts():
    variant = variants_of("SOIC", 18)[0]
    strips = cut_lead_strips(*drawn(variant))
    aspect = variant.body_y_mm[1] / variant.body_x_mm[1]
    count_share = {16: 0.6, 20: 0.25, 18: 0.15}
    assert name_package({"SOIC": 1.0}, count_share, aspect, strips).lead_count == 18


@pytest.mark.parametrize("count", [3, 4, 5])
def test_unlike_rows_tell_which_way_round_a_package_lies(count):
    variant = variants_of("SOT", count)[0]
    strips = cut_lead_strips(*drawn(variant))
    aspect = variant.body_y_mm[1] / variant.body_x_mm[1]
    as_drawn, turned = (
        name_package({"SOT": 1.0}, {count: 1.0}, aspect, np.roll(strips, -k, axis=0))
        for k in (0, 2)
    )
    assert rows_differ(as_drawn)
    assert log_odds(as_drawn, turned) > 0.5
    assert log_odds(turned, as_drawn) == -log_odds(as_drawn, turned)


def test_rows_that_are_alike_tell_nothing():
    variant = variants_of("SOIC", 8)[0]
    strips = cut_lead_strips(*drawn(variant))
    aspect = variant.body_y_mm[1] / variant.body_x_mm[1]
    assert not rows_differ(name_package({"SOIC": 1.0}, {8: 1.0}, aspect, strips))


def test_nothing_beside_the_body_shows_no_rhythm():
    variant = variants_of("SOIC", 16)[0]
    _, corners = drawn(variant)
    rng = np.random.default_rng(5)
    plain = rng.normal(90, 4, (SIZE_PX, SIZE_PX, 3)).astype(np.uint8)
    strips = cut_lead_strips(plain, corners)
    assert lead_evidence(strips, [variant])[0].rhythm < 0.1


@pytest.mark.parametrize(("family", "shown_mm"), [("QFP", 1.2), ("QFN", 0.35)])
def test_fillets_of_a_leadless_package_are_not_the_leads_of_a_qfp(family, shown_mm):
    """Both have 48 leads on four sides of 7 mm; the network believes in a QFP."""
    pixels, corners = drawn(variants_of("QFN", 48)[0])
    scale = SCALE_FRAC * SIZE_PX / 7.0
    for place in lead_positions(variants_of("QFN", 48)[0]):
        root = np.array(place.root_mm)
        out = root + shown_mm * np.sign(root) * (np.abs(root) > 3.4)
        first, last = np.round(np.array([root, out]) * (1, -1) * scale + SIZE_PX / 2)
        ends = first.astype(int), last.astype(int)
        cv2.line(pixels, *ends, (190, 190, 190), round(0.22 * scale))
    strips = cut_lead_strips(pixels, corners)
    named = name_package({"QFP": 0.75, "QFN": 0.25}, {48: 1.0}, 1.0, strips)
    assert named.family == family
