"""Moves the windows of a row of leads onto the gaps where the network makes them out.

Windows follow the drawing laid on the body's outline.  Feet lie on the board, lower
than that outline, so in a leaning photo a row lies shifted and stretched against it,
and an outline that is a little off does the same.  Where the network does not find gaps
in its windows, it is asked where along and across the row it does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from vision.beside_before import Pictures, believe_beside, cut_both
from vision.geometry import apply_homography, to_points
from vision.joint_beliefs import believe
from vision.strips import (
    LEFT_COL,
    PITCH_PX,
    REACH_PX,
    RIGHT_COL,
    TOE_ROW,
    show_leads,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.joint_beliefs import GapBelief
    from vision.results import Lead, Point
    from vision.strips import GapWindow

    ByteImage = npt.NDArray[np.uint8]
    FloatArray = npt.NDArray[np.float64]

WELL_MADE_OUT = 0.5
"""Belief that a window lies on a gap, below which its row is looked for."""
SURELY_MADE_OUT = 0.97
"""Below this a row is asked whether it is made out better half the distance of two
leads aside: by their looks the middles of leads may pass for gaps."""
ALONG = np.arange(-4, 5) * PITCH_PX / 8
ACROSS = np.arange(-4, 5) * REACH_PX / 8
"""Moves that are tried, window pixels: to half the distance of two leads either way,
as farther off lies the next gap."""
MOST_ASKED = 6
"""Windows of a long row that are asked, both ends among them."""
FLOOR = 0.0005
"""Added to the odds of a belief: a lead that is hidden does not rule a row."""
SHIFT_SD_PX, STRETCH_SD = 16.0, 0.05
"""Standard deviations of how far rows lie off, window pixels, and of how much longer
they are: of two places that look as well the nearer is taken."""
LEAST_GAIN = 1.0
"""How much more likely, as a logarithm, a row has to lie where it is moved to than
where it was, and the gap at either end than what lies beyond the other: it is what
changes where a row is taken to lie one lead farther along.  So much better aside, a row
that cannot be moved is not read."""
SAME_TOE_PX = 0.5
TINY_PX = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class GapsSeen:
    """Windows where the network makes them out, and what it believes of them.

    ``usual`` is what it believes of the photo before by itself; ``moves`` tells from
    where to where toes moved that do not lie where they are drawn, photo px.
    """

    windows: tuple[GapWindow, ...]
    pictures: Pictures
    beliefs: tuple[GapBelief, ...]
    usual: tuple[GapBelief, ...]
    moves: tuple[tuple[Point, Point], ...] = ()


def see_gaps(
    pixels: ByteImage,
    windows: Sequence[GapWindow],
    before: tuple[ByteImage, FloatArray] | None = None,
    *,
    may_move: bool = True,
) -> GapsSeen:
    """Look at windows; those of rows that are not made out are moved, then looked at.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The photo in which they were placed.
    windows : sequence of GapWindow
        From ``strips.gap_windows``.
    before : tuple of (ndarray, ndarray of shape (3, 3)), optional
        The photo before, and the homography from this photo to it.
    may_move : bool
        Not where there are no leads: the network knows rows of leads only.

    Returns
    -------
    GapsSeen
        Windows in the same order; of rows that are made out, or nowhere better, as
        they were.  Nothing is believed to lie on a gap (``square`` 0) in a row that
        looks better half the distance of two leads aside and yet finds no sure place,
        nor where the photo's edge cuts off a lead.

    Raises
    ------
    ModelError
        The network file is missing or altered.

    Notes
    -----
    A row moves and stretches as a whole, first along, then across itself.  A lead that
    stands alone on its side stays: wherever a wide tab is cut it looks like a gap.
    """
    seen = _look(pixels, tuple(windows), before)
    if not may_move:
        return _unseen(seen, ~show_leads(pixels.shape, seen.windows))
    found: list[GapWindow] = []
    nowhere = np.zeros(len(windows), bool)
    for row in rows_of(windows):
        made_out = [b.square for b in seen.beliefs[len(found) : len(found) + len(row)]]
        place = _settled(pixels, row, min(made_out))
        nowhere[len(found) : len(found) + len(row)] = place is None
        found.extend(row if place is None else place)
    moves = _toes_moved(windows, found)
    if moves:
        seen = replace(_look(pixels, tuple(found), before), moves=moves)
    return _unseen(seen, nowhere | ~show_leads(pixels.shape, seen.windows))


def _unseen(seen: GapsSeen, is_unseen: npt.NDArray[np.bool_]) -> GapsSeen:
    """Believe of some windows that they lie on no gap."""
    beliefs = (
        replace(belief, square=0.0) if unseen else belief
        for belief, unseen in zip(seen.beliefs, is_unseen, strict=True)
    )
    return replace(seen, beliefs=tuple(beliefs))


def rows_of(windows: Sequence[GapWindow]) -> list[list[GapWindow]]:
    """Split windows where one does not begin with the lead the last one ended with.

    Parameters
    ----------
    windows : sequence of GapWindow
        In order of the leads' numbers.

    Returns
    -------
    list of list of GapWindow
        A list a row of leads.
    """
    rows: list[list[GapWindow]] = []
    for window in windows:
        if rows and rows[-1][-1].second == window.first:
            rows[-1].append(window)
        else:
            rows.append([window])
    return rows


def moved_leads(
    leads: Sequence[Lead], moves: Sequence[tuple[Point, Point]]
) -> tuple[Lead, ...]:
    """Move leads to where they were made out.

    Parameters
    ----------
    leads : sequence of Lead
        As drawn, in the photo in which they were moved; numbered in any way.
    moves : sequence of (Point, Point)
        From ``GapsSeen``.

    Returns
    -------
    tuple of Lead
        Toe and heel moved alike; those that did not move as they were.
    """
    return tuple(_moved_lead(lead, moves) for lead in leads)


def _moved_lead(lead: Lead, moves: Sequence[tuple[Point, Point]]) -> Lead:
    for old, new in moves:
        if np.hypot(*np.subtract(lead.toe_px, old)) < SAME_TOE_PX:
            x, y = lead.heel_px
            heel = (x + new[0] - old[0], y + new[1] - old[1])
            return replace(lead, toe_px=new, heel_px=heel)
    return lead


def _look(
    pixels: ByteImage,
    windows: tuple[GapWindow, ...],
    before: tuple[ByteImage, FloatArray] | None,
) -> GapsSeen:
    pictures = cut_both(pixels, windows, before)
    beliefs, usual = believe_beside(windows, pictures)
    return GapsSeen(windows=windows, pictures=pictures, beliefs=beliefs, usual=usual)


def _toes_moved(
    drawn: Sequence[GapWindow], found: Sequence[GapWindow]
) -> tuple[tuple[Point, Point], ...]:
    toes = np.array([[LEFT_COL, TOE_ROW], [RIGHT_COL, TOE_ROW]])
    moves: list[tuple[Point, Point]] = []
    for old, new in zip(drawn, found, strict=True):
        if old is not new:
            ends = (to_points(apply_homography(w.to_photo, toes)) for w in (old, new))
            moves.extend(zip(*ends, strict=True))
    return tuple(moves)


def _settled(
    pixels: ByteImage, row: list[GapWindow], made_out: float
) -> list[GapWindow] | None:
    """Give a row where it lies; None where its leads may have been taken for gaps."""
    if row[0].second is None or made_out >= SURELY_MADE_OUT:
        return row
    better_aside = _better_aside(pixels, row)
    if made_out >= WELL_MADE_OUT and better_aside <= 0:
        return row
    are_leads = better_aside >= LEAST_GAIN
    return _moved_row(pixels, row) or (None if are_leads else row)


def _better_aside(pixels: ByteImage, row: list[GapWindow]) -> float:
    """Tell how much better a row is made out half the distance of two leads aside.

    The logarithm of odds of a window in the middle: one hidden lead does not count.
    """
    asked = [row[k] for k in _asked_of(row)]
    aside = [_moved(w, 0, d) for d in (-PITCH_PX / 2, PITCH_PX / 2) for w in asked]
    here, *there = _odds(pixels, [*asked, *aside]).reshape(3, len(asked))
    return float(max(np.median(place - here) for place in there))


def _asked_of(row: Sequence[GapWindow]) -> npt.NDArray[np.int_]:
    """Choose the windows of a row that are asked where it lies."""
    share = np.linspace(0, len(row) - 1, MOST_ASKED)
    return np.unique(share.round().astype(int))


def _moved_row(pixels: ByteImage, row: list[GapWindow]) -> list[GapWindow] | None:
    """Move a row to where it is made out best; None where that is in doubt."""
    share = np.linspace(0, 1, len(row))
    asked = _asked_of(row)
    moved, gain = row, 0.0
    for axis, steps in ((0, ALONG), (1, ACROSS)):
        tried = [_moved(moved[k], axis, step) for k in asked for step in steps.tolist()]
        scores = _odds(pixels, tried).reshape(len(asked), len(steps))
        (start, end), better = _best_ends(scores, share[asked], steps, len(row) - 1)
        at = start + (end - start) * share
        moved = [_moved(w, axis, d) for w, d in zip(moved, at.tolist(), strict=True)]
        gain += better
    if gain < LEAST_GAIN:
        return None
    first, last = moved[0], moved[-1]
    beyond = [_moved(last, 0, PITCH_PX), _moved(first, 0, -PITCH_PX)]
    ends = _odds(pixels, [first, last, *beyond])
    return moved if (ends[:2] - ends[2:]).min() >= LEAST_GAIN else None


def _odds(pixels: ByteImage, windows: Sequence[GapWindow]) -> FloatArray:
    """Logarithms of the odds that windows lie on gaps."""
    share = np.array([b.square for b in believe(pixels, windows)])
    return np.asarray(np.log((share + FLOOR) / (1 - share + FLOOR)))


def _best_ends(
    scores: FloatArray, share: FloatArray, steps: FloatArray, pitches: int
) -> tuple[tuple[float, float], float]:
    """Return how far both ends of a row are best moved, and how much better that is."""
    stretch_sd_px = max(STRETCH_SD * PITCH_PX * pitches, TINY_PX)

    def score(first: float, last: float) -> float:
        at = first + (last - first) * share
        seen = sum(np.interp(x, steps, s) for x, s in zip(at, scores, strict=True))
        shift, stretch = (first + last) / 2, last - first
        unlikely = (shift / SHIFT_SD_PX) ** 2 + (stretch / stretch_sd_px) ** 2
        return float(seen - unlikely / 2)

    best = max(product(steps.tolist(), repeat=2), key=lambda ends: score(*ends))
    return best, score(*best) - score(0.0, 0.0)


def _moved(window: GapWindow, axis: int, px: float) -> GapWindow:
    move = np.eye(3)
    move[axis, 2] = px
    return replace(window, to_photo=window.to_photo @ move)
