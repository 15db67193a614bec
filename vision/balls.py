"""Finds loose balls of solder between leads, beside the photo before."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.joint_beliefs import stacked
from vision.networks import run

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.beside_before import Pictures
    from vision.strips import GapWindow

LEAST_LOGIT = 2.0
"""Answer from which a ball is told: reached in none of 3,382 gaps of sound pairs made
of real photos, and in 0.05 % of gaps of rendered boards without a ball.  From 1.0 on
more balls are found, and on another board of the same kind the glint of a pour's edge
(1.5) would be one, too."""


def find_balls(
    windows: Sequence[GapWindow], pictures: Pictures
) -> tuple[GapWindow, ...]:
    """Find the gaps in which, or before which, a ball of solder may lie.

    Parameters
    ----------
    windows : sequence of GapWindow
        From ``strips.gap_windows``.
    pictures : Pictures
        Cut from both photos.  One photo alone tells a ball too badly from a glint, and
        so does a window that the photo before does not show whole.

    Returns
    -------
    tuple of GapWindow
        Figures: ``models/cards/balls.md``.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    seen = [
        k
        for k, w in enumerate(windows)
        if w.second is not None and pictures.was_seen[k]
    ]
    if pictures.then is None or not seen:
        return ()
    (said,) = run("balls", stacked(pictures.now[seen], pictures.then[seen]))
    found = np.flatnonzero(said[:, 0] >= LEAST_LOGIT)
    return tuple(windows[seen[k]] for k in found)
