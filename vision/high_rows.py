"""Rows of leads that stand high as a whole, as those of a tilted chip do."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import Joint, LeadRow

STANDS_CLEAR = "stands clear of its solder"
"""What is said of a joint that is lifted, or may be."""
IN_HIGH_ROW = "its row seems to stand high, as a tilted chip's does"
"""What is said of every lead of such a row."""
TILTED = (
    "leads {} to {} seem to stand high and those across do not: the chip may be "
    "tilted. Measure the gap under the body at both ends"
)
LEAST_FRAC = 0.5
"""Share of a row's leads that look lifted from which on all of it stands high; figures:
``models/cards/joints.md``."""


def high_rows(joints: Sequence[Joint], rows: Sequence[LeadRow]) -> tuple[LeadRow, ...]:
    """Find rows that stand high while those across do not: the chip is tilted.

    Parameters
    ----------
    joints : sequence of Joint
    rows : sequence of (int, int)
        First and last lead of each side, in their order.

    Returns
    -------
    tuple of (int, int)
        Of two leads and more, in the order of ``rows``.
    """
    high = {j.lead for j in joints if any(STANDS_CLEAR in said for said in j.findings)}
    shares = [
        len(high & {*range(first, last + 1)}) / (last - first + 1)
        for first, last in rows
    ]
    across = [shares[(k + len(rows) // 2) % len(rows)] for k in range(len(rows))]
    return tuple(
        row
        for row, share, other in zip(rows, shares, across, strict=True)
        if row[1] > row[0] and share >= LEAST_FRAC > other
    )


def doubt_high_rows(
    joints: Sequence[Joint], rows: Sequence[LeadRow]
) -> tuple[Joint, ...]:
    """Name rows that stand high at each of their leads, and call none of them sound.

    Parameters
    ----------
    joints : sequence of Joint
    rows : sequence of (int, int)
        First and last lead of each side, in their order.

    Returns
    -------
    tuple of Joint
        Those that were ``ok`` are ``unsure``: a body is stiff, and its row with it.
    """
    high = high_rows(joints, rows)
    return tuple(
        _in_high_row(joint) if any(a <= joint.lead <= b for a, b in high) else joint
        for joint in joints
    )


def _in_high_row(joint: Joint) -> Joint:
    if joint.state == "ok":
        return replace(joint, state="unsure", findings=(IN_HIGH_ROW,))
    return replace(joint, findings=(*joint.findings, IN_HIGH_ROW))
