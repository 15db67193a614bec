"""Whether what a side view says of a row of feet agrees with what is known."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ui.demo_truth import Row
from vision.results import NotFound

if TYPE_CHECKING:
    from ui.demo_truth import KnownPhoto, Outcome
    from vision.results import SideFoot, SideView


def judge_side(known: KnownPhoto, side: SideView | NotFound) -> tuple[Row, ...]:
    """Hold the feet of a side view against the leads that are known to be lifted.

    Parameters
    ----------
    known : KnownPhoto
    side : SideView or NotFound

    Returns
    -------
    tuple of Row
        Wrong where a foot called lifted is not, or where a lifted one is called level;
        not judged where the photo could not tell.
    """
    if isinstance(side, NotFound):
        return (_row(known, f"cannot tell: {side.reason}", "not judged"),)
    said = {
        state: {_lead_at(known, f) for f in side.feet if f.state == state}
        for state in ("ok", "fault", "unsure")
    }
    truly = set(known.lifted)
    outcome: Outcome = "not judged"
    if said["fault"] - truly or said["ok"] & truly:
        outcome = "wrong"
    elif not said["unsure"]:
        outcome = "right"
    parts = [_listed(said["fault"])]
    if said["unsure"]:
        parts.append(f"cannot tell of {_listed(said['unsure'])}")
    return (_row(known, "; ".join(parts), outcome),)


def _row(known: KnownPhoto, answer: str, outcome: Outcome) -> Row:
    return Row(
        question="Lifted feet",
        answer=answer,
        known=_listed(set(known.lifted)),
        outcome=outcome,
    )


def _lead_at(known: KnownPhoto, foot: SideFoot) -> int:
    """Give the lead whose toe is nearest to a foot."""
    away = np.linalg.norm(np.subtract(known.toes_px, foot.at_px), axis=1)
    return int(away.argmin()) + 1


def _listed(leads: set[int]) -> str:
    return ", ".join(map(str, sorted(leads))) or "none"
