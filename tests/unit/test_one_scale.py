"""What one package says of the photo's scale tells the sizes of the others."""

from __future__ import annotations

import numpy as np
import pytest

from vision.geometry import body_corners_mm, to_points
from vision.leads import settle
from vision.one_scale import share_scale
from vision.results import Package, Pin1, SizeScores
from vision.tables import families, variants_of

WIDE, THIN = "SOIC-20W 7.5x12.8 P1.27", "TSSOP-20 4.4x6.5 P0.65"
TORN = {("SOIC", WIDE): -0.6, ("TSSOP", THIN): 0.0}
"""Two sizes of one rhythm and nearly one shape, the smaller a little likelier."""
NARROW = {
    ("SOIC", "SOIC-8 3.9x4.9 P1.27"): 0.0,
    ("MSOP", "MSOP-8 3x3 P0.65"): -6.0,
}
PX_PER_MM = 20.0


def seen(scores, size, px_per_mm=PX_PER_MM, confidence=0.95):
    """A package whose sizes are believed so, its body as large as one size's is."""
    every = (v for family in families() for v in variants_of(family))
    true = next(v for v in every if v.name == size)
    body = body_corners_mm(true.body_x_mm[1], true.body_y_mm[1])
    a, b, c, d = to_points(300 + px_per_mm * np.asarray(body))
    named = settle(SizeScores(scores))
    return Package(
        outline_px=(a, b, c, d),
        confidence=confidence,
        family=named.family,
        family_confidence=named.family_share,
        lead_count=named.lead_count,
        pin1=Pin1(state="unsure", confidence=0.3),
        size_scores=named.scores,
    )


@pytest.mark.parametrize(("family", "size"), [("SOIC", WIDE), ("TSSOP", THIN)])
def test_a_size_in_doubt_is_the_one_of_the_photos_scale(family, size):
    torn = seen(TORN, size)
    assert torn.variant is None
    for beside in ([seen(NARROW, "SOIC-8 3.9x4.9 P1.27")], [torn] * 2):
        told = share_scale([torn, *beside, seen(NARROW, "SOIC-8 3.9x4.9 P1.27")])[0]
        assert (told.family, told.variant) == (family, size)
        assert told.px_per_mm == pytest.approx(PX_PER_MM)
        assert len(told.leads) == 20


def test_a_package_alone_stays_as_it_was():
    torn = seen(TORN, WIDE)
    nothing = Package(
        outline_px=torn.outline_px,
        confidence=0.9,
        family="other",
        family_confidence=0.9,
        lead_count=24,
        pin1=torn.pin1,
    )
    assert share_scale([torn]) == [torn]
    assert share_scale([torn, nothing]) == [torn, nothing]
    assert share_scale([]) == []


def test_false_finds_of_one_kind_do_not_outvote_what_the_leads_say():
    sure = seen(NARROW, "SOIC-8 3.9x4.9 P1.27")
    coil = seen(
        {("SON", "WSON-8 6x5 P1.27"): 0.0}, "WSON-8 6x5 P1.27", 1.7 * PX_PER_MM, 0.6
    )
    told = share_scale([sure, coil, coil, coil])[0]
    assert told.family == "SOIC"
    assert told.lead_count == 8


def test_a_scale_far_from_all_others_takes_belief_away():
    """A QFN of 9 mm beside known ones, read as a QFP of 14 mm with the same rhythm."""
    scores = {("QFP", "LQFP-64 14x14 P0.8"): 0.0, ("QFN", "QFN-64 9x9 P0.5"): -3.0}
    misread = seen(scores, "QFN-64 9x9 P0.5")
    others = [
        seen(NARROW, "SOIC-8 3.9x4.9 P1.27"),
        seen({("QFN", "QFN-48 7x7 P0.5"): 0.0}, "QFN-48 7x7 P0.5"),
    ]
    before, after = misread.family_confidence, share_scale([misread, *others])[0]
    assert before > 0.9
    assert after.variant != "LQFP-64 14x14 P0.8"
