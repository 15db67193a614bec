"""Size by belief and shape; leads by the drawing."""

from __future__ import annotations

import numpy as np
import pytest

from vision.leads import name_package, place_leads
from vision.tables import variants_of


def test_the_shape_settles_what_the_network_leaves_open():
    family = {"TSSOP": 0.55, "SOIC": 0.45}
    named = name_package(family, {20: 0.9, 16: 0.1}, 12.8 / 7.5)
    assert (named.family, named.lead_count) == ("SOIC", 20)


def test_no_size_is_given_without_belief_in_the_family():
    named = name_package({"QFP": 0.4, "QFN": 0.35, "PLCC": 0.25}, {44: 1.0}, 1.0)
    assert named.variant is None


def test_no_size_is_given_without_belief_in_the_lead_count():
    family, aspect = {"SOIC": 0.95, "TSSOP": 0.05}, 12.8 / 7.5
    sure = name_package(family, {20: 0.95, 16: 0.05}, aspect)
    torn = name_package(family, {16: 0.35, 18: 0.14, 20: 0.41, 24: 0.05}, aspect)
    assert torn.family_share > 0.7
    assert torn.count_share < 0.8 < sure.count_share
    assert torn.variant is None


def test_a_family_without_a_table_has_no_size():
    named = name_package({"other": 0.9, "SOIC": 0.1}, {24: 1.0}, 2.0)
    assert named.variant is None
    assert named.lead_count == 24


def test_leads_lie_beside_the_body_in_counting_order():
    variant = variants_of("SOIC", 8)[0]
    body = np.array([[0.0, 0], [0, 490], [390, 490], [390, 0]])  # 100 px/mm
    leads, scale = place_leads(body, variant)
    assert scale == pytest.approx(100.0)
    assert [lead.number for lead in leads] == list(range(1, 9))
    assert all(lead.toe_px[0] < 0 for lead in leads[:4])
    assert all(lead.toe_px[0] > 390 for lead in leads[4:])
    assert leads[1].toe_px[1] - leads[0].toe_px[1] == pytest.approx(127.0)
