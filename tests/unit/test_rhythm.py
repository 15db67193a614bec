"""The rhythm of the leads tells sizes of one shape apart."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from vision.geometry import apply_homography, body_corners_mm, homography
from vision.leads import name_package
from vision.rhythm import cut_lead_strips, lead_evidence
from vision.tables import lead_positions, variants_of

SIZE_PX, SCALE_FRAC = 900, 0.5


def drawn(variant, *, off_frac=0.0, noise=6.0):
    """A plain picture of a package and the outline, a little off."""
    body = body_corners_mm(variant.body_x_mm[1], variant.body_y_mm[1])
    scale = SCALE_FRAC * SIZE_PX / max(variant.body_x_mm[1], variant.body_y_mm[1])
    corners = body * scale + SIZE_PX / 2
    to_picture = homography(body, corners)
    picture = np.full((SIZE_PX, SIZE_PX), 70, np.uint8)
    cv2.fillConvexPoly(picture, np.round(corners).astype(np.int32), 30)
    for place in lead_positions(variant):
        ends = apply_homography(to_picture, np.array([place.toe_mm, place.heel_mm]))
        ends = [tuple(round(v * 16) for v in e) for e in ends]
        width = max(1, round(place.width_mm * scale))
        cv2.line(picture, *ends, 190, width, cv2.LINE_AA if width > 1 else 8, 4)
    rng = np.random.default_rng(3)
    noisy = picture[..., None] + rng.normal(0, noise, (SIZE_PX, SIZE_PX, 3))
    pixels = noisy.clip(0, 255).astype(np.uint8)
    return pixels, corners * (1 + off_frac) - (off_frac * SIZE_PX / 2)


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
