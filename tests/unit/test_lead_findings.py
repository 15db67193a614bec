"""Leads in known places against the shipped limits."""

import pytest

from tests.unit.test_overhang import feet, lands
from vision.lead_findings import judge_leads, worst_finding
from vision.limits import shop_limits
from vision.overhang import Doubt, read_leads
from vision.results import Finding, NotFound


def judged(set_name="general", **moved):
    readings = read_leads(feet(**moved), lands(), Doubt(registration_mm=0.004))
    found = judge_leads(readings, shop_limits(set_name=set_name))
    assert not isinstance(found, NotFound)
    return found


@pytest.mark.parametrize(
    ("dy", "general", "strict"),
    # Limits 0.300 and 0.198 mm for this part (alignment_cases.csv); U is 0.018 mm.
    [
        (0.00, "ok", "ok"),
        (0.15, "ok", "ok"),
        (0.19, "ok", "unsure"),
        (0.24, "ok", "fault"),
        (0.30, "unsure", "fault"),
        (0.35, "fault", "fault"),
    ],
)
def test_side_overhang_states(dy, general, strict):
    assert {lead.side.state for lead in judged("general", dy=dy)} == {general}
    assert {lead.side.state for lead in judged("strict", dy=dy)} == {strict}


def test_the_record_holds_share_spread_and_limit():
    record = judged(dy=0.35)[0].overhang
    assert record.side_overhang_frac == pytest.approx(0.255 / 0.41)
    assert record.limit_frac == pytest.approx(0.5)
    assert record.state == "fault"
    assert 0 < record.u_frac < 0.06


def test_the_toe_has_a_limit_in_the_strict_set_only():
    right = [lead for lead in judged("strict", dx=0.6) if lead.overhang.lead >= 5]
    assert {lead.toe.state for lead in right} == {"fault"}
    loose = [lead for lead in judged("general", dx=0.6) if lead.overhang.lead >= 5]
    assert {lead.toe.state for lead in loose} == {"ok"}
    assert "no shop limit" in loose[0].toe.reasons[0]


def test_the_gap_to_the_next_land():
    assert {lead.gap.state for lead in judged(dy=0.2)} == {"ok"}
    near = judged(dy=0.72)
    assert "fault" in {lead.gap.state for lead in near}


def test_a_lead_off_its_land_is_a_fault_whatever_the_numbers():
    assert {lead.side.state for lead in judged(dy=0.55)} == {"fault"}
    assert "off its land" in judged(dy=0.55)[0].side.reasons[0]


def test_leads_without_a_limit_are_not_judged():
    readings = read_leads(feet(), lands(), Doubt())
    found = judge_leads(readings, shop_limits(), lead_style="through_hole")
    assert isinstance(found, NotFound)


def test_the_worst_counts_and_nothing_is_unsure():
    good, bad = Finding(state="ok"), Finding(state="fault", reasons=("x",))
    doubt = Finding(state="unsure", reasons=("y",))
    assert worst_finding([good, doubt, bad]) == bad
    assert worst_finding([good, doubt]) == doubt
    assert worst_finding([good]).state == "ok"
    assert worst_finding([]).state == "unsure"
