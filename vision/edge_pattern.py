"""Several parallel edges fitted together: the two sides of a land.

Edges a few pixels apart blur into each other, and an edge fitted alone is pulled
aside.  Here the strip of the photo is one model: a few surfaces, each of one
brightness, that end at edges; the places of the edges are tied by what is known of
them (prior spreads).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr

from vision.edges import MAX_BLUR_PX, MIN_BLUR_PX
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    from vision.results import Point

    FloatArray = npt.NDArray[np.float64]

MAX_ITERATIONS = 40
START_BLURS_PX = (0.8, 1.6)
MIN_PIXELS = 24
THIN_PIXELS, MOST_PIXELS = 200, 800
"""Pixels on which the search begins and ends: more hardly tell more, as what is left
after the fit is texture and not noise."""
FOLLOWED = 2
"""Starts of least cost that are followed some way."""
STEP, SETTLED = 1e-5, 1e-3
MAX_SLOPE = 0.12
MAX_NOISE_RATIO = 5.0
"""A fit whose residuals are this much above the pixels' own noise has gone astray."""
SLOPE_SD = 0.03
"""Prior of the edges' angle against the segment, radians: 1.7 degrees."""
LEVEL_SD = 80.0
"""Prior of a surface's brightness about the mean of the strip, grey levels."""
RAMP_SD = 12.0
"""Prior of a surface's brightness change over half the strip, grey levels."""
LOG_BLUR_SD = 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgePattern:
    """Edges across a strip: ``places = base + mixing @ shifts``, in px across.

    ``base_px`` (edges,), ``mixing`` (edges, shifts), ``prior_sd_px`` (shifts,): how far
    each shift may be from zero.  ``cover`` turns the blurred steps at the edges
    (pixels, edges; 0 before, 1 after) into the share of each surface (pixels,
    surfaces).  ``starts_px`` (n, shifts): where the search begins.
    """

    base_px: np.ndarray = field(compare=False, repr=False)
    mixing: np.ndarray = field(compare=False, repr=False)
    prior_sd_px: np.ndarray = field(compare=False, repr=False)
    starts_px: np.ndarray = field(compare=False, repr=False)
    cover: Callable[[FloatArray], FloatArray] = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternFit:
    """Fitted shifts with their covariance (px)."""

    shifts_px: np.ndarray = field(compare=False, repr=False)
    covariance: np.ndarray = field(compare=False, repr=False)


def fit_pattern(
    gray: np.ndarray,
    start_px: Point,
    end_px: Point,
    pattern: EdgePattern,
    *,
    reach_px: tuple[float, float],
) -> PatternFit | NotFound:
    """Fit a pattern of parallel edges along a segment.

    Parameters
    ----------
    gray : ndarray of shape (rows, cols), any number type
        The photo or one channel.
    start_px, end_px : (float, float)
        The segment the edges run along; across is its direction turned from x to y.
    pattern : EdgePattern
        Where the edges are expected and how they may move.
    reach_px : (float, float)
        From where to where across pixels count (the first below zero); no other edge
        may lie within.

    Returns
    -------
    PatternFit or NotFound
        NotFound when too few pixels count or the fit does not settle.

    Notes
    -----
    Maximum a posteriori: white noise of unknown size, Gaussian priors on the shifts,
    the slope and the brightnesses.  The noise is estimated from the residuals, twice.
    """
    strip = _strip(gray, start_px, end_px, reach_px)
    if not strip:
        return strip
    along, across, values = strip
    mean = float(values.mean())
    whole = _Problem(along, across, values - mean, pattern)
    problem = whole.thinned(MOST_PIXELS)
    noise = _rough_noise(values, across)
    params = problem.thinned(THIN_PIXELS).best_start(noise)
    for _ in range(2):
        params, residual, normal = problem.settle(params, noise)
        freedom = max(len(residual) - len(params) - 2, 1)
        noise = max(math.sqrt(float(residual @ residual) / freedom), 0.3)
    covariance = np.linalg.inv(normal)
    count = len(pattern.prior_sd_px)
    is_astray = (
        noise > MAX_NOISE_RATIO * (_rough_noise(values, across) + 1.0)
        or math.exp(params[-1]) > 0.9 * MAX_BLUR_PX
        or abs(params[count]) > MAX_SLOPE
        or not np.all(np.isfinite(covariance))
    )
    if is_astray:
        return NotFound(
            reason="the edges of the lead could not be told apart. "
            "Take a sharper photo, square on."
        )
    return PatternFit(
        shifts_px=params[:count],
        covariance=covariance[:count, :count],
    )


@dataclass(frozen=True, slots=True)
class _Problem:
    """The pixels of a strip and the pattern to fit; parameters: shifts, slope, blur."""

    along: FloatArray
    across: FloatArray
    values: FloatArray
    pattern: EdgePattern

    def basis(self, params: FloatArray) -> FloatArray:
        """Share of each surface in each pixel, flat and with a ramp along and across.

        Shape (pixels, 3 surfaces).
        """
        flat = self.flat(params)
        return np.hstack([flat, *(flat * ramp for ramp in self.ramps())])

    def flat(self, params: FloatArray) -> FloatArray:
        """Share of each surface in each pixel, shape (pixels, surfaces)."""
        pattern, count = self.pattern, len(self.pattern.prior_sd_px)
        places = pattern.base_px + pattern.mixing @ params[:count]
        turned = params[count] * self.along[:, None]
        away = self.across[:, None] - turned - places[None, :]
        return pattern.cover(ndtr(away / math.exp(params[-1])))

    def ramps(self) -> tuple[FloatArray, FloatArray]:
        """Ramps along and across, -1 to 1, each of shape (pixels, 1)."""
        along, across = (
            (x / (np.abs(x).max() + 1e-9))[:, None] for x in (self.along, self.across)
        )
        return along, across

    def thinned(self, most: int) -> _Problem:
        """Give the same problem on about ``most`` pixels, spread evenly."""
        step = max(1, len(self.values) // most)
        step += 1 - step % 2
        use = slice(None, None, step)
        return _Problem(
            self.along[use], self.across[use], self.values[use], self.pattern
        )

    def levels(
        self, params: FloatArray, noise: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Best brightnesses for given places; also residuals and the basis."""
        basis = self.basis(params)
        ridge = (noise / self._level_sd(basis)) ** 2
        normal = basis.T @ basis + np.diag(ridge)
        solved = np.linalg.solve(normal, basis.T @ self.values)
        levels = np.asarray(solved, dtype=np.float64)
        return levels, self.values - basis @ levels, basis

    def cost(self, params: FloatArray, noise: float) -> float:
        """Minus twice the log of the posterior, up to a constant."""
        levels, residual, basis = self.levels(params, noise)
        prior = params - self._centre()
        off = prior / self._prior_sd()
        bright = levels / self._level_sd(basis)
        return float(residual @ residual / noise**2 + off @ off + bright @ bright)

    def best_start(self, noise: float) -> FloatArray:
        """Best of the starts: those of least cost are followed some way."""
        starts = [
            np.concatenate([start, [0.0, math.log(blur)]])
            for start in self.pattern.starts_px
            for blur in START_BLURS_PX
        ]
        starts.sort(key=lambda start: self.cost(start, noise))
        ends = [self.settle(start, noise, most=8)[0] for start in starts[:FOLLOWED]]
        return min(ends, key=lambda end: self.cost(end, noise))

    def settle(
        self, params: FloatArray, noise: float, most: int = MAX_ITERATIONS
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Levenberg-Marquardt; parameters, residuals, normal matrix (information)."""
        damping, cost = 1e-3, self.cost(params, noise)
        low, high = math.log(MIN_BLUR_PX), math.log(MAX_BLUR_PX)
        residual, gradient, information = self._linear(params, noise)
        for _ in range(most):
            lifted = information + np.diag(damping * np.diag(information))
            change = np.clip(np.linalg.solve(lifted, gradient), -1.5, 1.5)
            trial = params + change
            trial[-1] = np.clip(trial[-1], low, high)
            new_cost = self.cost(trial, noise)
            if new_cost <= cost:
                params, cost, damping = trial, new_cost, damping * 0.3
                residual, gradient, information = self._linear(params, noise)
            else:
                damping *= 5
            if np.max(np.abs(change)) < SETTLED or damping > 1e8:
                break
        return params, residual, information

    def _linear(
        self, params: FloatArray, noise: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Residuals, downhill gradient and information, levels marginalised."""
        levels, residual, basis = self.levels(params, noise)
        here, (along, across) = self.flat(params), self.ramps()
        level, rise_along, rise_across = levels.reshape(3, -1)
        shade = level + along * rise_along + across * rise_across
        columns = [
            np.einsum("ij,ij->i", self.flat(params + step) - here, shade) / STEP
            for step in STEP * np.eye(len(params))
        ]
        jacobian = np.stack(columns, axis=1)
        ridge = np.diag((noise / self._level_sd(basis)) ** 2)
        mixed = basis.T @ jacobian
        inner = mixed.T @ np.linalg.solve(basis.T @ basis + ridge, mixed)
        weight = 1 / self._prior_sd() ** 2
        information = (jacobian.T @ jacobian - inner) / noise**2 + np.diag(weight)
        gradient = jacobian.T @ residual / noise**2
        gradient -= weight * (params - self._centre())
        return residual, gradient, np.asarray(information, dtype=np.float64)

    def _level_sd(self, basis: FloatArray) -> FloatArray:
        """Prior of the levels: flat parts, then ramps along and across."""
        surfaces = basis.shape[1] // 3
        return np.repeat([LEVEL_SD, RAMP_SD, RAMP_SD], surfaces)

    def _centre(self) -> FloatArray:
        centre = np.zeros(len(self.pattern.prior_sd_px) + 2)
        centre[-1] = math.log(START_BLURS_PX[0])
        return centre

    def _prior_sd(self) -> FloatArray:
        return np.concatenate([self.pattern.prior_sd_px, [SLOPE_SD, LOG_BLUR_SD]])


def _strip(
    gray: np.ndarray, start_px: Point, end_px: Point, reach_px: tuple[float, float]
) -> tuple[FloatArray, FloatArray, FloatArray] | NotFound:
    """Pixels beside the segment: along and across from its middle, brightness."""
    start, end = np.array(start_px, dtype=float), np.array(end_px, dtype=float)
    length = float(np.hypot(*(end - start)))
    if length < 1.5:
        return NotFound(reason=f"{length:.1f} px of edge; 1.5 px are needed")
    direction, middle = (end - start) / length, (start + end) / 2
    half = np.abs(direction) * length / 2 + np.abs(direction[::-1]) * max(
        map(abs, reach_px)
    )
    limit = np.array([gray.shape[1] - 1, gray.shape[0] - 1])
    low = np.maximum(np.ceil(middle - half), 0).astype(int)
    high = np.minimum(np.floor(middle + half), limit).astype(int)
    if np.any(high < low):
        return NotFound(reason="the lead lies outside the photo")
    rows, cols = np.mgrid[low[1] : high[1] + 1, low[0] : high[0] + 1]
    dx, dy = cols - middle[0], rows - middle[1]
    along = dx * direction[0] + dy * direction[1]
    across = dy * direction[0] - dx * direction[1]
    inside = (np.abs(along) <= length / 2) & (across >= reach_px[0])
    inside &= across <= reach_px[1]
    if inside.sum() < MIN_PIXELS:
        return NotFound(
            reason=f"{inside.sum()} px on the lead; {MIN_PIXELS} are needed. "
            "Move the camera closer."
        )
    values = gray[low[1] : high[1] + 1, low[0] : high[0] + 1].astype(np.float64)
    return along[inside], across[inside], values[inside]


def _rough_noise(values: FloatArray, across: FloatArray) -> float:
    """Noise from neighbours in the order across the strip (robust)."""
    ordered = values[np.argsort(across, kind="stable")]
    return max(float(np.median(np.abs(np.diff(ordered)))) / 0.954, 0.3)
