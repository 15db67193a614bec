"""Pieces of photos in a working size, and how one piece lies over another.

Shared by ``register`` (board against board) and ``compare`` (chip against chip): cut,
even out the light, follow points, fit a motion and say how sure it is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import cv2
import numpy as np

from vision.geometry import apply_homography
from vision.small import averaged

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Photo

    FloatArray = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

Motion = Literal["shift", "rigid", "affine", "homography"]
PARAMETERS = {"shift": 2, "rigid": 3, "affine": 6, "homography": 8}
TRACK_WINDOW_PX = 17
TRACK_BACK_PX = 0.5
"""A point followed there and back must return this close."""
TUKEY = 4.685
"""95 % efficiency under a normal law (Beaton and Tukey 1974)."""
ITERATIONS = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A piece of a photo: ``gray`` (rows, cols) uint8; ``to_photo`` maps its pixels."""

    gray: ByteImage = field(compare=False, repr=False)
    to_photo: FloatArray = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A motion fitted to followed points, near the identity.

    ``covariance`` belongs to the parameters of ``motion`` about ``centre_px``;
    ``kept`` marks the points that the fit leans on.
    """

    matrix: FloatArray = field(compare=False, repr=False)
    motion: Motion
    centre_px: tuple[float, float]
    size_px: float
    residual_px: float
    covariance: FloatArray = field(compare=False, repr=False)
    kept: npt.NDArray[np.bool_] = field(compare=False, repr=False)

    def sd_px(self, points: npt.ArrayLike) -> float:
        """Largest standard deviation of where the fit puts these points, per axis."""
        rows = _design(np.asarray(points, np.float64), self)
        variance = np.einsum("ni,ij,nj->n", rows, self.covariance, rows)
        return float(np.sqrt(max(variance.max(), 0.0)))


def cut(photo: Photo, centre: npt.ArrayLike, reach_px: float, scale: float) -> Patch:
    """Cut a square piece out of a photo and resample it.

    Parameters
    ----------
    photo : Photo
        Upright photo.
    centre : array_like of shape (2,)
        Middle of the piece, photo pixels.
    reach_px : float
        Half its side, photo pixels; what lies outside the photo is left off.
    scale : float
        Patch pixels per photo pixel; at most 1 is sensible.

    Returns
    -------
    Patch
        Empty (no rows) where the piece misses the photo.
    """
    middle = np.asarray(centre, np.float64)
    low = np.maximum(0, np.floor(middle - reach_px)).astype(int)
    high = np.minimum(
        (photo.pixels.shape[1], photo.pixels.shape[0]), np.ceil(middle + reach_px)
    ).astype(int)
    if (high - low < 16).any():
        return Patch(gray=np.zeros((0, 0), np.uint8), to_photo=np.eye(3))
    halvings = max(0, int(np.floor(np.log2(1 / scale)))) if scale < 1 else 0
    high = low + (high - low) // 2**halvings * 2**halvings
    gray = _gray_of(photo)[low[1] : high[1], low[0] : high[0]]
    size = np.maximum(8, np.round((high - low) * scale)).astype(int)
    wanted = int(size[0]), int(size[1])
    if scale < 1:
        small = averaged(gray, wanted, least_rest=1.0)
    else:
        large = cv2.resize(gray, wanted, interpolation=cv2.INTER_CUBIC)
        small = np.asarray(large, np.uint8)
    step = (high - low) / size
    to_photo = np.array(
        [
            [step[0], 0.0, low[0] + 0.5 * step[0] - 0.5],
            [0.0, step[1], low[1] + 0.5 * step[1] - 0.5],
            [0.0, 0.0, 1.0],
        ]
    )
    return Patch(gray=small, to_photo=to_photo)


def _gray_of(photo: Photo) -> ByteImage:
    """Brightness of a photo; the steps of a comparison cut large parts out of it."""
    if "gray" not in photo.worked_out:
        gray = cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY)
        photo.worked_out["gray"] = np.asarray(gray, np.uint8)
    return photo.worked_out["gray"]


def even_out(gray: npt.NDArray[np.uint8], sigma_px: float) -> ByteImage:
    """Take slow light off a picture and bring its contrast to one level.

    Parameters
    ----------
    gray : ndarray of shape (rows, cols), uint8
        The picture.
    sigma_px : float
        Size of the neighbourhood.

    Returns
    -------
    ndarray of shape (rows, cols), uint8
        128 plus 32 per local standard deviation; flat places stay near 128.
    """
    values = gray.astype(np.float32)
    # A box run twice is close to a Gaussian and costs the same at any size.
    side = max(3, int(1.75 * sigma_px) | 1)

    def smooth(image: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        once = cv2.blur(image, (side, side))
        return np.asarray(cv2.blur(once, (side, side)), np.float32)

    high = values - smooth(values)
    spread = np.sqrt(smooth(high * high) + 9.0)  # 3 grey levels: noise stays small
    return np.asarray(np.clip(128.0 + 32.0 * high / spread, 0, 255), np.uint8)


def warp(
    gray: ByteImage, matrix: FloatArray, like: ByteImage
) -> tuple[ByteImage, ByteImage]:
    """Lay a picture over another.

    Parameters
    ----------
    gray : ndarray of shape (rows, cols), uint8
        The picture to be moved.
    matrix : ndarray of shape (3, 3)
        From pixels of ``like`` to pixels of ``gray``.
    like : ndarray
        Gives the size of the result.

    Returns
    -------
    (ndarray, ndarray) of the shape of ``like``, uint8
        The moved picture, and 255 where it has content.
    """
    size = (like.shape[1], like.shape[0])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    moved = cv2.warpPerspective(
        gray, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    full = np.full(gray.shape, 255, np.uint8)
    full[[0, -1], :] = 0
    full[:, [0, -1]] = 0
    inside = cv2.warpPerspective(full, matrix, size, flags=flags)
    sure = np.where(inside == 255, 255, 0).astype(np.uint8)
    return np.asarray(moved, np.uint8), sure


def follow(
    before: ByteImage,
    after: ByteImage,
    mask: ByteImage,
    *,
    most: int = 600,
    apart_px: float = 5.0,
) -> tuple[FloatArray, FloatArray]:
    """Follow textured points from one picture into another that nearly fits.

    Parameters
    ----------
    before, after : ndarray of shape (rows, cols), uint8
        Pictures of one size that agree to a few pixels.
    mask : ndarray of shape (rows, cols), uint8
        Where points may lie.
    most, apart_px : int, float
        Number of points and their least distance.

    Returns
    -------
    (ndarray, ndarray) of shape (n, 2)
        Points before and after that came back when followed in reverse.

    References
    ----------
    B. Lucas and T. Kanade, IJCAI (1981); J.-Y. Bouguet, "Pyramidal implementation of
    the Lucas Kanade feature tracker", Intel (2000); J. Shi and C. Tomasi, "Good
    features to track", CVPR (1994), doi:10.1109/CVPR.1994.323794.
    """
    empty = np.zeros((0, 2))
    points = cv2.goodFeaturesToTrack(
        before, most, 0.01, apart_px, mask=mask, blockSize=5
    )
    if points is None:
        return empty, empty
    start = points.reshape(-1, 1, 2).astype(np.float32)
    there, found = _flow(before, after, start)
    back, again = _flow(after, before, there)
    gone = np.linalg.norm((back - start).reshape(-1, 2), axis=1)
    good = (found.ravel() == 1) & (again.ravel() == 1) & (gone < TRACK_BACK_PX)
    return (
        start.reshape(-1, 2)[good].astype(np.float64),
        there.reshape(-1, 2)[good].astype(np.float64),
    )


def _flow(
    first: ByteImage, second: ByteImage, points: npt.NDArray[np.float32]
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.uint8]]:
    there, found, _ = cv2.calcOpticalFlowPyrLK(
        first,
        second,
        points,
        points.copy(),
        winSize=(TRACK_WINDOW_PX, TRACK_WINDOW_PX),
        maxLevel=1,
        criteria=(cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 30, 0.005),
    )
    return np.asarray(there, np.float32), np.asarray(found, np.uint8)


def fit_motion(
    start: FloatArray, end: FloatArray, motion: Motion, centre: npt.ArrayLike
) -> Fit | None:
    """Fit a motion near the identity to followed points, leaving out strays.

    Parameters
    ----------
    start, end : ndarray of shape (n, 2)
        Matching points, pixels.
    motion : {"shift", "rigid", "affine", "homography"}
        What the points may do together.
    centre : array_like of shape (2,)
        Point about which the parameters are taken.

    Returns
    -------
    Fit or None
        None where too few points agree.

    Notes
    -----
    Iteratively re-weighted least squares with Tukey's biweight and the median absolute
    deviation as scale; each round composes a linearised step.  The covariance is that
    of the weighted normal equations.  Points lie closer than the tracking window, so
    their errors are not independent; the caller allows for that.

    References
    ----------
    P. Huber, "Robust Statistics", Wiley (1981), chapters 6 and 7.
    """
    count = PARAMETERS[motion]
    if len(start) < count + 2:
        return None
    middle = np.asarray(centre, np.float64)
    size = float(max(np.abs(start - middle).max(), 1.0))
    matrix = _step_matrix(
        np.concatenate([np.median(end - start, axis=0), np.zeros(6)])[:count],
        motion,
        middle,
        size,
    )
    frame = Fit(
        matrix=matrix,
        motion=motion,
        centre_px=(float(middle[0]), float(middle[1])),
        size_px=size,
        residual_px=0.0,
        covariance=np.zeros((count, count)),
        kept=np.ones(len(start), bool),
    )
    for _ in range(ITERATIONS):
        placed = apply_homography(matrix, start)
        gap = end - placed
        distance = np.linalg.norm(gap, axis=1)
        sigma = max(1.4826 * float(np.median(distance)) / 1.1774, 0.02)
        weight = np.clip(1 - (distance / (TUKEY * sigma)) ** 2, 0, None) ** 2
        rows = _design(placed, frame)
        both = np.tile(weight, 2)
        normal = rows.T @ (rows * both[:, None])
        if np.linalg.cond(normal) > 1e10:
            return None
        step = np.linalg.solve(normal, rows.T @ (both * gap.T.ravel()))
        matrix = _step_matrix(step, motion, middle, size) @ matrix
        if np.abs(step).max() < 1e-4:
            break
    kept = weight > 0.1
    if kept.sum() < count + 2:
        return None
    spread = float(np.sqrt((distance[kept] ** 2).mean()))
    return Fit(
        matrix=matrix / matrix[2, 2],
        motion=motion,
        centre_px=frame.centre_px,
        size_px=size,
        residual_px=spread,
        covariance=np.linalg.inv(normal) * spread**2 / 2,
        kept=kept,
    )


def _design(points: FloatArray, fit: Fit) -> FloatArray:
    """Change of each point's x (first half) and y (second half) per parameter."""
    x, y = ((points - np.asarray(fit.centre_px)) / fit.size_px).T
    zero, one = np.zeros_like(x), np.ones_like(x)
    columns_x = [one, zero, -y, x, y, zero, x * x, x * y]
    columns_y = [zero, one, x, zero, zero, y, x * y, y * y]
    if fit.motion in ("affine", "homography"):
        columns_x[2:6], columns_y[2:6] = [x, y, zero, zero], [zero, zero, x, y]
    count = PARAMETERS[fit.motion]
    return np.concatenate(
        [np.stack(columns_x[:count], axis=1), np.stack(columns_y[:count], axis=1)]
    )


def _step_matrix(
    step: FloatArray, motion: Motion, centre: FloatArray, size: float
) -> FloatArray:
    """Build the map whose first-order effect is ``_design`` times ``step``."""
    s = np.zeros(8)
    s[: len(step)] = np.asarray(step) / size
    unit = np.array([[1.0, 0.0, s[0]], [0.0, 1.0, s[1]], [0.0, 0.0, 1.0]])
    if motion == "rigid":
        c, n = np.cos(s[2]), np.sin(s[2])
        unit[:2, :2] = [[c, -n], [n, c]]
    elif motion in ("affine", "homography"):
        unit[:2, :2] += [[s[2], s[3]], [s[4], s[5]]]
        unit[2, :2] = -s[6], -s[7]
    to_unit = np.array(
        [[1 / size, 0, -centre[0] / size], [0, 1 / size, -centre[1] / size], [0, 0, 1]]
    )
    return np.asarray(np.linalg.inv(to_unit) @ unit @ to_unit)
