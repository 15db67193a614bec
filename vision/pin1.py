"""Judges which corner is pin 1, or says that it cannot tell."""

from __future__ import annotations

from math import exp, log
from typing import TYPE_CHECKING

import numpy as np

from vision.results import Cue, Pin1

if TYPE_CHECKING:
    from vision.markings import Marking
    from vision.packages import Variant
    from vision.refine import CloseUp

MIN_CONFIDENCE = 0.80
MIN_CONFIDENCE_SQUARE = 0.91
"""Confidence needed; square parts often carry several mould marks and need more."""
SLOPE, OFFSET = 0.76, 0.66
"""Calibration of the belief's log-odds: logistic fit to 421 close looks at photos of
repositories that the network did not learn from (J. Platt, 1999)."""
MAX_CONFIDENCE = 0.997
"""No more is claimed than those looks can show: the surest 186 were all right."""
SQUARE = ("QFP", "QFN", "MSOP", "PLCC")
UPRIGHT = ("SOIC", "SSOP", "TSSOP", "TSOP")
"""Families whose upright marking has pin 1 lower left, rows along the long side."""
LOWER_LEFT_SHARE = 0.85
"""How often that held on the labelled photos whose marking could be read (16 of 17,
``tests.benchmark.bench_markings``);
common practice of makers, no standard says so."""
SETTLED_SHARE = 0.9
MIN_MARK = 0.2
MOULD_MARKS = ("dimple", "notch", "bevel", "bar")
MIN_LONG_PX = 120.0
"""Body length below which a dimple of 0.5 mm on a 5 mm body is under 12 px wide."""


def wants_marking(close: CloseUp, variant: Variant | None) -> bool:
    """Tell whether reading the marking could settle pin 1.

    Parameters
    ----------
    close : CloseUp
        What the close look gave.
    variant : Variant or None
        The package's size; the rule of the marking differs by family.

    Returns
    -------
    bool
        False where the other cues settle it, or no rule is known.
    """
    if variant is None or variant.family not in UPRIGHT:
        return False
    is_long = variant.body_y_mm[1] >= variant.body_x_mm[1]
    return is_long and float(close.turn_share.max()) < SETTLED_SHARE


def judge_pin1(
    close: CloseUp,
    family: str,
    marking: Marking | None = None,
    rows_log_odds: float = 0.0,
) -> tuple[int, Pin1]:
    """Judge the pin-1 corner from a close look.

    Parameters
    ----------
    close : CloseUp
        What the close look gave.
    family : str
        Package family.
    marking : Marking or None
        The marking, if ``wants_marking`` and it could be read.
    rows_log_odds : float
        By how much the rows of leads speak for the likeliest corner of the close look
        against the opposite one, where they are not alike (``leads.log_odds``).

    Returns
    -------
    (int, Pin1)
        Index of the likeliest corner of ``close.corners_px``, and the judgement:
        ``ok`` only where the belief is strong enough, else ``unsure``.

    Notes
    -----
    The belief is the averaged mass of the four ordered corner maps over all looks,
    times how often an upright marking has pin 1 at that corner, and what the rows of
    leads tell where one side has more.
    """
    belief = np.array(close.turn_share, float)
    told = int(belief.argmax())
    opposite = (told + 2) % 4
    if rows_log_odds:  # of a quarter turn they say nothing
        pair = belief[told] + belief[opposite]
        odds = exp(rows_log_odds) * belief[told] / max(belief[opposite], 1e-6)
        belief[[told, opposite]] = pair * np.array([odds, 1.0]) / (odds + 1.0)
    if marking and (marking.lower_left - int(belief.argmax())) % 2:
        marking = None  # it runs across the rows, of which the rule says nothing
    if marking:
        likely = np.full(4, (1 - LOWER_LEFT_SHARE) / 3)
        likely[marking.lower_left] = LOWER_LEFT_SHARE
        belief = belief * likely / (belief * likely).sum()
    corner = int(belief.argmax())
    share = calibrated(float(belief[corner]))
    need = MIN_CONFIDENCE_SQUARE if family in SQUARE else MIN_CONFIDENCE
    cues = [
        Cue(kind=kind, at_px=at, weight=float(np.log(score / (1 - score)) + 3))
        for kind, at, score in close.marks
        if MIN_MARK < score < 1 and _is_near(close, at, corner)
    ]
    if marking and marking.lower_left == corner:
        x, y = close.corners_px.mean(0)
        weight = float(np.log(3 * LOWER_LEFT_SHARE / (1 - LOWER_LEFT_SHARE)))
        cues.append(Cue(kind="text-direction", at_px=(x, y), weight=weight))
    weight = rows_log_odds * ((corner == told) - (corner == opposite))
    if weight > 0:
        x, y = close.corners_px[[corner, (corner + 1) % 4]].mean(0)
        cues.append(Cue(kind="shape", at_px=(x, y), weight=weight))
    if share >= need:
        return corner, Pin1(state="ok", confidence=share, evidence=tuple(cues))
    seen = f"{share:.0%} sure at the likeliest corner; {need:.0%} needed."
    return corner, Pin1(
        state="unsure",
        confidence=share,
        evidence=tuple(cues),
        reasons=(" ".join([seen, *_missing(close)]),),
    )


def calibrated(share: float) -> float:
    """Turn the network's belief into how often such a belief is right.

    Parameters
    ----------
    share : float
        Belief in the likeliest corner, 0..1.

    Returns
    -------
    float
        0..``MAX_CONFIDENCE``.
    """
    share = min(max(share, 1e-6), 1 - 1e-6)
    odds = SLOPE * log(share / (1 - share)) + OFFSET
    return min(1 / (1 + exp(-odds)), MAX_CONFIDENCE)


def _missing(close: CloseUp) -> list[str]:
    """Say which cue is missing and which photo would bring it."""
    seen = {kind for kind, _, score in close.marks if score > MIN_MARK}
    sides = close.corners_px - np.roll(close.corners_px, -1, axis=0)
    long_px = float(np.linalg.norm(sides, axis=1).max())
    ask = []
    if long_px < MIN_LONG_PX:
        ask.append(
            f"The body is {long_px:.0f} px long; {MIN_LONG_PX:.0f} px needed: "
            "come closer."
        )
    if not seen.intersection(MOULD_MARKS):
        ask.append(
            "No dimple, notch, bevel or bar was made out: take it with raking light "
            "and sharp."
        )
    if "silkscreen" not in seen:
        ask.append(
            "No mark of the board was made out: keep its print round the chip in the "
            "frame."
        )
    return ask or [
        "The marks do not agree on one corner, and a dot of paint may mislead: look at "
        "the part's drawing and the mould mark by eye."
    ]


def _is_near(close: CloseUp, at: tuple[float, float], corner: int) -> bool:
    """Tell whether a mark lies nearer to this corner than to its opposite."""
    near = np.hypot(*(close.corners_px[corner] - at))
    far = np.hypot(*(close.corners_px[(corner + 2) % 4] - at))
    return bool(near < far)
