"""Frames, signs and the arithmetic between them; the only place where they meet.

Image frame, ``_px``
    x right, y down, pixel centres at whole numbers, points as ``(x, y)``, arrays as
    ``image[row, col]``.
Package frame, ``_mm``
    Origin at the body centre, x right, y down, with pin 1 at the upper left.  ``x``
    runs across the rows of a two-row package, ``y`` along them.
Sense
    Counter-clockwise means as a person sees the picture.  With y down that is the
    direction in which the shoelace sum is negative; every sign is turned here once.
    ``theta_deg`` is counter-clockwise positive in [-180, 180), ``turn_deg`` is 0, 90,
    180 or 270 in the same sense, after minus before.
Quad
    Four corners of a body.  Once pin 1 is known corner 0 is the pin-1 corner and the
    rest follow counter-clockwise as pins are numbered from above: in the package frame
    upper left, lower left, lower right, upper right.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

QUAD_CORNERS = 4
# Corners flatter or sharper than about 3 degrees do not belong to a body.
MIN_CORNER_SINE = 0.05


def signed_area_px2(polygon: npt.ArrayLike) -> float:
    """Area of a polygon, positive where its corners run counter-clockwise as seen.

    Parameters
    ----------
    polygon : array_like of shape (n, 2)
        Corners in order, pixels (or any one unit) in a frame with y down.

    Returns
    -------
    float
        Square pixels (or the square of the unit given); shoelace formula.
    """
    points = _points(polygon)
    x, y = points[:, 0] - points[:, 0].mean(), points[:, 1] - points[:, 1].mean()
    return float(0.5 * np.sum(np.roll(x, -1) * y - x * np.roll(y, -1)))


def side_lengths(quad: npt.ArrayLike) -> FloatArray:
    """Give the lengths of a quad's sides.

    Parameters
    ----------
    quad : array_like of shape (..., 4, 2)
        Corners in order, any unit.

    Returns
    -------
    ndarray of shape (..., 4)
        Side k runs from corner k to the next.
    """
    corners = np.asarray(quad, dtype=np.float64)
    sides = np.roll(corners, -1, axis=-2) - corners
    lengths: FloatArray = np.linalg.norm(sides, axis=-1)
    return lengths


def longest_side(quad: npt.ArrayLike) -> float:
    """Length of the longest side of a quad.

    Parameters
    ----------
    quad : array_like of shape (4, 2)
        Corners in order.

    Returns
    -------
    float
        In the units of the corners.
    """
    return float(side_lengths(quad).max())


def mean_sides(quad: npt.ArrayLike) -> FloatArray:
    """Give a quad's mean length along sides 0-1 and 2-3, and along 1-2 and 3-0.

    Parameters
    ----------
    quad : array_like of shape (4, 2)
        Corners in order, any unit.

    Returns
    -------
    ndarray of shape (2,)
    """
    lengths = side_lengths(quad)
    return (lengths[:2] + lengths[2:]) / 2


def is_sane_quad(quad: npt.ArrayLike) -> bool:
    """Tell whether four corners make a body: finite, convex, not crossing, not flat.

    Parameters
    ----------
    quad : array_like of shape (4, 2)
        Corners in order, either sense, pixels.

    Returns
    -------
    bool
        False for a crossing, dented, flattened or non-finite quad.
    """
    points = np.asarray(quad, dtype=np.float64)
    if points.shape != (QUAD_CORNERS, 2) or not np.isfinite(points).all():
        return False
    ahead = np.roll(points, -1, axis=0) - points
    behind = np.roll(ahead, 1, axis=0)
    lengths = np.linalg.norm(ahead, axis=1)
    if lengths.min() <= 0:
        return False
    crossed = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    sines = crossed / (lengths * np.roll(lengths, 1))
    # Four corners that all bend one way cannot cross: they turn by 360 degrees once.
    return bool((sines > MIN_CORNER_SINE).all() or (sines < -MIN_CORNER_SINE).all())


def order_ccw(quad: npt.ArrayLike) -> FloatArray:
    """Put four corners into counter-clockwise order as seen, upper-left one first.

    Parameters
    ----------
    quad : array_like of shape (4, 2)
        Corners in any order, pixels.

    Returns
    -------
    ndarray of shape (4, 2), float64
        Counter-clockwise from the smallest ``x + y`` (of equals the smaller x); the
        start means nothing for pin 1.

    Raises
    ------
    ValueError
        If the corners make no sane convex quad in any order.
    """
    points = _points(quad)
    centre = points.mean(axis=0)
    bearing = np.arctan2(points[:, 1] - centre[1], points[:, 0] - centre[0])
    ordered = points[np.argsort(-bearing, kind="stable")]
    if not is_sane_quad(ordered):
        message = f"corners {points.tolist()} make no convex quad in any order"
        raise ValueError(message)
    start = min(range(QUAD_CORNERS), key=lambda i: (ordered[i].sum(), ordered[i, 0]))
    return roll(ordered, start)


def roll(quad: npt.ArrayLike, steps: int) -> FloatArray:
    """Start a quad at another of its corners.

    Parameters
    ----------
    quad : array_like of shape (4, 2)
        Corners in order, pixels.
    steps : int
        The corner that shall become corner 0; any whole number, taken modulo 4.

    Returns
    -------
    ndarray of shape (4, 2), float64
        The same corners in the same sense.
    """
    return np.roll(_points(quad), -steps, axis=0)


def to_points(points: npt.ArrayLike) -> tuple[tuple[float, float], ...]:
    """Turn an array of points into plain tuples for a record.

    Parameters
    ----------
    points : array_like of shape (n, 2)
        Points ``(x, y)``, any unit.

    Returns
    -------
    tuple of tuple of float
        The same points.
    """
    return tuple((float(x), float(y)) for x, y in _points(points))


def homography(source: npt.ArrayLike, target: npt.ArrayLike) -> FloatArray:
    """Projective map that carries source points to target points.

    Parameters
    ----------
    source, target : array_like of shape (n, 2)
        At least four matching points, no three of the four on one line.

    Returns
    -------
    ndarray of shape (3, 3), float64
        Scaled to ``h[2, 2] == 1`` where that entry is not zero.

    Raises
    ------
    ValueError
        If there are fewer than four points, or they do not fix a map.

    Notes
    -----
    Normalised direct linear transform; for more than four points least squares.

    References
    ----------
    R. Hartley, "In defense of the eight-point algorithm", IEEE Trans. Pattern Anal.
    Mach. Intell. 19 (1997), doi:10.1109/34.601246.
    """
    here, there = _points(source), _points(target)
    if here.shape != there.shape or len(here) < QUAD_CORNERS:
        message = f"{len(here)} and {len(there)} points; 4 pairs needed"
        raise ValueError(message)
    from_unit, to_unit = _normaliser(here), _normaliser(there)
    x, y = apply_homography(from_unit, here).T
    u, v = apply_homography(to_unit, there).T
    zero, one = np.zeros_like(x), np.ones_like(x)
    across = np.stack([x, y, one, zero, zero, zero, -u * x, -u * y, -u], axis=1)
    down = np.stack([zero, zero, zero, x, y, one, -v * x, -v * y, -v], axis=1)
    rows = np.concatenate([across, down])
    _, sizes, bases = np.linalg.svd(rows)
    if sizes[7] < 1e-9 * sizes[0]:
        message = "the points lie on one line or coincide; no map is fixed"
        raise ValueError(message)
    h = np.linalg.inv(to_unit) @ bases[-1].reshape(3, 3) @ from_unit
    h = h / np.linalg.norm(h)
    return np.asarray(h / h[2, 2] if abs(h[2, 2]) > 1e-12 else h)


def apply_homography(h: npt.ArrayLike, points: npt.ArrayLike) -> FloatArray:
    """Carry points through a projective map.

    Parameters
    ----------
    h : array_like of shape (3, 3)
        The map.
    points : array_like of shape (n, 2)
        Points ``(x, y)``.

    Returns
    -------
    ndarray of shape (n, 2), float64
        The mapped points; not finite for a point on the map's horizon.
    """
    matrix, given = np.asarray(h, dtype=np.float64), _points(points)
    mapped = given @ matrix[:, :2].T + matrix[:, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(mapped[:, :2] / mapped[:, 2:])


def derivative(h: npt.ArrayLike, at: npt.ArrayLike, step: float = 1.0) -> FloatArray:
    """Differentiate a projective map at a place.

    Parameters
    ----------
    h : array_like of shape (3, 3)
        The map.
    at : array_like of shape (2,)
        The place ``(x, y)``.
    step : float
        Over how much to each side the differences are taken, in the unit of ``at``.

    Returns
    -------
    ndarray of shape (2, 2), float64
        Columns: what a step along x and one along y become.
    """
    steps = step * np.array([(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
    right, left, down, up = apply_homography(h, np.asarray(at, np.float64) + steps)
    return np.stack([right - left, down - up], axis=1) / (2 * step)


def zoom_of(h: npt.ArrayLike, at: npt.ArrayLike, step: float = 1.0) -> float:
    """Give the scale of a projective map at a place: the root of that of areas.

    Parameters
    ----------
    h : array_like of shape (3, 3)
        The map.
    at : array_like of shape (2,)
        The place ``(x, y)``.
    step : float
        As for ``derivative``.

    Returns
    -------
    float
        Units of the map's picture per unit of ``at``.
    """
    return float(np.sqrt(abs(np.linalg.det(derivative(h, at, step)))))


def body_corners_mm(body_x_mm: float, body_y_mm: float) -> FloatArray:
    """Corners of a body in the package frame, pin-1 corner first, counter-clockwise.

    Parameters
    ----------
    body_x_mm, body_y_mm : float
        Body size across and along the rows, millimetres.

    Returns
    -------
    ndarray of shape (4, 2), float64
        Upper left, lower left, lower right, upper right, millimetres.
    """
    x, y = body_x_mm / 2.0, body_y_mm / 2.0
    return np.array([[-x, -y], [-x, y], [x, y], [x, -y]])


def px_per_mm(corners_px: npt.ArrayLike, body_x_mm: float, body_y_mm: float) -> float:
    """Scale at a body: the square root of its area in pixels over that in millimetres.

    Parameters
    ----------
    corners_px : array_like of shape (4, 2)
        Body corners in order, pixels.
    body_x_mm, body_y_mm : float
        Body size, millimetres.

    Returns
    -------
    float
        Pixels per millimetre, averaged over the body and both directions.
    """
    area_mm2 = float(body_x_mm) * body_y_mm
    return float(np.sqrt(abs(signed_area_px2(corners_px)) / area_mm2))


def _normaliser(points: FloatArray) -> FloatArray:
    """Similarity that centres points and brings their mean distance to root 2."""
    centre = points.mean(axis=0)
    spread = float(np.linalg.norm(points - centre, axis=1).mean())
    if not spread > 0:
        message = "the points coincide; no map is fixed"
        raise ValueError(message)
    scale = np.sqrt(2.0) / spread
    x, y = -scale * centre
    return np.array([[scale, 0.0, x], [0.0, scale, y], [0.0, 0.0, 1.0]])


def _points(points: npt.ArrayLike) -> FloatArray:
    """Read points as an (n, 2) float array; a mistake of ours if they are not."""
    array = np.asarray(points, dtype=np.float64)
    if array.ndim != 2 or array.shape[1] != 2:
        message = f"points have shape {array.shape}; (n, 2) needed"
        raise ValueError(message)
    return array


def vertex(values: npt.ArrayLike, at: int) -> float:
    """Give the top of the parabola through a highest sample and its neighbours.

    Parameters
    ----------
    values : array_like of shape (n,)
    at : int
        Where the highest sample is.

    Returns
    -------
    float
        Samples beyond ``at``; 0 at an end, and where the values do not bend down.
    """
    samples = np.asarray(values, float)
    if not 0 < at < len(samples) - 1:
        return 0.0
    left, here, right = (float(v) for v in samples[at - 1 : at + 2])
    curve = left - 2 * here + right
    return 0.5 * (left - right) / curve if curve < -1e-9 else 0.0
