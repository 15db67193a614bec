"""Lay the board of the after photo over the before photo, chip left out.

The chip may be turned or moved on its board, so its body and everything within reach of
its leads are masked.  Silkscreen, traces and lands carry the match; they are the same
on a donor board of the same layout, while dirt and solder are not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import (
    apply_homography,
    is_sane_quad,
    mean_sides,
    order_ccw,
    signed_area_px2,
)
from vision.overlap import quad_iou_frac
from vision.patches import Fit, Patch, cut, even_out, fit_motion, follow, warp
from vision.results import NotFound, Registration
from vision.spare import each

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Photo, Point

    FloatArray = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

BODY_PX = 150.0
"""Longest body side in the working size, 33 um/px on a 5 mm body: as exact as 200 in
bench_compare and half the time."""
REACHES = (2.3, 4.5, 1.2)
"""Half the working piece, body lengths, at one size of piece: where the first has too
little a wider one, then a nearer and finer one, as in photos cropped round the chip."""
CHIP_MARGIN_FRAC = 0.42
"""Masked round a body whose leads are not known, as a share of its short side."""
MOVED_MM = 0.6
"""Masked round body and leads where they are known: how far the chip may have moved."""
FEATURES = 1500
DETAILS = (0.5, 1.0)
"""Share of the working size at which features are matched; most boards have enough of
the coarse ones, which take a quarter of the time."""
RATIO = 0.8
"""D. Lowe, Int. J. Comput. Vision 60 (2004), doi:10.1023/B:VISI.0000029664.99615.94."""
MATCH_PX = 2.5
MIN_MATCHES = 12
MIN_POINTS = 20
MIN_OCTANTS = 4
"""Of eight directions round the chip, those that hold points."""
MAX_SD_FRAC = 0.008
"""Standard deviation at the chip's corners that is still trusted, body lengths."""
MAX_RESIDUAL_PX = 1.5
MIN_AGREEMENT = 0.25
"""Correlation of the two boards, light taken off; other boards stay below 0.1."""
MIN_IOU_FRAC = 0.35
"""The outlines laid over one another; a moved or quarter-turned chip stays above."""
RETAKE = (
    "Take both photos from above, with three chip lengths of board on every side and "
    "the silkscreen sharp."
)


def register(
    before_photo: Photo,
    before_outline: npt.ArrayLike,
    after_photo: Photo,
    after_outline: npt.ArrayLike,
) -> Registration | NotFound:
    """Find how the board round the chip lies in the after photo.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before_outline : array_like of shape (4, 2)
        Corners of the chip's body, pixels, any start.  They say where to look and what
        to mask; they never decide the turn.
    after_photo : Photo
        Upright photo.
    after_outline : array_like of shape (4, 2)
        The same in the after photo.

    Returns
    -------
    Registration or NotFound
        Map of the board plane, before pixels to after pixels, good near the chip.
        NotFound says what was missing and which photo would settle it.

    Notes
    -----
    RootSIFT features round the chip, ratio test both ways, MAGSAC++ homography, then
    points followed at sub-pixel step and a robust homography with its covariance.
    Trusted only with enough points, in at least half of the directions round the chip,
    with a small predicted error at the chip, when the boards correlate and when the
    outlines fall together.  Fails on bare boards and on views that tilt by more than
    about 35 degrees from one another.

    References
    ----------
    R. Arandjelovic and A. Zisserman, "Three things everyone should know to improve
    object retrieval", CVPR (2012), doi:10.1109/CVPR.2012.6248018; D. Barath et al.,
    "MAGSAC++", CVPR (2020), doi:10.1109/CVPR42600.2020.00138.
    """
    found = lay_board(
        Place(before_photo, order_ccw(before_outline)),
        Place(after_photo, order_ccw(after_outline)),
    )
    if not found:
        return found
    if overlap_frac(found, before_outline, after_outline) < MIN_IOU_FRAC:
        return NotFound(
            reason="the boards match, but the chip found in the after photo sits at "
            "another place of the board. Take the after photo with the same chip in "
            "the middle."
        )
    return found


@dataclass(frozen=True, slots=True)
class Place:
    """A body in a photo, its corners in order; toes and scale where they are known."""

    photo: Photo
    quad: FloatArray
    toes_px: tuple[Point, ...] = ()
    px_per_mm: float | None = None


def lay_board(before: Place, after: Place) -> Registration | NotFound:
    """Register the surroundings of two chips, wherever on the board they sit.

    Parameters
    ----------
    before, after : Place

    Returns
    -------
    Registration or NotFound
        As for ``register``, whether or not it is the same chip.
    """
    answer: Registration | NotFound = NotFound(reason="nothing was tried")
    for reach in REACHES:
        before_piece, after_piece = each(partial(_piece, reach=reach), (before, after))
        answer = _register_pieces(before_piece, after_piece)
        if answer:
            return answer
    return answer


def _piece(place: Place, reach: float) -> tuple[Patch, ByteImage]:
    """Cut the surroundings of a chip, with 255 on the board and 0 on the chip."""
    side = float(mean_sides(place.quad).max())
    scale = min(1.0, BODY_PX * REACHES[0] / reach / side)
    piece = cut(place.photo, place.quad.mean(axis=0), reach * side, scale)
    mask = np.full(piece.gray.shape, 255, np.uint8)
    if mask.size:
        chip, grow_px = _chip(place)
        placed = apply_homography(np.linalg.inv(piece.to_photo), chip)
        polygon = np.round(placed).astype(np.int32)
        cv2.fillConvexPoly(mask, polygon, 0)
        width = max(1, round(2 * grow_px * scale))
        cv2.polylines(mask, [polygon], isClosed=True, color=0, thickness=width)
    return piece, mask


def _chip(place: Place) -> tuple[FloatArray, float]:
    """Give a polygon round body and leads, and by how much it may have moved, px."""
    quad = place.quad
    if place.toes_px and place.px_per_mm is not None:
        points = np.concatenate([quad, np.asarray(place.toes_px, float)])
        hull = cv2.convexHull(points.astype(np.float32)).reshape(-1, 2)
        return hull.astype(float), MOVED_MM * place.px_per_mm
    sides = mean_sides(quad)
    # The masked quad's sides grow by the same length, not by the same share.
    grow = (1 + 2 * CHIP_MARGIN_FRAC * sides.min() / sides) / 2
    a, b = (quad[1] - quad[0]) * grow[0], (quad[2] - quad[1]) * grow[1]
    return quad.mean(axis=0) + np.array([-a - b, a - b, a + b, b - a]), 0.0


def _register_pieces(
    before_piece: tuple[Patch, ByteImage],
    after_piece: tuple[Patch, ByteImage],
) -> Registration | NotFound:
    (before, before_mask), (after, after_mask) = before_piece, after_piece
    if before.gray.size == 0 or after.gray.size == 0:
        return NotFound(reason="the chip lies outside the photo. " + RETAKE)
    masks = before_mask, after_mask
    refined = _lay_over(before, after, masks)
    if isinstance(refined, NotFound):
        return refined
    matrix, fit = refined
    whole = after.to_photo @ matrix @ np.linalg.inv(before.to_photo)
    step = float(np.sqrt(abs(np.linalg.det(after.to_photo[:2, :2]))))
    zoom = float(np.sqrt(abs(np.linalg.det(matrix[:2, :2]))))
    return Registration(
        before_to_after=tuple(
            (float(a), float(b), float(c)) for a, b, c in whole / whole[2, 2]
        ),
        inliers=int(fit.kept.sum()),
        residual_px=fit.residual_px * step * zoom,
    )


def _lay_over(
    before: Patch, after: Patch, masks: tuple[ByteImage, ByteImage]
) -> tuple[FloatArray, Fit] | NotFound:
    """Match and follow points, first by the coarser features, then by all."""
    answer: tuple[FloatArray, Fit] | NotFound = NotFound(reason="nothing was tried")
    for detail in DETAILS:
        coarse = _match(before, after, masks, detail)
        answer = (
            coarse
            if isinstance(coarse, NotFound)
            else _refine(before, after, masks, coarse)
        )
        if answer:
            return answer
    return answer


def _match(
    before: Patch, after: Patch, masks: tuple[ByteImage, ByteImage], detail: float
) -> FloatArray | NotFound:
    """Find a first map, patch to patch, from matching features."""
    pieces = (before, masks[0], detail), (after, masks[1], detail)
    (points, words), (points_after, words_after) = each(_described, pieces)
    fewest = min(len(points), len(points_after))
    if fewest < MIN_MATCHES:
        return NotFound(
            reason=f"too little to hold on to round the chip: {fewest} features;"
            f" {MIN_MATCHES} needed. {RETAKE}"
        )
    first, second = _pairs(words, words_after)
    start, end = points[first], points_after[second]
    if len(start) >= MIN_MATCHES:
        cv2.setRNGSeed(1)
        matrix, kept = cv2.findHomography(
            start, end, cv2.USAC_MAGSAC, MATCH_PX, maxIters=5000, confidence=0.9999
        )
        count = 0 if kept is None or matrix is None else int(kept.sum())
    else:
        count = 0
    if count < MIN_MATCHES or matrix is None or not _sane(np.asarray(matrix), before):
        return NotFound(
            reason=f"the two boards could not be laid over one another: {count} places "
            f"agree of {len(start)} that look alike; {MIN_MATCHES} needed. Check that "
            f"both photos show the same place of the same kind of board. {RETAKE}"
        )
    return np.asarray(matrix)


def _described(
    given: tuple[Patch, ByteImage, float],
) -> tuple[FloatArray, npt.NDArray[np.float32]]:
    """Find features where a mask is free: their places, px, and RootSIFT words."""
    piece, mask, detail = given
    size = [max(1, round(n * detail)) for n in piece.gray.shape[::-1]]
    gray = cv2.resize(piece.gray, size, interpolation=cv2.INTER_AREA)
    free = cv2.resize(mask, gray.shape[::-1], interpolation=cv2.INTER_NEAREST)
    sift = cv2.SIFT.create(nfeatures=FEATURES, contrastThreshold=0.02)
    keys, found = sift.detectAndCompute(gray, free)
    if not keys:
        return np.zeros((0, 2)), np.zeros((0, 128), np.float32)
    step = np.array(piece.gray.shape[::-1]) / gray.shape[::-1]
    points = (np.array([k.pt for k in keys]) + 0.5) * step - 0.5
    return points, np.sqrt(found / (found.sum(axis=1, keepdims=True) + 1e-7))


def _pairs(
    first: npt.NDArray[np.float32], second: npt.NDArray[np.float32]
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Mutual nearest neighbours that are clearly nearer than the second nearest."""
    likeness = first @ second.T  # unit vectors: distance^2 = 2 - 2 likeness
    each_one, best = np.arange(len(first)), likeness.argmax(axis=1)
    mutual = likeness.argmax(axis=0)[best] == each_one
    nearest = likeness[each_one, best]
    likeness[each_one, best] = -np.inf
    clear = (2 - 2 * nearest) < RATIO**2 * (2 - 2 * likeness.max(axis=1))
    chosen = np.flatnonzero(clear & mutual)
    return chosen, best[chosen]


def _sane(matrix: FloatArray, before: Patch) -> bool:
    """No mirror, no horizon through the piece, no wild change of scale."""
    rows, cols = before.gray.shape
    frame = np.array([[0.0, 0], [0, rows], [cols, rows], [cols, 0]])
    depth = frame @ matrix[2, :2] + matrix[2, 2]
    placed = apply_homography(matrix, frame)
    if (depth <= 0).any() and (depth >= 0).any():
        return False
    zoom = signed_area_px2(placed) / signed_area_px2(frame)
    return is_sane_quad(placed) and 0.15 < zoom < 7


def _refine(
    before: Patch, after: Patch, masks: tuple[ByteImage, ByteImage], matrix: FloatArray
) -> tuple[FloatArray, Fit] | NotFound:
    """Follow points at sub-pixel step and fit again; judge what came out."""
    middle = np.array(before.gray.shape[::-1]) / 2
    sigma = BODY_PX / 12
    flat = even_out(before.gray, sigma)
    fit = None
    for _ in range(2):
        moved, seen = warp(after.gray, matrix, before.gray)
        free, _ = warp(masks[1], matrix, before.gray)
        mask = masks[0] & seen & np.where(free == 255, 255, 0).astype(np.uint8)
        mask = np.asarray(cv2.erode(mask, np.ones((7, 7), np.uint8)), np.uint8)
        flat_after = even_out(moved, sigma)
        start, end = follow(flat, flat_after, mask)
        fit = fit_motion(start, end, "homography", middle)
        if fit is None:
            return NotFound(reason="too few places could be followed. " + RETAKE)
        matrix = matrix @ fit.matrix
        start = start[fit.kept]
    assert fit is not None
    reason = _doubt(fit, start, before, masks[0])
    if reason is None:
        alike = _correlation(flat, flat_after, mask)
        if alike < MIN_AGREEMENT:
            reason = f"the boards laid over one another agree only to {alike:.2f}; "
            reason += f"{MIN_AGREEMENT} needed. Check that it is the same kind of board"
    return NotFound(reason=f"{reason}. {RETAKE}") if reason else (matrix, fit)


def _doubt(fit: Fit, points: FloatArray, before: Patch, mask: ByteImage) -> str | None:
    """Say why the fit cannot be trusted near the chip, or None."""
    rows, cols = np.nonzero(mask == 0)
    chip = np.array(
        [[x, y] for x in (cols.min(), cols.max()) for y in (rows.min(), rows.max())]
    )
    away = points - chip.mean(axis=0)
    octants = len(
        set(((np.degrees(np.arctan2(away[:, 1], away[:, 0])) // 45) % 8).astype(int))
    )
    sd = fit.sd_px(chip)
    needed = MAX_SD_FRAC * BODY_PX
    doubts = (
        (
            len(points) < MIN_POINTS,
            f"only {len(points)} places round the chip agree; {MIN_POINTS} needed",
        ),
        (
            octants < MIN_OCTANTS,
            f"places that agree lie in {octants} of 8 directions round the chip; "
            f"{MIN_OCTANTS} needed",
        ),
        (
            fit.residual_px > MAX_RESIDUAL_PX,
            f"places that agree scatter by {fit.residual_px:.1f} px; "
            f"{MAX_RESIDUAL_PX} px allowed",
        ),
        (
            sd > needed,
            f"the board at the chip is known to {sd:.1f} px; {needed:.1f} px needed",
        ),
    )
    return next((said for is_so, said in doubts if is_so), None)


def _correlation(before: ByteImage, after: ByteImage, mask: ByteImage) -> float:
    a, b = before[mask > 0].astype(np.float64), after[mask > 0].astype(np.float64)
    if len(a) < 100:
        return 0.0
    return float(np.corrcoef(a, b)[0, 1]) if a.std() > 0 and b.std() > 0 else 0.0


def overlap_frac(
    found: Registration, before_outline: npt.ArrayLike, after_outline: npt.ArrayLike
) -> float:
    """Give the share that a chip before, laid over the after photo, shares with one.

    Parameters
    ----------
    found : Registration
        The board, before to after.
    before_outline, after_outline : array_like of shape (4, 2)
        Corners in order, pixels of their photos.

    Returns
    -------
    float
        Intersection over union, 0 to 1.
    """
    placed = apply_homography(found.before_to_after, order_ccw(before_outline))
    if not is_sane_quad(placed):
        return 0.0
    return quad_iou_frac(placed, order_ccw(after_outline))
