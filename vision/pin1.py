"""Judges which corner is pin 1, or says that it cannot tell."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.results import Cue, Pin1

if TYPE_CHECKING:
    from vision.refine import CloseUp

MIN_SHARE = 0.80
MIN_SHARE_SQUARE = 0.96
"""Belief needed; square parts often carry several mould marks and need more."""
SQUARE = ("QFP", "QFN", "MSOP", "PLCC")
MIN_MARK = 0.2
ASK = (
    "pin 1: {share:.0%} sure at the likeliest corner; {need:.0%} needed. Take a photo "
    "with raking light for a dimple, or sharper and closer, or with the board's print "
    "round the chip in the frame."
)


def judge_pin1(close: CloseUp, family: str) -> tuple[int, Pin1]:
    """Judge the pin-1 corner from a close look.

    Parameters
    ----------
    close : CloseUp
        What the close look gave.
    family : str
        Package family.

    Returns
    -------
    (int, Pin1)
        Index of the likeliest corner of ``close.corners_px``, and the judgement:
        ``ok`` only where the belief is strong enough, else ``unsure``.

    Notes
    -----
    The belief is the averaged mass of the four ordered corner maps over four looks.
    """
    corner = int(close.turn_share.argmax())
    share = float(close.turn_share[corner])
    need = MIN_SHARE_SQUARE if family in SQUARE else MIN_SHARE
    cues = tuple(
        Cue(kind=kind, at_px=at, weight=float(np.log(score / (1 - score)) + 3))
        for kind, at, score in close.marks
        if MIN_MARK < score < 1 and _is_near(close, at, corner)
    )
    if share >= need:
        return corner, Pin1(state="ok", confidence=share, evidence=cues)
    reason = ASK.format(share=share, need=need)
    return corner, Pin1(
        state="unsure", confidence=share, evidence=cues, reasons=(reason,)
    )


def _is_near(close: CloseUp, at: tuple[float, float], corner: int) -> bool:
    """Tell whether a mark lies nearer to this corner than to its opposite."""
    near = np.hypot(*(close.corners_px[corner] - at))
    far = np.hypot(*(close.corners_px[(corner + 2) % 4] - at))
    return bool(near < far)
