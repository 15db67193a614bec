"""What is against a pair of photos, in words that fit into one sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.joint_words import bridge_words
from ui.pair_steps import check_word, checks_with
from ui.side_words import side_fault

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import PairReport

FAULT_WORDS = {
    "package": "not the chip that was there before",
    "quality": "a photo is not good enough",
}
TOLD_APART = (
    "orientation",
    "alignment",
    "bridges",
    "overhang",
    "lands",
    "joints",
    "side",
)


def pair_faults(report: PairReport) -> tuple[str, ...]:
    """Name what is against a pair, apart from a turn.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    tuple of str
        Parts of a sentence.
    """
    faults = []
    if report.alignment.state == "fault":
        faults.append("the chip is off its place")
    faults += [bridge_words(bridge) for bridge in report.bridges]
    faults += _land_faults(report)
    sure = [bridge for bridge in report.bridges if bridge.state == "fault"]
    bridged = {lead for bridge in sure for lead in bridge.between}
    bad = [
        joint.lead
        for joint in report.joints
        if joint.state == "fault" and joint.lead not in bridged
    ]
    if bad:
        faults.append(f"{_leads(bad)} badly soldered")
    if "side" in checks_with(report, "fault"):
        faults.append(side_fault(report.side))
    faults += [
        FAULT_WORDS.get(name, check_word(name))
        for name in checks_with(report, "fault")
        if name not in TOLD_APART
    ]
    return tuple(faults)


def _land_faults(report: PairReport) -> list[str]:
    faults = []
    over = [row for row in report.overhang if row.state == "fault"]
    off = [row.lead for row in over if row.side_overhang_frac >= 1]
    beside = [row.lead for row in over if row.lead not in off]
    if off:
        faults.append(f"{_leads(off)} off the land")
    if beside:
        faults.append(f"{_leads(beside)} over the land's side beyond the limit")
    if not over and "lands" in checks_with(report, "fault"):
        faults.append("a land is damaged, or the chip does not sit on its lands")
    return faults


def _leads(numbers: Sequence[int]) -> str:
    listed = ", ".join(str(number) for number in numbers)
    return f"lead {listed} is" if len(numbers) == 1 else f"leads {listed} are"
