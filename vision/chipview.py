"""The chip in its own frame, before and after: how it looks turned, how it moved.

The before outline is squared up and the after photo laid over it through the board's
registration.  There a turn is a rotation about the middle, and what moved is the chip.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.angles import rotation_between_deg, skew_deg
from vision.geometry import apply_homography, mean_sides, order_ccw
from vision.patches import Fit, cut, even_out, fit_motion, follow, warp
from vision.spare import each

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Photo, Registration

    FloatArray = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

BODY_PX = 180.0
"""Longest body side in the chip's frame; 27 um/px on a 5 mm body."""
MARGIN_FRAC = 0.5
"""Board kept round the body, as a share of its short side."""
TOP_FRAC = 0.84
"""Share of the body's sides that is its top face, whatever the outline's error."""
SEARCH_FRAC = 0.24
"""How far the top is looked for: 0.6 mm and the outlines' error, of the short side."""
SEARCH_SKEWS_DEG = (0.0, -3.0, 3.0)
NEIGHBOURHOOD_FRAC = 0.1
"""Size of the window that evens out the light, of the short side."""
RIM_FRAC = (-0.05, 0.1)
"""From inside the body's edge to the shoulders of the leads, of the short side."""
MIN_POINTS = 16
MIN_KEPT_FRAC = 0.35
MAX_SCATTER_PX = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChipView:
    """Both photos of one chip in the before chip's frame.

    ``before`` is the squared-up picture; ``after`` a piece of the after photo, not yet
    laid over it.  ``to_before`` maps chip pixels to before-photo pixels, ``to_after``
    to pixels of ``after``.  ``outline_shift_px`` and ``outline_skew_deg`` are what the
    two outlines alone say; ``size_ratio`` is after over before, width and height.
    """

    before: ByteImage = field(compare=False, repr=False)
    after: ByteImage = field(compare=False, repr=False)
    to_before: FloatArray = field(compare=False, repr=False)
    to_after: FloatArray = field(compare=False, repr=False)
    body_px: FloatArray = field(compare=False, repr=False)
    middle_px: FloatArray = field(compare=False, repr=False)
    outline_shift_px: FloatArray = field(compare=False, repr=False)
    outline_skew_deg: float
    size_ratio: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How well the body top after, turned back, correlates with the one before."""

    turn_deg: int
    correlation: float
    shift_px: tuple[float, float]
    skew_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """Movement of the chip's middle in the chip's frame, and how sure it is."""

    shift_px: tuple[float, float]
    skew_deg: float
    sd_px: float
    sd_deg: float
    points: int
    residual_px: float


def view_chip(
    before_photo: Photo,
    before_outline: npt.ArrayLike,
    after_photo: Photo,
    after_outline: npt.ArrayLike,
    registration: Registration,
) -> ChipView:
    """Bring both photos of a chip into the before chip's frame.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before_outline : array_like of shape (4, 2)
        Body corners, pixels, any start.
    after_photo : Photo
        Upright photo.
    after_outline : array_like of shape (4, 2)
        The same in the after photo.
    registration : Registration
        The board, before to after.

    Returns
    -------
    ChipView
        Longest body side at most ``BODY_PX``.
    """
    quad, quad_after = order_ccw(before_outline), order_ccw(after_outline)
    board = np.asarray(registration.before_to_after)
    down, right = mean_sides(quad)
    scale = min(1.0, BODY_PX / max(down, right))
    body = np.array([right, down]) * scale
    middle = np.ceil(body / 2 + MARGIN_FRAC * body.min())
    corners = middle + body / 2 * [[-1, -1], [-1, 1], [1, 1], [1, -1]]
    to_before = _affine(corners, quad)
    before = cut(before_photo, quad.mean(axis=0), 1.5 * max(down, right), scale)
    longest = max(mean_sides(quad_after))
    after = cut(
        after_photo,
        quad_after.mean(axis=0),
        1.6 * longest,
        min(1.0, BODY_PX / longest),
    )
    canvas = np.zeros((int(2 * middle[1]) + 1, int(2 * middle[0]) + 1), np.uint8)
    flat, _ = warp(before.gray, np.linalg.inv(before.to_photo) @ to_before, canvas)
    placed = apply_homography(np.linalg.inv(board @ to_before), quad_after)
    placed = _start_like(placed, corners)
    down_after, right_after = mean_sides(placed)
    return ChipView(
        before=flat,
        after=after.gray,
        to_before=to_before,
        to_after=np.linalg.inv(after.to_photo) @ board @ to_before,
        body_px=body,
        middle_px=middle,
        outline_shift_px=placed.mean(axis=0) - middle,
        outline_skew_deg=skew_deg(rotation_between_deg(corners, placed)),
        size_ratio=(float(right_after / body[0]), float(down_after / body[1])),
    )


def likenesses(view: ChipView, turns_deg: tuple[int, ...]) -> tuple[Likeness, ...]:
    """Correlate the body tops at each turn.

    Parameters
    ----------
    view : ChipView
        The chip, before and after.
    turns_deg : tuple of int
        Turns that the package allows.

    Returns
    -------
    tuple of Likeness
        Best first.  Says nothing of the turn when another chip was put in.

    Notes
    -----
    Normalised cross-correlation of locally evened-out pictures over the range in which
    the chip may have moved, at three skews, on half the resolution.
    """
    low = np.round(view.middle_px - view.body_px * TOP_FRAC / 2).astype(int)
    high = np.round(view.middle_px + view.body_px * TOP_FRAC / 2).astype(int)
    reach = int(SEARCH_FRAC * view.body_px.min())
    start = np.maximum(low - reach, 0)
    template = _half(_soft(view, view.before)[low[1] : high[1], low[0] : high[0]])

    def at(turn: int) -> Likeness:
        tries = []
        for skew in SEARCH_SKEWS_DEG:
            after, _ = warp(
                view.after,
                view.to_after @ rotation(turn + skew, view.middle_px),
                view.before,
            )
            area = _half(
                _soft(view, after)[
                    start[1] : high[1] + reach, start[0] : high[0] + reach
                ]
            )
            scores = cv2.matchTemplate(area, template, cv2.TM_CCOEFF_NORMED)
            _, best, _, place = cv2.minMaxLoc(scores)
            shift = 2 * np.asarray(place) + start - low
            tries.append((float(best), float(shift[0]), float(shift[1]), skew))
        best, x, y, skew = max(tries)
        return Likeness(turn_deg=turn, correlation=best, shift_px=(x, y), skew_deg=skew)

    found = each(at, turns_deg)
    return tuple(sorted(found, key=lambda likeness: -likeness.correlation))


def top_motion(view: ChipView, seen: Likeness) -> Motion | None:
    """Measure how the body top moved, the turn undone.

    Parameters
    ----------
    view : ChipView
        The chip, before and after.
    seen : Likeness
        The turn and a first guess.

    Returns
    -------
    Motion or None
        None where too few points of the marking could be followed.  For a turned chip
        the shift carries the error of the outline's middle, twice for 180 degrees.
    """
    first = rotation(seen.skew_deg, view.middle_px, seen.shift_px)
    return _motion(view, _frame_mask(view, -0.06, None), seen.turn_deg, first)


def rim_motion(view: ChipView, shift_px: npt.ArrayLike, skew: float) -> Motion | None:
    """Measure how the body's edge and the shoulders of its leads moved.

    Parameters
    ----------
    view : ChipView
        The chip, before and after.
    shift_px : array_like of shape (2,)
        First guess, chip pixels.
    skew : float
        First guess, degrees.

    Returns
    -------
    Motion or None
        None where too few points could be followed.

    Notes
    -----
    The rim looks alike before and after a turn by the package's own symmetry, whatever
    chip was put in, so it serves where the marking does not.
    """
    first = rotation(skew, view.middle_px, shift_px)
    return _motion(view, _frame_mask(view, RIM_FRAC[1], RIM_FRAC[0]), 0, first)


def rotation(
    theta_deg: float, middle_px: FloatArray, shift_px: npt.ArrayLike = (0.0, 0.0)
) -> FloatArray:
    """Rotation about a point, counter-clockwise as seen (y down), then a shift."""
    cos, sin = np.cos(np.radians(theta_deg)), np.sin(np.radians(theta_deg))
    matrix = np.array([[cos, sin, 0.0], [-sin, cos, 0.0], [0.0, 0.0, 1.0]])
    shift = np.asarray(shift_px, np.float64)
    matrix[:2, 2] = middle_px - matrix[:2, :2] @ middle_px + shift
    return matrix


def _motion(
    view: ChipView, mask: ByteImage, turn_deg: int, first: FloatArray
) -> Motion | None:
    """Refine a first guess; the shift comes out in the chip's (unturned) axes."""
    turned = rotation(turn_deg, view.middle_px)
    sigma = NEIGHBOURHOOD_FRAC * float(view.body_px.min())
    before, local = even_out(view.before, sigma), first
    fit: Fit | None = None
    tracked = 0
    for _ in range(3):
        after, seen = warp(view.after, view.to_after @ turned @ local, view.before)
        start, end = follow(before, even_out(after, sigma), mask & seen, apart_px=3.0)
        fit = fit_motion(start, end, "rigid", view.middle_px)
        if fit is None:
            return None
        local, tracked = local @ fit.matrix, len(start)
    assert fit is not None
    points = int(fit.kept.sum())
    if points < max(MIN_POINTS, MIN_KEPT_FRAC * tracked):
        return None
    if fit.residual_px > MAX_SCATTER_PX:
        return None
    shift = apply_homography(local, view.middle_px[None])[0] - view.middle_px
    x, y = turned[:2, :2] @ shift
    angle = np.arctan2(local[0, 1] - local[1, 0], local[0, 0] + local[1, 1])
    return Motion(
        shift_px=(float(x), float(y)),
        skew_deg=float(np.degrees(angle)),
        sd_px=fit.sd_px(view.middle_px[None]),
        sd_deg=float(np.degrees(np.sqrt(fit.covariance[2, 2]) / fit.size_px)),
        points=points,
        residual_px=fit.residual_px,
    )


def _frame_mask(view: ChipView, outer: float, inner: float | None) -> ByteImage:
    """255 between two frames round the body; shares of its short side, outward."""
    mask = np.zeros(view.before.shape, np.uint8)
    for grow, value in ((outer, 255), (inner, 0)):
        if grow is None:
            continue
        half = view.body_px / 2 + grow * view.body_px.min()
        low = np.maximum(np.round(view.middle_px - half), 0).astype(int)
        high = np.round(view.middle_px + half).astype(int)
        mask[low[1] : high[1] + 1, low[0] : high[0] + 1] = value
    return mask


def _soft(view: ChipView, gray: ByteImage) -> ByteImage:
    even = even_out(gray, NEIGHBOURHOOD_FRAC * float(view.body_px.min()))
    return np.asarray(cv2.GaussianBlur(even, (0, 0), 1.0), np.uint8)


def _half(gray: ByteImage) -> ByteImage:
    small = cv2.resize(gray, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8)


def _start_like(quad: FloatArray, like: FloatArray) -> FloatArray:
    """Start a quad at the corner that lies nearest to the other's corner 0."""
    gaps = [float(((np.roll(quad, -k, axis=0) - like) ** 2).sum()) for k in range(4)]
    return np.roll(quad, -int(np.argmin(gaps)), axis=0)


def _affine(source: FloatArray, target: FloatArray) -> FloatArray:
    """Least-squares affine map; perspective within one chip is below its noise."""
    ones = np.hstack([source, np.ones((len(source), 1))])
    solved, *_ = np.linalg.lstsq(ones, target, rcond=None)
    return np.vstack([solved.T, [0.0, 0.0, 1.0]])
