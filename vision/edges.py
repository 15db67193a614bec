"""Where an edge runs, to a fraction of a pixel, with its standard deviation.

An edge seen through a lens is a step blurred by a Gaussian: an error function.
Fitting it by least squares is the maximum-likelihood estimate under white noise
and reaches the Cramér-Rao bound, where a gradient centroid is 2 to 5 times worse.
All pixels along a straight edge count, in the photo itself: nothing is resampled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import erf

from vision.results import NotFound

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from vision.results import Point

    Floats = NDArray[np.float64]

MIN_BLUR_PX = 0.3
"""A pixel itself averages over 1/sqrt(12) = 0.29 px."""
MAX_BLUR_PX = 8.0
START_BLURS_PX = (0.7, 1.6, 3.5)
START_STEP_PX = 0.5
MAX_ITERATIONS = 40
MIN_STEP_TO_NOISE = 3.0
"""Below three noise deviations a step is not told from noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineEdge:
    """A straight edge: the line through ``at_px`` along ``direction`` (unit vector).

    ``offset_sd_px`` is the standard deviation across the line at ``at_px``;
    ``angle_sd_deg`` of its direction.  ``step`` is the brightness on the left of the
    direction minus that on the right (left as seen, y down).
    """

    at_px: Point
    direction: Point
    offset_sd_px: float
    angle_sd_deg: float
    blur_px: float
    step: float
    noise: float


def fit_line(
    gray: np.ndarray, start_px: Point, end_px: Point, *, reach_px: float
) -> LineEdge | NotFound:
    """Find the straight edge near a segment from all pixels around it.

    Parameters
    ----------
    gray : ndarray of shape (rows, cols), any number type
        The photo or one channel of it.
    start_px, end_px : (float, float)
        Ends of the segment where the edge is expected.
    reach_px : float
        How far to each side of the segment the pixels count.  No second edge may
        lie within it.

    Returns
    -------
    LineEdge or NotFound
        NotFound when fewer than 12 pixels count or no edge stands out of the noise.

    Notes
    -----
    Model: brightness = level + step/2 erf(d / (sqrt 2 blur)), d the distance from
    the line; free are offset, slope, blur and the two levels.
    """
    frame = _strip(gray, start_px, end_px, reach_px)
    if not frame:
        return frame
    along, across, values, half_px = frame
    fit = _fit_plane_edge(along, across, values, half_px, reach_px)
    if not fit:
        return fit
    offset_px, slope, blur_px, step, covariance, noise = fit
    centre = 0.5 * (np.array(start_px) + np.array(end_px))
    direction = np.array(end_px, dtype=float) - np.array(start_px, dtype=float)
    direction /= np.hypot(*direction)
    normal = np.array([-direction[1], direction[0]])
    at = centre + offset_px * normal
    turned = direction + slope * normal
    turned /= np.hypot(*turned)
    scale = 1 / math.hypot(1, slope)
    return LineEdge(
        at_px=(float(at[0]), float(at[1])),
        direction=(float(turned[0]), float(turned[1])),
        offset_sd_px=float(math.sqrt(covariance[0, 0])) * scale,
        angle_sd_deg=math.degrees(math.sqrt(covariance[1, 1])) * scale**2,
        blur_px=blur_px * scale,
        step=-step,
        noise=noise,
    )


def _shape(x: Floats, position: Floats, blur: Floats) -> Floats:
    """Step of height 1 at ``position``: 0 before, 1 after; broadcasts."""
    shape: Floats = 0.5 * (1 + erf((x - position) / (math.sqrt(2) * blur)))
    return shape


def _slope(x: Floats, position: Floats, blur: Floats) -> Floats:
    """Minus the derivative of ``_shape`` by position: a Gaussian of area 1."""
    z = (x - position) / blur
    slope: Floats = np.exp(-0.5 * z * z) / (math.sqrt(2 * math.pi) * blur)
    return slope


def _inverse(normal: Floats) -> Floats:
    """Inverse of normal matrices (..., n, n); a direction without data gets ~0."""
    size = np.sqrt(np.einsum("...kk->...k", normal)) + 1e-12
    scaled = normal / size[..., :, None] / size[..., None, :]
    inverse = np.linalg.inv(scaled + 1e-9 * np.eye(normal.shape[-1]))
    result: Floats = inverse / size[..., :, None] / size[..., None, :]
    return result


def _strip(
    gray: np.ndarray, start_px: Point, end_px: Point, reach_px: float
) -> tuple[Floats, Floats, Floats, float] | NotFound:
    """Pixels whose centre lies beside the segment: along, across, brightness."""
    start, end = np.array(start_px, dtype=float), np.array(end_px, dtype=float)
    length = float(np.hypot(*(end - start)))
    if length < 2:
        return NotFound(reason=f"{length:.1f} px of edge; 2 px are needed")
    direction = (end - start) / length
    normal = np.array([-direction[1], direction[0]])
    corners = np.array(
        [p + s * reach_px * normal for p in (start, end) for s in (-1, 1)]
    )
    low = np.maximum(np.ceil(corners.min(axis=0)), 0).astype(int)
    limit = np.array([gray.shape[1] - 1, gray.shape[0] - 1])
    high = np.minimum(np.floor(corners.max(axis=0)), limit).astype(int)
    if np.any(high < low):
        return NotFound(reason="the edge lies outside the photo")
    rows, cols = np.mgrid[low[1] : high[1] + 1, low[0] : high[0] + 1]
    centre = 0.5 * (start + end)
    dx, dy = cols - centre[0], rows - centre[1]
    along = dx * direction[0] + dy * direction[1]
    across = dx * normal[0] + dy * normal[1]
    inside = (np.abs(along) <= length / 2) & (np.abs(across) <= reach_px)
    if inside.sum() < 12:
        return NotFound(reason=f"{inside.sum()} px beside the edge; 12 are needed")
    values = gray[low[1] : high[1] + 1, low[0] : high[0] + 1].astype(np.float64)
    return along[inside], across[inside], values[inside], length / 2


def _fit_plane_edge(
    along: Floats, across: Floats, values: Floats, half_px: float, reach_px: float
) -> tuple[float, float, float, float, Floats, float] | NotFound:
    """Offset, slope, blur, step of the edge; covariance of the first two; noise."""
    params = _strip_start(across, values, reach_px)
    damping = 1e-3
    residual, jacobian = _strip_model(along, across, values, params)
    cost = float(residual @ residual)
    limits = np.array([2.0, 0.3, 0.5, np.inf, np.inf])
    for _ in range(MAX_ITERATIONS):
        normal = jacobian.T @ jacobian
        lifted = normal + np.diag(damping * np.diag(normal) + 1e-12)
        change = np.clip(
            np.linalg.solve(lifted, jacobian.T @ residual), -limits, limits
        )
        trial = params + change
        trial[2] = np.clip(trial[2], math.log(MIN_BLUR_PX), math.log(MAX_BLUR_PX))
        new_residual, new_jacobian = _strip_model(along, across, values, trial)
        new_cost = float(new_residual @ new_residual)
        if new_cost <= cost:
            params, residual, jacobian, cost = (
                trial,
                new_residual,
                new_jacobian,
                new_cost,
            )
            damping *= 0.3
        else:
            damping *= 5
        if np.max(np.abs(change[:3]) * [1.0, half_px, 1.0]) < 1e-5:
            break
    noise = math.sqrt(cost / max(len(values) - 5, 1))
    step, blur = float(params[4]), float(math.exp(params[2]))
    normal = jacobian.T @ jacobian
    strong = abs(step) * math.sqrt(2 * half_px) > MIN_STEP_TO_NOISE * noise
    if not strong or abs(step) < 1e-9:
        return NotFound(reason="no edge stands out of the noise")
    if abs(params[0]) + abs(params[1]) * half_px >= reach_px:
        return NotFound(reason="the edge runs out of the searched strip")
    covariance: Floats = _inverse(normal)[:2, :2] * noise**2
    return float(params[0]), float(params[1]), blur, step, covariance, noise


def _strip_start(across: Floats, values: Floats, reach_px: float) -> Floats:
    """Best of a grid for a strip: offset, slope 0, log blur, level, step."""
    offsets = np.arange(-0.8 * reach_px, 0.8 * reach_px + 1e-9, START_STEP_PX)
    grid = np.array([(c, b) for b in START_BLURS_PX for c in offsets])
    shapes = _shape(across[None, :], grid[:, :1], grid[:, 1:])
    means = shapes.mean(axis=1, keepdims=True)
    centred = shapes - means
    energy = np.einsum("ij,ij->i", centred, centred) + 1e-12
    gain = centred @ values / np.sqrt(energy)
    best = int(np.argmax(np.abs(gain)))
    step = gain[best] / math.sqrt(energy[best])
    level = values.mean() - step * means[best, 0]
    return np.array([grid[best, 0], 0.0, math.log(grid[best, 1]), level, step])


def _strip_model(
    along: Floats, across: Floats, values: Floats, params: Floats
) -> tuple[Floats, Floats]:
    """Residuals (pixels,) and the Jacobian of the model (pixels, 5)."""
    offset, slope, log_blur, level, step = params
    position, blur = offset + slope * along, np.exp(log_blur)
    shape = _shape(across, position, blur)
    steep = _slope(across, position, blur)
    residual = values - level - step * shape
    by_position = -step * steep
    jacobian = np.stack(
        [
            by_position,
            by_position * along,
            -step * steep * (across - position),
            np.ones_like(shape),
            shape,
        ],
        axis=1,
    )
    return residual, jacobian
