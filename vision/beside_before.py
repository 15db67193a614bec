"""What is believed of each gap beside the same gap in the photo before."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from vision.gap_change import gap_changes
from vision.joint_beliefs import believe_pictures
from vision.strips import are_inside, cut_windows

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.joint_beliefs import GapBelief
    from vision.strips import GapWindow

    ByteImage = npt.NDArray[np.uint8]

CHANGED_SOME, BRIDGED_SOME = 0.6, 0.1
"""Change, as a share of that which is enough alone, and belief in a bridge, that are
enough together: one of 34 bridged pairs made of real photos had 0.76 and 0.15 and was
passed before; of 94 sound pairs none has both in one gap."""
CHANGED_CLEARLY, CHANGED_ODDS = 2.0, 20.0
"""Change from which the odds of a bridge are so many times as high: 30 of the 32 gaps
of pairs made of real photos that were bridged and made out changed as much, and none of
2,140 sound ones (the most is 1.2).  The odds are taken far lower, as what is bright and
new may be a reflection."""


@dataclass(frozen=True, slots=True)
class Pictures:
    """Windows cut out of a photo and out of the one before, (n, rows, cols, 3).

    ``was_seen``: which of them the photo before shows whole.
    """

    now: ByteImage
    then: ByteImage | None
    was_seen: npt.NDArray[np.bool_]


def cut_both(
    pixels: ByteImage,
    windows: Sequence[GapWindow],
    before: tuple[ByteImage, npt.NDArray[np.float64]] | None,
) -> Pictures:
    """Cut windows out of a photo, and out of the one before.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The photo in which the windows were placed.
    windows : sequence of GapWindow
        From ``strips.gap_windows``.
    before : tuple of (ndarray, ndarray of shape (3, 3)) or None
        The photo before, and the homography from this photo to it.

    Returns
    -------
    Pictures
        ``then`` is None where there is no photo before.
    """
    now = cut_windows(pixels, windows)
    if before is None:
        return Pictures(now, None, np.zeros(len(windows), bool))
    photo, laid = before
    return Pictures(
        now,
        cut_windows(photo, windows, photo_to_pixels=laid),
        are_inside(photo.shape, windows, photo_to_pixels=laid),
    )


def believe_beside(
    windows: Sequence[GapWindow], pictures: Pictures
) -> tuple[tuple[GapBelief, ...], tuple[GapBelief, ...]]:
    """Believe what the network says of each gap, and what is new in it.

    Parameters
    ----------
    windows : sequence of GapWindow
        From ``strips.gap_windows``.
    pictures : Pictures
        Cut from both photos; windows that the photo before does not show whole are
        judged alone.

    Returns
    -------
    (tuple of GapBelief, tuple of GapBelief)
        Of all windows now, and by themselves of those seen in the photo before.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    now, then, was_seen = pictures.now, pictures.then, pictures.was_seen
    if then is None:
        return believe_pictures(windows, now), ()
    both = [w for w, was in zip(windows, was_seen, strict=True) if was]
    others = [w for w, was in zip(windows, was_seen, strict=True) if not was]
    changes = gap_changes(now[was_seen], then[was_seen])
    beside = zip(
        believe_pictures(both, now[was_seen], then[was_seen]), changes, strict=True
    )
    new = iter([with_change(belief, float(change)) for belief, change in beside])
    alone = iter(believe_pictures(others, now[~was_seen]))
    beliefs = tuple(next(new if was else alone) for was in was_seen)
    return beliefs, believe_pictures(both, then[was_seen])


def with_change(belief: GapBelief, change: float) -> GapBelief:
    """Weigh what is new in a gap.

    Parameters
    ----------
    belief : GapBelief
        What the network believes.
    change : float
        From ``gap_change.gap_changes``.

    Returns
    -------
    GapBelief
        ``is_changed`` where much is new, or less with some belief in a bridge; surer
        of a bridge where it changed clearly.
    """
    some = change >= CHANGED_SOME and belief.bridged >= BRIDGED_SOME
    times = CHANGED_ODDS if change >= CHANGED_CLEARLY else 1.0
    share = times * belief.bridged
    return replace(
        belief,
        is_changed=change >= 1 or some,
        bridged=share / (share + 1 - belief.bridged),
    )
