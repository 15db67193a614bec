"""Scale from tag, pitch, outline and ruler, against known truth."""

import math

import pytest

from vision.scale import (
    choose_scale,
    scale_as_given,
    scale_from_outline,
    scale_from_ruler,
    scale_from_tag,
)
from vision.uncertainty import combined

# SOIC-8: body 3.8/3.9/4.0 by 4.8/4.9/5.0 (JEDEC MS-012AA by open data).
BODY = ((3.8, 3.9, 4.0), (4.8, 4.9, 5.0))


def test_outline_is_brought_down_to_the_board():
    raised = (3.9 * 40 / 0.98, 4.9 * 40 / 0.98)
    scale = scale_from_outline(raised, BODY, side_sd_px=0.5, nearness_frac=0.02)
    assert scale.px_per_mm == pytest.approx(40)
    names = [part.name for part in scale.budget.contributions]
    assert names == ["outline edges", "body tolerance", "height of the top"]


def test_ruler():
    scale = scale_from_ruler((10, 10), (410, 310), 10.0)
    assert scale.px_per_mm == pytest.approx(50)
    with pytest.raises(ValueError, match="above 0"):
        scale_from_ruler((10, 10), (10, 10), 10.0)


def test_the_tag_is_taken_first_and_agreement_is_ok():
    tag = scale_from_tag(40.0, fit_sd_frac=0.001)
    pitch = scale_as_given(40.1, sd_frac=0.005)
    best, finding = choose_scale([pitch, tag])
    assert best is tag
    assert finding.state == "ok"


def test_disagreement_is_reported_with_both_numbers():
    tag = scale_from_tag(40.0, fit_sd_frac=0.001)
    pitch = scale_as_given(44.0, sd_frac=0.002)
    best, finding = choose_scale([pitch, tag])
    assert best.source == "tag"
    assert best.sd_frac == pytest.approx(math.hypot(tag.sd_frac, 0.1))
    assert finding.state == "unsure"
    assert "the tag gives 40.00" in finding.reasons[0]
    assert "the pitch gives 44.00" in finding.reasons[0]


def test_no_scale_says_what_to_do():
    best, finding = choose_scale([])
    assert best is None
    assert finding.state == "unsure"
    assert "tag" in finding.reasons[0]


def test_combined_matches_the_relative_spread():
    tag = scale_from_tag(40.0, fit_sd_frac=0.001)
    assert combined(tag.budget) / 40 == pytest.approx(tag.sd_frac)
