"""Sums up what is said of all joints, and of all gaps, of a package."""

from __future__ import annotations

from typing import TYPE_CHECKING

from vision.high_rows import TILTED, high_rows
from vision.results import Finding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.joint_beliefs import GapBelief
    from vision.results import Joint, LeadRow


TO_NEIGHBOUR = "solder runs to its neighbour"
"""What is said of a joint that a bridge starts from."""


def sum_joints(joints: Sequence[Joint], rows: Sequence[LeadRow] = ()) -> Finding:
    """Sum up the joints: the worst state, with what is said of the leads in it.

    Parameters
    ----------
    joints : sequence of Joint
    rows : sequence of (int, int)
        First and last lead of each side, in their order: one that stands high while the
        one across does not is named.

    Returns
    -------
    Finding
    """
    if not joints:
        return Finding(state="unsure", reasons=("joints: none could be seen",))
    for state in ("fault", "unsure"):
        found = [j for j in joints if j.state == state]
        if found:
            reasons = tuple(f"lead {j.lead}: {'; '.join(j.findings)}" for j in found)
            tilted = tuple(
                TILTED.format(first, last) for first, last in high_rows(joints, rows)
            )
            return Finding(state=found[0].state, reasons=(*tilted, *reasons))
    return Finding(state="ok", reasons=(f"{len(joints)} joints look sound",))


def sum_gaps(
    faults: Sequence[GapBelief],
    unsure: tuple[Sequence[GapBelief], ...],
    count: int,
) -> Finding:
    """Sum up the gaps.

    Parameters
    ----------
    faults : sequence of GapBelief
        Those that are bridged.
    unsure : tuple of four sequences of GapBelief
        Those that are doubtful, that may hold a loose ball of solder, that changed and
        that were not made out.
    count : int
        Of all gaps.

    Returns
    -------
    Finding
    """
    doubts, balled, changed, lost = unsure
    if faults:
        reasons = tuple(
            f"solder joins leads {_between(b)}, sure to {100 * b.bridged:.0f} %"
            for b in faults
        )
        return Finding(state="fault", reasons=reasons)
    if any(unsure):
        reasons = tuple(
            f"between leads {_between(b)} there may be solder ({100 * b.bridged:.0f} %"
            "); look at the gap, or take a sharper photo without glare"
            for b in doubts
        )
        reasons += tuple(
            f"between leads {_between(b)}, or before them, a loose ball of solder may "
            "lie; look there, brush it away and take the photo again"
            for b in balled
        )
        reasons += tuple(
            f"between leads {_between(b)} something is new since the photo before; "
            "look at the gap"
            for b in changed
        )
        if lost:
            gaps = ", ".join(map(_between, lost))
            reasons += (f"not made out between leads {gaps}",)
        return Finding(state="unsure", reasons=reasons)
    if not count:
        return Finding(state="unsure", reasons=("no gap between leads was seen",))
    return Finding(state="ok", reasons=(f"{count} gaps between leads are free",))


def _between(belief: GapBelief) -> str:
    return f"{belief.window.first} and {belief.window.second}"
