"""Where beliefs in gaps and leads become states: how chosen, see D-047."""

from __future__ import annotations

from dataclasses import dataclass

LEAST_SPACING_PX = 12.0
"""Photo pixels from lead to lead below which no gap is judged: of rendered bridges 3 %
pass up to there, 1.4 % to 15 px, 0.3 % above, and below lifted feet pass, too
(``models.joints.measure renders``, seeds 77 and 91)."""
SQUARE = 0.12
"""Belief that a window lies on a gap, below which nothing is said about it."""
AS_BEFORE = 0.03
"""How much belief in any fault may grow where a lead looks as it did before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cuts:
    """Beliefs at which a state changes; ``DEVELOPERS.md``, D-047, tells how chosen.

    ``bridge_fault`` and above is a bridge, ``bridge_doubt`` and above is unsure, and
    from ``bridge_named`` on the gap is named.  A lead is sound from ``sound`` on where
    no more than ``most_faulty`` is believed of faults, and faulty from ``lead_fault``.
    """

    bridge_fault: float
    bridge_doubt: float
    bridge_named: float
    sound: float
    most_faulty: float
    lead_fault: float


ALONE = Cuts(
    bridge_fault=0.95,
    bridge_doubt=0.70,
    bridge_named=0.95,
    sound=0.75,
    most_faulty=0.25,
    lead_fault=0.92,
)
PAIR = Cuts(
    bridge_fault=0.70,
    bridge_doubt=0.35,
    bridge_named=0.50,
    sound=0.90,
    most_faulty=0.04,
    lead_fault=0.80,
)
