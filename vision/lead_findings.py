"""Lead readings against the shop limits: one finding a lead, in the records' form."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from vision.limits import bound_frac, bound_mm, judge
from vision.results import Finding, NotFound, Overhang, worst_state
from vision.uncertainty import Reading, expanded, reading

if TYPE_CHECKING:
    from collections.abc import Container, Sequence

    from vision.limits import Limit, ShopLimits
    from vision.overhang import LeadReading


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadFindings:
    """What was judged of one lead: the record for the answer, and a finding a check."""

    overhang: Overhang
    side: Finding
    toe: Finding
    gap: Finding


def judge_leads(
    readings: Sequence[LeadReading],
    limits: ShopLimits,
    *,
    lead_style: str = "gull_wing",
) -> tuple[LeadFindings, ...] | NotFound:
    """Judge every lead against one set of shop limits.

    Parameters
    ----------
    readings : sequence of LeadReading
        From ``overhang.read_leads``.
    limits : ShopLimits
        What the shop judges by.
    lead_style : str
        Which of its rows count.

    Returns
    -------
    tuple of LeadFindings or NotFound
        NotFound when the set has no row for the side overhang.

    Notes
    -----
    A toe without a row of its own is judged through the gap alone, and its overhang
    is still said.  A lead without a neighbour has no gap to judge.
    """
    side_limit = limits.find("side_overhang", lead_style)
    if isinstance(side_limit, NotFound):
        return side_limit
    toe_limit = limits.find("toe_overhang", lead_style)
    gap_limit = limits.find("clearance", lead_style)
    return tuple(
        _judge_lead(lead, side_limit, toe_limit, gap_limit) for lead in readings
    )


def unless_seen(lead: LeadFindings, unseen: Container[int]) -> LeadFindings:
    """Take back what was found sound of a lead that was not made out.

    Parameters
    ----------
    lead : LeadFindings
    unseen : container of int
        Numbers of the leads that were placed by the others.

    Returns
    -------
    LeadFindings
        ``unsure`` where it was ``ok`` and the lead is one of them.
    """
    number = lead.overhang.lead
    if number not in unseen or lead.side.state != "ok":
        return lead
    said = f"lead {number} was not made out here, only placed by the others: look at it"
    return replace(
        lead,
        overhang=replace(lead.overhang, state="unsure"),
        side=Finding(state="unsure", reasons=(said,)),
    )


def worst_finding(findings: Sequence[Finding]) -> Finding:
    """Sum findings up: the worst state, with the reasons of that state.

    Parameters
    ----------
    findings : sequence of Finding
        Of several leads or checks.

    Returns
    -------
    Finding
        ``unsure`` when there is none: nothing measured is never ``ok``.
    """
    if not findings:
        return Finding(state="unsure", reasons=("no lead could be measured",))
    state = worst_state(f.state for f in findings)
    if state == "ok":
        return Finding(state="ok")
    reasons = (reason for f in findings if f.state == state for reason in f.reasons)
    return Finding(state=state, reasons=tuple(reasons))


def _judge_lead(
    lead: LeadReading,
    side_limit: Limit,
    toe_limit: Limit | NotFound,
    gap_limit: Limit | NotFound,
) -> LeadFindings:
    width = lead.lead_width_mm
    bound = bound_frac(side_limit, width)
    side_reading = Reading(
        name=lead.side_overhang.quantity,
        value=lead.side_overhang.value / width,
        u=expanded(lead.side_overhang) / width,
        unit="of the lead width",
    )
    side = judge(side_reading, bound)
    if not lead.is_on_land:
        side = Finding(state="fault", reasons=(f"lead {lead.number} is off its land",))
    return LeadFindings(
        overhang=Overhang(
            lead=lead.number,
            side_overhang_frac=lead.side_overhang_frac,
            u_frac=side_reading.u,
            limit_frac=bound.value,
            state=side.state,
        ),
        side=side,
        toe=_toe(lead, toe_limit),
        gap=_gap(lead, gap_limit),
    )


def _toe(lead: LeadReading, limit: Limit | NotFound) -> Finding:
    found = reading(lead.toe_overhang)
    if isinstance(limit, NotFound):
        if found.value <= 0:
            return Finding(state="ok")
        said = f"{found.name}: {found.value:.3f} ± {found.u:.3f} mm, no shop limit"
        return Finding(state="ok", reasons=(said,))
    return judge(found, bound_mm(limit, lead.lead_width_mm))


def _gap(lead: LeadReading, limit: Limit | NotFound) -> Finding:
    if isinstance(limit, NotFound):
        return Finding(state="unsure", reasons=(limit.reason,))
    if lead.gap is None:
        return Finding(state="ok")
    return judge(reading(lead.gap), bound_mm(limit, lead.lead_width_mm))
