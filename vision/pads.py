"""How much of a contact pad that a person marked is stained."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.results import NotFound

if TYPE_CHECKING:
    Floats = np.ndarray
    Mark = tuple[float, float, float, float]

LEAST_SIDE_PX, LEAST_METAL_PX = 16.0, 300
"""Of the mark and of the metal in it; below it a stain is a few pixels wide."""
RING_FRAC, LEAST_RING_PX = 0.25, 4
"""Width of the ring around the mark in which the board's own colour is read."""
BOARD_DE = 16.0
"""Difference (CIE76) up to which a pixel counts as the board around the pad."""
COLOURED, LEAST_SHADE, MOST_OFF_HUE = 10.0, 0.35, 0.35
"""Chroma from which a board has a colour; then every shade of it that keeps so much of
its chroma, and strays so little from its hue, is the board too: mask over copper, over
bare laminate, and in the shadow of the pad."""
MOST_OUT_FRAC = 0.03
"""Share of the mark's border that metal may touch."""
PEAK_HALF, LEAST_PEAK_FRAC = 5.0, 0.03
"""Half width in L* of the peak taken for clean metal, and its least share."""
GLARE_LIGHT, BLIND_LIGHT = 92.0, 98.0
"""L* from which a smaller part of a pad is a reflection, and from which any part is."""
LEAST_CLEAN_LIGHT, METAL_OVER_BOARD = 50.0, 12.0
"""L* of clean metal, at least, and by how much lighter than the board it has to be."""
STAIN_DE = 18.0
"""Difference from the clean metal from which a pixel is stained: about eight times
what is just noticeable (2.3, Mahy and others 1994, from memory)."""
SPREAD = (0.75, 1.33)
"""Thresholds between which the share is said to lie; the upper one is also half of what
stains differ by, where their blurred rims end."""
RIM_PX, LEAST_PIECE_FRAC = 2, 0.05
"""Blurred edge of the pad that is left out; least piece of it, of the largest one."""
FLOOR_SD_FRAC = 0.015
MOST_GLARE_FRAC = 0.05
"""What shines more than this mirrors its surroundings, dark ones too, and a dark
reflection cannot be told from a stain."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PadStain:
    """What was seen of one marked pad; ``u_frac`` is expanded, k = 2.

    ``stained_frac`` is the stained share of the metal in the mark.  ``clean_lab`` is
    the colour taken for clean (CIELAB); ``stain`` and ``metal`` are masks of the mark,
    their corner at ``corner_px``.
    """

    mark_px: Mark
    stained_frac: float
    u_frac: float
    clean_lab: tuple[float, float, float]
    corner_px: tuple[int, int]
    stain: np.ndarray = field(compare=False, repr=False)
    metal: np.ndarray = field(compare=False, repr=False)


def read_pad(pixels: np.ndarray, mark_px: Mark) -> PadStain | NotFound:
    """Measure the stained share of the metal within a mark.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        Upright photo, BGR.
    mark_px : (float, float, float, float)
        Two opposite corners of a rectangle around the pad, x and y.

    Returns
    -------
    PadStain or NotFound
        NotFound where the mark holds too few pixels, no metal that stands out from
        the board around it, too much glare, or no clean part to compare with.

    Notes
    -----
    The board's colour is that of the ring around the mark.  The hull of what differs
    from it is the pad, so that a stain of the board's own colour counts; a pad with a
    bend in it is not for this.  Clean metal is the lightest peak of the pad's L* that
    holds a share of it; what is not lighter, and differs from it, is stained.  A shadow
    looks like a stain, a white deposit like a reflection, and a film all over the pad
    may look clean.

    References
    ----------
    ISO/CIE 11664-4 (CIELAB, and its colour difference CIE76).
    """
    rows, cols = pixels.shape[:2]
    box = _inside(mark_px, (cols, rows))
    left, top, right, bottom = box
    if min(right - left, bottom - top) < LEAST_SIDE_PX:
        return NotFound(
            reason=f"the mark holds {right - left} by {bottom - top} px of the photo; "
            f"{LEAST_SIDE_PX:.0f} px each way needed. Move the camera closer"
        )
    lab, ring = _lab_around(pixels, box)
    pieces = _pieces(~_is_board(lab, np.median(ring, axis=0)))
    border = np.concatenate([pieces[0], pieces[-1], pieces[:, 0], pieces[:, -1]])
    if border.mean() > MOST_OUT_FRAC:
        return NotFound(
            reason="what is marked runs out of the mark. Mark one whole pad with some "
            "board all around it"
        )
    metal = _hull(pieces)
    if metal.sum() < LEAST_METAL_PX:
        return NotFound(
            reason=f"{int(metal.sum())} px stand out from the board around the mark; "
            f"{LEAST_METAL_PX} needed. Mark the whole pad with some board around it"
        )
    glare = metal & (lab[..., 0] >= GLARE_LIGHT)
    if glare.sum() > metal.sum() / 2:
        glare = metal & (lab[..., 0] >= BLIND_LIGHT)
    if glare.sum() > MOST_GLARE_FRAC * metal.sum():
        return NotFound(
            reason=f"{100 * glare.sum() / metal.sum():.0f} % of the pad shines: it "
            "mirrors what is around it. Light it through paper, or from all sides"
        )
    seen = metal & ~glare
    clean = _clean(lab[seen])
    least = max(LEAST_CLEAN_LIGHT, float(np.median(ring[:, 0])) + METAL_OVER_BOARD)
    if clean is None or clean[0] < least:
        return NotFound(
            reason="no clean, light metal in the mark to compare with: the pad is "
            "stained all over, or dark in this photo. Light it evenly, or look at it "
            "yourself"
        )
    return _measured(lab, seen, clean, _Place(mark_px, (left, top)))


@dataclass(frozen=True, slots=True)
class _Place:
    mark_px: Mark
    corner_px: tuple[int, int]


def _inside(mark_px: Mark, size_px: tuple[int, int]) -> tuple[int, int, int, int]:
    """Give the whole pixels of a mark that lie in the photo."""
    xs, ys = sorted(mark_px[0::2]), sorted(mark_px[1::2])
    (left, right), (top, bottom) = (
        (int(np.clip(round(v[0]), 0, size)), int(np.clip(round(v[1]), 0, size)))
        for v, size in ((xs, size_px[0]), (ys, size_px[1]))
    )
    return left, top, right, bottom


def _lab_around(
    pixels: np.ndarray, box: tuple[int, int, int, int]
) -> tuple[Floats, Floats]:
    """Give CIELAB of the mark, and of the ring around it as a list."""
    left, top, right, bottom = box
    wide = max(LEAST_RING_PX, round(RING_FRAC * min(right - left, bottom - top)))
    x, y = max(0, left - wide), max(0, top - wide)
    cut = cv2.medianBlur(
        np.ascontiguousarray(pixels[y : bottom + wide, x : right + wide]), 3
    )
    lab: Floats = cv2.cvtColor(cut.astype(np.float32) / 255, cv2.COLOR_BGR2LAB)
    is_ring = np.ones(lab.shape[:2], bool)
    is_ring[top - y : bottom - y, left - x : right - x] = False
    inner = lab[top - y : bottom - y, left - x : right - x]
    return inner, lab[is_ring] if is_ring.any() else inner.reshape(-1, 3)


def _is_board(lab: Floats, board: Floats) -> np.ndarray:
    """Tell the board, lit or in shadow, from what stands on it."""
    is_board: np.ndarray = np.linalg.norm(lab - board, axis=-1) <= BOARD_DE
    chroma = float(np.hypot(*board[1:]))
    if chroma < COLOURED:
        return is_board
    along = lab[..., 1:] @ board[1:] / chroma**2
    across = np.abs(lab[..., 1] * board[2] - lab[..., 2] * board[1]) / chroma**2
    is_board |= (along >= LEAST_SHADE) & (across <= MOST_OFF_HUE * along)
    return is_board


def _pieces(mask: np.ndarray) -> np.ndarray:
    """Keep what is no speck beside the largest piece."""
    found = cv2.morphologyEx(
        mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)
    )
    count, labels, stats, _ = cv2.connectedComponentsWithStats(found)
    if count == 1:
        return found.astype(bool)
    areas = stats[1:, cv2.CC_STAT_AREA]
    kept = 1 + np.flatnonzero(areas >= LEAST_PIECE_FRAC * areas.max())
    whole: np.ndarray = np.isin(labels, kept)
    return whole


def _hull(pieces: np.ndarray) -> np.ndarray:
    """Fill the hull of the pad, less its blurred edge."""
    pad = np.zeros(pieces.shape, np.uint8)
    if pieces.any():
        points = np.argwhere(pieces)[:, ::-1].astype(np.int32)
        cv2.fillConvexPoly(pad, cv2.convexHull(points), 1)
    side = 2 * RIM_PX + 1
    return cv2.erode(pad, np.ones((side, side), np.uint8)).astype(bool)


def _clean(lab: Floats) -> Floats | None:
    """Give the colour of the lightest peak that holds a share of the pixels."""
    counts, edges = np.histogram(lab[:, 0], bins=np.arange(0, 101, 1.0))
    width = int(2 * PEAK_HALF)
    near = np.convolve(counts, np.ones(width), mode="same")
    least = LEAST_PEAK_FRAC * len(lab)
    for k in range(len(near) - 2, 0, -1):
        if near[k] >= least and near[k] >= near[k - 1] and near[k] >= near[k + 1]:
            middle = edges[k]
            peak = lab[np.abs(lab[:, 0] - middle) <= PEAK_HALF]
            colour: Floats = np.median(peak, axis=0)
            return colour
    return None


def _measured(lab: Floats, seen: np.ndarray, clean: Floats, place: _Place) -> PadStain:
    away = lab - clean
    is_lighter = away[..., 0] > PEAK_HALF
    differs = np.where(is_lighter, 0.0, np.linalg.norm(away, axis=-1))
    inside = differs[seen]
    stains = inside[inside > STAIN_DE]
    upper = max(
        SPREAD[1] * STAIN_DE, float(np.median(stains)) / 2 if stains.size else 0
    )
    least, share, most = (
        float((inside > limit).mean())
        for limit in (upper, STAIN_DE, SPREAD[0] * STAIN_DE)
    )
    return PadStain(
        mark_px=place.mark_px,
        stained_frac=(least + share) / 2,
        u_frac=2 * float(np.hypot(FLOOR_SD_FRAC, (most - least) / 2)),
        clean_lab=(float(clean[0]), float(clean[1]), float(clean[2])),
        corner_px=place.corner_px,
        stain=seen & (differs > STAIN_DE),
        metal=seen,
    )
