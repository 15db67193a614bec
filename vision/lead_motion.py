"""How the leads of a chip moved, at two heights: at their shoulders and at their feet.

Each lead before is looked for in the after photo by itself; all together they are one
rigid body, so that a lead that is bent, lifted or bridged stands out instead of pulling
the rest.  Leads look alike after a turn, so this serves whatever chip was put in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.foot_places import find_feet, summit
from vision.lead_patches import LeadFrame, Site, cut_leads, in_frame
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.patches import Patch

    FloatArray = npt.NDArray[np.float64]
    FloatImage = npt.NDArray[np.float32]

SHOULDER_FRAC = (0.98, 0.68)
"""Of the reach, from the toe: where the lead leaves the body, level."""
FOOT_FRAC = (0.5, -0.04)
"""The flat of the foot and its toe; the bend at the heel stands higher."""
TEMPLATE_WIDTHS = 1.15
"""Width of what is compared, lead widths: both edges and little of the land."""
SEARCH_MM = 0.30
SETTLE_MM = 0.10
APART_MM = 0.12
"""How far one lead may lie from all leads together."""
MIN_LIKENESS = 0.25
HUBER = 1.5
ROUNDS = 12
LEAST_SD_MM = 0.003
MIN_ROW = 3
MOST_SCATTER_MM = 0.05
"""Feet that scatter more about even steps were not all found."""
LEAST_CONTRAST = 1e-3
"""Of a lead in the map of edges; less where it is burnt out or beyond the photo."""
LEAD_PLACE_SD_MM = 0.03
"""True position of a lead: 0.05 mm, rectangular (drawings allow 0.10 mm profile)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerMotion:
    """How one height of the leads moved against the board as seen, chip's frame.

    ``sd_mm`` are the standard uncertainties of the shift along x and y, from the
    scatter of the leads and of the sides of the body; ``likeness`` is the mean
    correlation at the shift and ``gap`` how much likelier it is than the next place;
    ``upright_frac`` the share of leads that point along y; ``odd`` the leads that did
    not move with the rest.
    """

    shift_mm: tuple[float, float]
    skew_deg: float
    sd_mm: tuple[float, float]
    sd_deg: float
    likeness: float
    gap: float
    leads: int
    upright_frac: float
    odd: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadMotion:
    """Both heights of the leads, each as seen against the board.

    ``pitch`` is how much longer the step of the feet is before than drawn, as a ratio,
    and its relative standard uncertainty; None where the feet scatter too much.
    """

    shoulder: LayerMotion | NotFound
    foot: LayerMotion | NotFound
    pitch: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class _Guess:
    """A rigid motion of the frame: turn about its origin, then a shift."""

    shift_mm: FloatArray
    skew_deg: float

    def matrix(self) -> FloatArray:
        cos, sin = np.cos(np.radians(self.skew_deg)), np.sin(np.radians(self.skew_deg))
        x, y = self.shift_mm
        return np.array([[cos, sin, x], [-sin, cos, y], [0.0, 0.0, 1.0]])


def measure_leads(
    frame: LeadFrame, shift_mm: npt.ArrayLike, skew_deg: float
) -> LeadMotion:
    """Measure how shoulders and feet moved from the before to the after photo.

    Parameters
    ----------
    frame : LeadFrame
        The leads in both photos.
    shift_mm : array_like of shape (2,)
        How the body's outline moved, chip's frame: where to look.
    skew_deg : float
        The same for its turn, counter-clockwise, without whole quarters.

    Returns
    -------
    LeadMotion
        Shifts as seen, laid on the board; nothing is taken off for their height.
    """
    edges = replace(frame, before=_edge_map(frame.before), after=_edge_map(frame.after))
    body = _Guess(np.asarray(shift_mm, np.float64), skew_deg)
    shoulder = _layer(edges, body, (0.0, 0.0), SHOULDER_FRAC)
    at = body
    if shoulder:
        at = _Guess(np.asarray(shoulder.shift_mm), shoulder.skew_deg)
        shoulder = _layer(edges, at, (0.0, 0.0), SHOULDER_FRAC)
    if shoulder:
        at = _Guess(np.asarray(shoulder.shift_mm), shoulder.skew_deg)
    was = find_feet(frame.before, frame.to_before, frame.sites, frame.px_per_mm)
    offset = np.median(was.steps_mm, axis=0)
    foot = _layer(edges, at, (float(offset[0]), float(offset[1])), FOOT_FRAC)
    pitch = _pitch(frame.sites, was.steps_mm)
    return LeadMotion(shoulder=shoulder, foot=foot, pitch=pitch)


def _pitch(sites: Sequence[Site], steps_mm: FloatArray) -> tuple[float, float] | None:
    """Stretch of the rows of feet along themselves, and its spread."""
    places, shifts = [], []
    for outward in {tuple(site.outward) for site in sites}:
        row = [i for i, site in enumerate(sites) if tuple(site.outward) == outward]
        if len(row) < MIN_ROW:
            continue
        along = np.abs(np.array([outward[1], outward[0]]))
        at = np.array([sites[i].toe_mm @ along for i in row])
        step = np.array([steps_mm[i] @ along for i in row])
        places.append(at - at.mean())
        shifts.append(step - np.median(step))
    if not places:
        return None
    x, y = np.concatenate(places), np.concatenate(shifts)
    slope = float(x @ y / (x @ x))
    scatter = float(np.sqrt(np.sum((y - slope * x) ** 2) / max(len(x) - 2, 1)))
    if scatter > MOST_SCATTER_MM:
        return None
    sd = float(np.hypot(scatter, LEAD_PLACE_SD_MM) / np.sqrt(x @ x))
    return 1.0 + slope, sd


def _edge_map(piece: Patch) -> Patch:
    """Root of the gradient's size: the same edges, whichever way the light falls."""
    soft = cv2.GaussianBlur(piece.gray.astype(np.float32), (0, 0), 0.8)
    gx, gy = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    strength = np.sqrt(np.hypot(np.asarray(gx), np.asarray(gy)))
    return replace(piece, gray=strength.astype(np.float32))


def _turned(step: FloatArray, skew_deg: float) -> FloatArray:
    turned: FloatArray = _Guess(np.zeros(2), skew_deg).matrix()[:2, :2] @ step
    return turned


def _layer(
    frame: LeadFrame,
    guess: _Guess,
    offset_mm: tuple[float, float],
    span_frac: tuple[float, float],
) -> LayerMotion | NotFound:
    """Look for one part of every lead near a guess; fit a rigid motion to them."""
    sites = [_moved(site, offset_mm) for site in frame.sites]
    rows = [(-span_frac[0] * s.reach_mm, -span_frac[1] * s.reach_mm) for s in sites]
    half = TEMPLATE_WIDTHS * min(s.width_mm for s in sites) / 2
    scale = frame.px_per_mm
    before = cut_leads(
        frame.before, frame.to_before, sites, scale, rows_mm=rows, half_mm=half
    )
    reach = round(SEARCH_MM * scale)
    room = reach / scale
    wide = [(low - room, high + room) for low, high in rows]
    after = cut_leads(
        frame.after,
        frame.to_after @ guess.matrix(),
        sites,
        scale,
        rows_mm=wide,
        half_mm=round(half * scale) / scale + room,
    )
    maps: list[FloatArray] = []
    for one, other in zip(before, after, strict=True):
        full = 2 * reach + 1
        likeness = cv2.matchTemplate(
            other[: one.shape[0] + 2 * reach], one, cv2.TM_CCOEFF_NORMED
        )
        own = np.asarray(likeness, np.float64)[:full, :full]
        is_flat = one.std() < LEAST_CONTRAST  # OpenCV says 1 to it wherever it lies
        maps.append(np.zeros_like(own) if is_flat else np.nan_to_num(own, nan=-1.0))
    total = np.mean([in_frame(s, m) for s, m in zip(sites, maps, strict=True)], axis=0)
    peak, best = _peak(total)
    gap = best - _next_peak(total, peak, round(APART_MM * scale))
    if best < MIN_LIKENESS:
        return NotFound(
            reason=f"the leads before and after look alike only to {best:.2f}; "
            f"{MIN_LIKENESS} is needed"
        )
    near = max(2, round(SETTLE_MM * scale))
    steps = np.array(
        [
            summit(in_frame(s, m), peak, near) / scale
            for s, m in zip(sites, maps, strict=True)
        ]
    )
    return _rigid(sites, steps, guess, best, gap)


def fit_rigid(sites: Sequence[Site], steps_mm: FloatArray) -> LayerMotion:
    """Fit the motion of a rigid chip to a step of each of its leads.

    Parameters
    ----------
    sites : sequence of Site
        The leads.
    steps_mm : ndarray of shape (leads, 2)
        How far each is from its site, chip's frame.

    Returns
    -------
    LayerMotion
        ``likeness`` and ``gap`` are 1: nothing was compared.
    """
    return _rigid(list(sites), steps_mm, _Guess(np.zeros(2), 0.0), 1.0, 1.0)


def _rigid(
    sites: list[Site], steps: FloatArray, guess: _Guess, likeness: float, gap: float
) -> LayerMotion:
    """Fit shift and turn to the steps of all leads; leads that stand out count less."""
    places = np.array([site.toe_mm for site in sites])
    design = np.zeros((2 * len(sites), 3))
    design[0::2, 0] = design[1::2, 1] = 1.0
    design[0::2, 2], design[1::2, 2] = places[:, 1], -places[:, 0]
    values = steps.ravel()
    weight = np.ones(len(values))
    solution = np.zeros(3)
    spread = LEAST_SD_MM
    for _ in range(ROUNDS):
        rows = design * weight[:, None]
        solution = np.linalg.pinv(rows) @ (values * weight)
        off = np.abs(values - design @ solution)
        spread = max(1.4826 * float(np.median(off)), LEAST_SD_MM)
        weight = np.sqrt(np.minimum(1.0, HUBER * spread / np.maximum(off, 1e-9)))
    left = (values - design @ solution).reshape(-1, 2)
    is_odd = np.hypot(*left.T) > max(4 * spread, 0.05)
    freedom = max(len(values) - 3, 1)
    variance = float(np.sum((weight * left.ravel()) ** 2)) / freedom
    covariance = np.linalg.pinv((design * weight[:, None]).T @ design)
    sd = np.sqrt(np.maximum(np.diag(covariance) * variance, 0.0))
    sides = _side_scatter(sites, left)
    shift = guess.shift_mm + _turned(solution[:2], guess.skew_deg)
    return LayerMotion(
        shift_mm=(float(shift[0]), float(shift[1])),
        skew_deg=guess.skew_deg + float(np.degrees(solution[2])),
        sd_mm=(
            float(max(sd[0], sides[0], LEAST_SD_MM)),
            float(max(sd[1], sides[1], LEAST_SD_MM)),
        ),
        sd_deg=float(np.degrees(sd[2])),
        likeness=likeness,
        gap=gap,
        leads=len(sites),
        upright_frac=float(np.mean([abs(s.outward[1]) for s in sites])),
        odd=tuple(s.number for s, is_so in zip(sites, is_odd, strict=True) if is_so),
    )


def _side_scatter(sites: list[Site], left: FloatArray) -> FloatArray:
    """Uncertainty of the mean from how far the sides of the body disagree, per axis."""
    by_side: dict[tuple[float, float], list[int]] = {}
    for i, site in enumerate(sites):
        x, y = site.outward
        by_side.setdefault((float(x), float(y)), []).append(i)
    if len(by_side) < 2:
        return np.zeros(2)
    middles = np.array([np.median(left[rows], axis=0) for rows in by_side.values()])
    scatter: FloatArray = middles.std(axis=0, ddof=1) / np.sqrt(len(middles))
    return scatter


def _moved(site: Site, offset_mm: tuple[float, float]) -> Site:
    return Site(
        number=site.number,
        toe_mm=site.toe_mm + np.asarray(offset_mm),
        outward=site.outward,
        reach_mm=site.reach_mm,
        width_mm=site.width_mm,
    )


def _peak(likeness: FloatArray) -> tuple[FloatArray, float]:
    """Place of the highest value, steps from the middle (x, y), and the value."""
    row, col = np.unravel_index(int(likeness.argmax()), likeness.shape)
    middle = (likeness.shape[0] - 1) / 2
    return np.array([col - middle, row - middle]), float(likeness[row, col])


def _next_peak(likeness: FloatArray, peak: FloatArray, apart: int) -> float:
    """Highest value further than ``apart`` steps from the peak."""
    half = (likeness.shape[0] - 1) // 2
    x, y = np.meshgrid(np.arange(-half, half + 1), np.arange(-half, half + 1))
    away = np.hypot(x - peak[0], y - peak[1]) > apart
    return float(likeness[away].max()) if away.any() else -1.0
