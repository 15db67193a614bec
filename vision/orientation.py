"""How far a chip is turned, from two witnesses that fail for different reasons.

The looks of the body top say nothing when another chip was put in; pin 1, judged in
each photo alone, does not mind.  Which side the photos were taken from is settled by
the board's registration.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.angles import turn_between_deg
from vision.geometry import apply_homography
from vision.results import NotFound, Orientation
from vision.tables import variants_of

if TYPE_CHECKING:
    from vision.chipview import ChipView, Likeness
    from vision.results import Package, Registration

SURE_FAMILY = 0.9
SQUARE_RATIO = (0.88, 1.14)
"""Widest side ratio of a square body seen 20 degrees askew with a 2 % outline."""

LOOKS_MIN_CORRELATION = 0.35
LOOKS_SLOPE = 20.0
LOOKS_MIN_GAP = 0.12
LOOKS_MAX_LOG_ODDS = 9.0
"""Log-odds per correlation gap between the best turn and the next, from bench_compare:
tops of unlike chips stay under a gap of 0.35 in 99.7 % of 2500 draws, and those above
carried the same marking."""
STRONG_LOG_ODDS = 3.0
SURE_TURN = 0.99
"""Confidence from which a turn is named; below it the answer is 'cannot tell'."""
PIN1_MAX_CONFIDENCE = 0.9999


def allowed_turns(package: Package, view: ChipView) -> tuple[int, ...]:
    """List the turns in which a package fits its lands: half, or quarter if square.

    Parameters
    ----------
    package : Package
        Family, and how sure it is.
    view : ChipView
        The body's sides.

    Returns
    -------
    tuple of int
        (0, 180) or (0, 90, 180, 270), degrees.  A square body of a family that is not
        sure gets all four.
    """
    low, high = SQUARE_RATIO
    square = low < view.body_px[0] / view.body_px[1] < high
    sizes = variants_of(package.family)
    has_ends = any(size.leads_per_side[side] for size in sizes for side in (1, 3))
    is_sure = package.family_confidence >= SURE_FAMILY
    has_two_rows = bool(sizes) and not has_ends and is_sure
    return (0, 90, 180, 270) if square and not has_two_rows else (0, 180)


def judge_turn(
    before: Package,
    after: Package,
    registration: Registration,
    seen: tuple[Likeness, ...],
) -> Orientation:
    """Say how far the chip is turned, from its looks and from pin 1.

    Parameters
    ----------
    before, after : Package
        With the judgement of pin 1 and its calibrated confidence.
    registration : Registration
        The board, before to after.
    seen : tuple of Likeness
        Correlation at each allowed turn, best first.

    Returns
    -------
    Orientation
        ``ok`` for 0, ``fault`` for a turn, ``unsure`` where the witnesses contradict
        each other or neither is strong.

    Notes
    -----
    Independent witnesses add as log-odds (naive Bayes, equal priors).
    """
    turns = tuple(sorted(s.turn_deg for s in seen))
    looks = dict.fromkeys(turns, 0.0)
    gap = seen[0].correlation - seen[1].correlation
    if seen[0].correlation >= LOOKS_MIN_CORRELATION:
        odds = LOOKS_SLOPE * (gap - LOOKS_MIN_GAP)
        looks[seen[0].turn_deg] = float(np.clip(odds, 0.0, LOOKS_MAX_LOG_ODDS))
    pins = _pin1_log_odds(before, after, registration, turns)
    if isinstance(pins, NotFound):
        return Orientation(
            state="unsure", turn_deg=None, confidence=0.0, reasons=(pins.reason,)
        )
    top_looks, top_pins = (
        max(turns, key=looks.__getitem__),
        max(turns, key=pins.__getitem__),
    )
    if (
        top_looks != top_pins
        and looks[top_looks] >= STRONG_LOG_ODDS
        and pins[top_pins] - pins[top_looks] >= STRONG_LOG_ODDS
    ):
        return Orientation(
            state="unsure",
            turn_deg=None,
            confidence=0.0,
            reasons=(
                f"the looks of the chip say turned by {top_looks}°, pin 1 says "
                f"{top_pins}°: they contradict each other. {_retake(before, after)}",
            ),
        )
    weight = np.array([looks[t] + pins[t] for t in turns])
    share = np.exp(weight - weight.max())
    best, sure = turns[int(weight.argmax())], float(share.max() / share.sum())
    said = (
        f"looks: {looks[best]:.1f}, pin 1: {pins[best] - _next(pins, best):.1f} "
        f"log-odds for {best}°"
    )
    if sure < SURE_TURN:
        return Orientation(
            state="unsure",
            turn_deg=None,
            confidence=sure,
            reasons=(f"cannot tell the turn ({said}). {_retake(before, after)}",),
        )
    return Orientation(
        state="ok" if best == 0 else "fault",
        turn_deg=best,
        confidence=sure,
        reasons=(
            f"the chip sits as before ({said})"
            if best == 0
            else f"the chip is turned by {best}° counter-clockwise ({said})",
        ),
    )


def _pin1_log_odds(
    before: Package,
    after: Package,
    registration: Registration,
    turns: tuple[int, ...],
) -> dict[int, float] | NotFound:
    """Log of the chance of each turn from pin 1 in both photos; all 0 if not judged."""
    if before.pin1.state != "ok" or after.pin1.state != "ok":
        return dict.fromkeys(turns, 0.0)
    board = np.asarray(registration.before_to_after)
    back = apply_homography(np.linalg.inv(board), after.outline_px)
    turn = turn_between_deg(before.outline_px, back)
    if turn not in turns:
        return NotFound(
            reason=f"pin 1 says turned by {turn}°, which does not fit this package's "
            "lands: one of the two pin-1 marks was misread. " + _retake(before, after)
        )
    count = len(turns)
    p_before, p_after = (
        min(max(p.pin1.confidence, 1 / count), PIN1_MAX_CONFIDENCE)
        for p in (before, after)
    )
    others = [(1 - p) / (count - 1) for p in (p_before, p_after)]
    right = p_before * p_after + (count - 1) * others[0] * others[1]
    wrong = max((1 - right) / (count - 1), 1e-9)
    return {t: float(np.log(right if t == turn else wrong)) for t in turns}


def _next(weights: dict[int, float], best: int) -> float:
    return max(w for t, w in weights.items() if t != best)


def _retake(before: Package, after: Package) -> str:
    """Name the photo that would settle the turn."""
    unread = [
        name
        for name, package in (("before", before), ("after", after))
        if package.pin1.state != "ok"
    ]
    which = unread[0] if len(unread) == 1 else "after"
    return (
        f"Take the {which} photo again, closer and with light from the side, so that "
        "the marking and the pin-1 mark can be read."
    )
