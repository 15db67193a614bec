"""The board plane and what stands above it: tilt, camera place, parallax.

A body's top stands 1.5 to 2 mm above the board and a foot's upper face 0.2 mm: in a
tilted view both are seen shifted against the board.  Where the camera stood follows
from board points of known place, and the shift from where the camera stood.

Board frame: x right, y down, millimetres; heights count upwards from the board.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from vision.geometry import homography

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import Point

    FloatArray = npt.NDArray[np.float64]

FOCAL_PER_LONG_SIDE = 1.0
FOCAL_SD_LOG = 0.5
"""Without a known lens: phones 0.7 (26 mm equivalent) to 2 long sides (a crop)."""
MIRROR_CHI2 = 6.0
"""The view mirrored in its ray fits almost as well below this: both are kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where the camera stood.

    ``camera_mm``: x, y and height in the board frame.  ``tilt_deg``: between the ray to
    the middle of the points and the board's normal, 0 for square on.  ``slope_cov``:
    covariance of the ray's slope (x and y per unit height) at that middle;
    ``mirror_mm`` the other camera place that fits as well, if one does, and
    ``mirror_chi2`` by how much it fits worse.
    """

    camera_mm: tuple[float, float, float]
    tilt_deg: float
    focal_px: float
    mirror_mm: tuple[float, float, float] | None
    slope_cov: np.ndarray = field(compare=False, repr=False)
    mirror_chi2: float = 0.0

    @property
    def slope(self) -> FloatArray:
        """Slope (2,) of the ray from the frame's origin: x and y per unit of height."""
        return np.array(self.camera_mm[:2]) / self.camera_mm[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Parallax:
    """How far something above the board is seen away from its place on it, mm."""

    dx_mm: float
    dy_mm: float
    dx_sd_mm: float
    dy_sd_mm: float

    @property
    def sd_mm(self) -> float:
        """Standard uncertainty of the shift in its worst direction, at most."""
        return math.hypot(self.dx_sd_mm, self.dy_sd_mm)


def estimate_view(
    points_mm: npt.ArrayLike,
    points_px: npt.ArrayLike,
    image_size_px: tuple[int, int],
    *,
    point_sd_px: float,
    focal_px: float | None = None,
) -> View:
    """Find where the camera stood from points of the board.

    Parameters
    ----------
    points_mm : array_like of shape (n, 2)
        At least four points on the board plane, mm.
    points_px : array_like of shape (n, 2)
        The same points in the photo, px.
    image_size_px : (int, int)
        Width and height of the photo; its middle is taken as the optical centre.
    point_sd_px : float
        Standard deviation of a point in the photo.
    focal_px : float or None
        Focal length in pixels where the file tells it (taken to 5 %), else a broad
        guess; the tilt of a small patch hardly depends on it.

    Returns
    -------
    View
        Least-squares camera place with its spread.

    Notes
    -----
    Pose and focal length are fitted together, the focal length held by its prior.  A
    small patch seen nearly without perspective fits as well mirrored in its own ray;
    then the mirrored place is kept too and counts as doubt.
    """
    board = np.asarray(points_mm, dtype=np.float64)
    photo = np.asarray(points_px, dtype=np.float64)
    middle = board.mean(axis=0)
    centre = (np.array(image_size_px, dtype=np.float64) - 1) / 2
    prior = focal_px or FOCAL_PER_LONG_SIDE * max(image_size_px)
    prior_sd = 0.05 if focal_px else FOCAL_SD_LOG
    local, seen = board - middle, photo - centre

    def residuals(params: FloatArray) -> FloatArray:
        shown = _project(params, local)
        off = ((shown - seen) / max(point_sd_px, 1e-3)).ravel()
        return np.append(off, (params[6] - math.log(prior)) / prior_sd)

    start = _start(local, seen, prior)
    fits = [
        least_squares(residuals, guess, x_scale="jac", method="lm", max_nfev=400)
        for guess in (start, _mirrored(start))
    ]
    fits.sort(key=lambda fit: fit.cost)
    best, other = fits
    camera = _camera(best.x)
    covariance = np.linalg.pinv(best.jac.T @ best.jac)
    slope_jac = _numeric_jacobian(best.x, prior)
    slope_cov = slope_jac @ covariance @ slope_jac.T
    mirror = _camera(other.x)
    is_apart = float(np.hypot(*(_slope(mirror) - _slope(camera)))) > 0.02
    worse = 2 * float(other.cost - best.cost)
    is_doubtful = worse < MIRROR_CHI2 and is_apart
    return View(
        camera_mm=_place(camera, middle),
        tilt_deg=math.degrees(math.atan(float(np.hypot(*_slope(camera))))),
        focal_px=math.exp(best.x[6]),
        mirror_mm=_place(mirror, middle) if is_doubtful else None,
        slope_cov=slope_cov,
        mirror_chi2=worse,
    )


def parallax(
    view: View, at_mm: Point, height_mm: float, *, height_sd_mm: float = 0.0
) -> Parallax:
    """Find how far a point above the board is seen from where it stands.

    Parameters
    ----------
    view : View
        Where the camera stood.
    at_mm : (float, float)
        Where the point is seen, carried to the board plane, mm.
    height_mm : float
        Its height above the board.
    height_sd_mm : float
        Standard uncertainty of the height.

    Returns
    -------
    Parallax
        Seen place minus true place, mm, with standard uncertainties.
    """
    seen = np.array(at_mm)
    slope = _slope_at(view.camera_mm, seen)
    shift = -height_mm * slope
    variance = height_mm**2 * np.diag(view.slope_cov) + (height_sd_mm * slope) ** 2
    if view.mirror_mm is not None:
        apart = height_mm * (_slope_at(view.mirror_mm, seen) - slope)
        variance = variance + (apart / 2) ** 2
    sd = np.sqrt(variance)
    return Parallax(
        dx_mm=float(shift[0]),
        dy_mm=float(shift[1]),
        dx_sd_mm=float(sd[0]),
        dy_sd_mm=float(sd[1]),
    )


def stand_at(view: View, seen_mm: npt.ArrayLike, height_mm: float) -> FloatArray:
    """Take the parallax off points that are known to stand above the board.

    Parameters
    ----------
    view : View
        Where the camera stood.
    seen_mm : array_like of shape (n, 2)
        Points seen, carried to the board plane, mm.
    height_mm : float
        Height of all of them.

    Returns
    -------
    ndarray of shape (n, 2)
        Where they stand on the board, mm.
    """
    seen = np.asarray(seen_mm, dtype=np.float64)
    camera = np.array(view.camera_mm)
    moved: FloatArray = seen + (camera[:2] - seen) * (height_mm / camera[2])
    return moved


def _project(params: FloatArray, local_mm: FloatArray) -> FloatArray:
    """Board points to pixels from the optical centre."""
    turn = Rotation.from_rotvec(params[:3]).as_matrix()
    in_camera = local_mm @ turn[:, :2].T + params[3:6]
    shown: FloatArray = math.exp(params[6]) * in_camera[:, :2] / in_camera[:, 2:]
    return shown


def _start(local: FloatArray, seen: FloatArray, focal: float) -> FloatArray:
    """Pose from the plane's homography (columns are two axes and the place)."""
    h = homography(local, seen)
    axes = np.diag([1 / focal, 1 / focal, 1.0]) @ h
    axes /= math.sqrt(np.linalg.norm(axes[:, 0]) * np.linalg.norm(axes[:, 1]))
    if axes[2, 2] < 0:
        axes = -axes
    turn = np.stack([axes[:, 0], axes[:, 1], np.cross(axes[:, 0], axes[:, 1])], axis=1)
    u, _, vt = np.linalg.svd(turn)
    vector = Rotation.from_matrix(u @ np.diag([1, 1, np.linalg.det(u @ vt)]) @ vt)
    return np.concatenate([vector.as_rotvec(), axes[:, 2], [math.log(focal)]])


def _mirrored(params: FloatArray) -> FloatArray:
    """Give the pose whose board normal is mirrored in the ray to the board's middle."""
    ray = params[3:6] / np.linalg.norm(params[3:6])
    turn = Rotation.from_rotvec(params[:3]).as_matrix()
    mirror = 2 * np.outer(ray, ray) - np.eye(3)
    # Mirroring in the ray and undoing it within the board keeps the picture's sense.
    flipped = mirror @ turn @ np.diag([-1.0, -1.0, 1.0])
    vector = Rotation.from_matrix(flipped).as_rotvec()
    return np.concatenate([vector, params[3:]])


def _camera(params: FloatArray) -> FloatArray:
    """Camera place from the middle of the points: x, y and height."""
    turn = Rotation.from_rotvec(params[:3]).as_matrix()
    place = -turn.T @ params[3:6]
    return np.array([place[0], place[1], -place[2]])


def _slope(camera: FloatArray) -> FloatArray:
    slope: FloatArray = camera[:2] / camera[2]
    return slope


def _slope_at(camera: tuple[float, float, float], at: FloatArray) -> FloatArray:
    slope: FloatArray = (np.array(camera[:2]) - at) / camera[2]
    return slope


def _place(camera: FloatArray, middle: FloatArray) -> tuple[float, float, float]:
    return (
        float(camera[0] + middle[0]),
        float(camera[1] + middle[1]),
        float(camera[2]),
    )


def _numeric_jacobian(params: FloatArray, scale: float) -> FloatArray:
    """Differentiate the ray's slope by the seven fitted numbers, shape (2, 7)."""
    reach = max(float(np.linalg.norm(params[3:6])), 1e-6 * scale)
    steps = np.array([1e-6] * 3 + [1e-6 * reach] * 3 + [1e-6])
    columns = []
    for i, step in enumerate(steps):
        change = np.zeros(7)
        change[i] = step
        ahead, behind = _camera(params + change), _camera(params - change)
        columns.append((_slope(ahead) - _slope(behind)) / (2 * step))
    return np.stack(columns, axis=1)
