"""How high each foot of a row stands over the line of its lands, seen from the side.

The feet of one row look alike.  The brightness along each leg and foot is laid over
that of its neighbours: by how much it must be moved is how much higher that foot
stands, once the line of the lands is taken off.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.packages import SIDE_LEADS, SIDE_PITCH_MM
from vision.results import NotFound, SideFoot, SideView, worst_state
from vision.side_row import find_row, place_px

if TYPE_CHECKING:
    from vision.packages import Variant
    from vision.results import State
    from vision.side_row import SideRow

    Floats = np.ndarray

STEPS = 96
"""Samples a pitch of the picture that is cut out around the row."""
ABOVE, BELOW, ASIDE = 0.9, 1.6, 1.0
"""What is cut out above and below the shoulders and beside the row, in pitches."""
SLANTS = np.arange(-0.30, 0.301, 0.05)
"""How far legs may lean in the picture, in pitches a pitch."""
LEAST_PITCH_PX = 90.0
LEAST_MASK_COLOUR = 8.0
"""CIELAB chroma; below it lands are not told from the mask."""
LEAST_BODY = 0.7
"""From the side the dark body stands behind the legs; from above it is the board."""
LEAST_LAND_EDGE = 0.03
"""Mean share of colour that is gained a sample at the lands' outer ends."""
SLOPES = np.arange(-24.0, 24.1, 0.5)
FOOT = (-0.75, -0.10)
"""Where leg and foot lie above the lands' outer ends, in pitches."""
REACH = 0.30
"""How far a foot is looked for, in pitches."""
ALIKE_MM = 0.03
"""Feet that agree by this much stand on one line; only they are called level, as a foot
that hangs over its solder by 0.05 mm is within the limit and yet not soldered."""
SURE_ALIKE, LEAST_ALIKE = 0.80, 0.50
"""Correlation from which a foot is called level, and from which it is measured."""
LIKELIEST = 0.9
"""Neighbours by which a foot is measured fit nearly as well as the best one."""
ELEVATION_SHARE, ELEVATION_SHARE_SD = 0.92, 0.05
"""Heights look shorter from above the board: by 1 to 0.82 from 0 to 35 degrees."""
FLOOR_SD_MM = 0.012
MANY_FRAC = 0.7
"""A bright place beside the row that is a lead more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """The picture around a row, legs upright: brightness and share of not-mask."""

    light: Floats = field(compare=False)
    bare: Floats = field(compare=False)
    middles: Floats = field(compare=False)
    slant: float


def read_side(pixels: np.ndarray, variant: Variant) -> SideView | NotFound:
    """Measure the feet of the row that a side photo shows.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        Upright photo, BGR.
    variant : Variant
        The package; its pitch gives the scale, its coplanarity is the limit.

    Returns
    -------
    SideView or NotFound
        NotFound where row, lands or scale could not be told.

    Notes
    -----
    The lands' line is the one straight line along which mask colour begins below all
    lands at once.  Heights are against the feet that agree, at least three and more
    than half of the row: a row that stands high as a whole is not seen.
    """
    count = max(variant.leads_per_side)
    refused = _cannot_read(variant, count)
    if refused is not None:
        return refused
    soft = cv2.GaussianBlur(pixels, (0, 0), 1.0)
    light = cv2.cvtColor(soft, cv2.COLOR_BGR2LAB)[..., 0]
    width_frac = variant.lead_width_mm[1] / variant.pitch_mm
    row = find_row(light, count, width_frac=width_frac)
    if isinstance(row, NotFound):
        return row
    if row.pitch_px < LEAST_PITCH_PX:
        return NotFound(
            reason=f"{row.pitch_px:.0f} px between leads; {LEAST_PITCH_PX:.0f} needed"
        )
    cut = _cut(soft, row)
    if isinstance(cut, NotFound):
        return cut
    lands = _land_line(cut)
    if isinstance(lands, NotFound):
        return lands
    shifts, alike = _laid_over(cut, lands)
    return _judged(
        shifts, alike, _Frame(row, variant.pitch_mm, variant.coplanarity_mm, cut, lands)
    )


@dataclass(frozen=True, slots=True)
class _Lands:
    """Outer ends of the lands in the picture cut out, one a lead, in samples."""

    ends: Floats = field(compare=False)


@dataclass(frozen=True, slots=True)
class _Frame:
    row: SideRow
    pitch_mm: float
    limit_mm: float
    cut: _Cut
    lands: _Lands


def _cannot_read(variant: Variant, count: int) -> NotFound | None:
    if variant.lead_style != "gull_wing":
        return NotFound(reason=f"{variant.name}: no feet that stand out of the body")
    if count < SIDE_LEADS:
        return NotFound(
            reason=f"{variant.name}: {count} leads a row; {SIDE_LEADS} needed to see "
            "which one stands out"
        )
    if variant.pitch_mm < SIDE_PITCH_MM:
        return NotFound(
            reason=f"{variant.name}: {variant.pitch_mm:.2f} mm between leads; side "
            f"views are judged from {SIDE_PITCH_MM:.2f} mm up"
        )
    return None


def _cut(soft: np.ndarray, row: SideRow) -> _Cut | NotFound:
    """Cut the row out with its legs upright, and tell mask from metal by colour."""
    tries = [(*_pulse(soft, row, slant), slant) for slant in SLANTS]
    _, phase, slant = max(tries)
    lab = cv2.cvtColor(_strip(soft, row, slant), cv2.COLOR_BGR2LAB).astype(float)
    light, colour = lab[..., 0], lab[..., 1:] - 128
    off = (phase / (2 * np.pi) * STEPS) % STEPS - STEPS / 2
    middles = STEPS * (ASIDE + 0.5 + np.arange(row.lead_count)) + off
    doubt = _not_the_row(light, middles)
    if doubt is not None:
        return doubt
    first, last = int((ABOVE + 0.55) * STEPS), int((ABOVE + 1.1) * STEPS)
    between = [
        _column(colour, x + STEPS / 2, 8)[first:last].reshape(-1, 2)
        for x in middles[:-1]
    ]
    mask = np.median(np.concatenate(between), axis=0)
    if float(np.hypot(*mask)) < LEAST_MASK_COLOUR:
        return NotFound(
            reason="the board between the feet has no colour by which lands are told"
        )
    bare = (1 - colour @ mask / (mask @ mask)).clip(0, 1.2)
    first, last = int((ABOVE - 0.15) * STEPS), int((ABOVE + 0.15) * STEPS)
    behind = [_column(bare, x + STEPS / 2, 8)[first:last] for x in middles[:-1]]
    if float(np.median(behind)) < LEAST_BODY:
        return NotFound(
            reason="the board, not the body, shows between the legs: taken from too "
            "high above"
        )
    return _Cut(light=light, bare=bare, middles=middles, slant=float(slant))


def _strip(soft: np.ndarray, row: SideRow, slant: float) -> np.ndarray:
    rows, cols = int((ABOVE + BELOW) * STEPS), int((row.lead_count + 2 * ASIDE) * STEPS)
    x, y = np.meshgrid(np.arange(cols), np.arange(rows))
    along, down = _pitches(x, y, slant)
    at = place_px(row, along, down).astype(np.float32)
    cut: np.ndarray = cv2.remap(
        soft, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return cut


def _pitches(x: np.ndarray, y: np.ndarray, slant: float) -> tuple[Floats, Floats]:
    """Turn samples of the cut into pitches along and down from the row's origin."""
    down = (np.asarray(y, float) + 0.5) / STEPS - ABOVE
    return (np.asarray(x, float) + 0.5) / STEPS - ASIDE + slant * down, down


def _pulse(soft: np.ndarray, row: SideRow, slant: float) -> tuple[float, float]:
    """Say how strongly brightness pulses at the pitch, and with which phase."""
    lab = cv2.cvtColor(_strip(soft, row, slant), cv2.COLOR_BGR2LAB)
    band = lab[int((ABOVE - 0.1) * STEPS) : int((ABOVE + 0.6) * STEPS), :, 0]
    start = int(ASIDE * STEPS)
    profile = band.mean(axis=0)[start : start + row.lead_count * STEPS]
    one = profile.reshape(row.lead_count, STEPS).mean(axis=0)
    wave = complex((one * np.exp(2j * np.pi * np.arange(STEPS) / STEPS)).sum())
    return abs(wave), float(np.angle(wave))


def _not_the_row(light: Floats, middles: Floats) -> NotFound | None:
    """Refuse a row with a lead missing, or with another one beside it."""
    band = light[int((ABOVE - 0.2) * STEPS) : int((ABOVE + 0.2) * STEPS)].mean(axis=0)
    places = np.concatenate([[middles[0] - STEPS], middles, [middles[-1] + STEPS]])
    seen = np.array([_column(band, x, 6).mean() for x in places])
    gaps = [_column(band, x + STEPS / 2, 6).mean() for x in middles[:-1]]
    dark, bright = float(np.median(gaps)), float(np.median(seen[1:-1]))
    share = (seen - dark) / max(bright - dark, 1.0)
    if share[1:-1].min() < 0.5:
        return NotFound(reason=f"fewer than {len(middles)} leads stand out in the row")
    if share[0] > MANY_FRAC or share[-1] > MANY_FRAC:
        return NotFound(
            reason=f"something as bright as a lead stands beside the {len(middles)} "
            "leads: another package, or not the whole row"
        )
    return None


def _column(picture: Floats, middle: float, half: float) -> Floats:
    """Columns of a picture, or a stretch of a profile, about a middle."""
    stop = picture.shape[1 if picture.ndim > 1 else 0]
    first = int(np.clip(middle - half, 0, stop - 1))
    last = int(np.clip(middle + half, 0, stop - 1)) + 1
    return picture[:, first:last] if picture.ndim > 1 else picture[first:last]


def _land_line(cut: _Cut) -> _Lands | NotFound:
    """Find the straight line on which all lands end at once."""
    count = len(cut.middles)
    bare = np.array(
        [_column(cut.bare, x, 0.14 * STEPS).mean(axis=1) for x in cut.middles]
    )
    falls = (-np.gradient(_smooth(bare), axis=1)).clip(0)
    offsets = np.arange(int((ABOVE + 0.3) * STEPS), int((ABOVE + 1.3) * STEPS))
    order = np.arange(count) - (count - 1) / 2
    at = offsets[None, :, None] + SLOPES[:, None, None] * order
    votes = np.ones(at.shape[:2])
    for k in range(count):
        here = np.interp(at[..., k], np.arange(falls.shape[1]), falls[k])
        votes *= (here + 1e-3) ** (1 / count)
    slope, offset = np.unravel_index(int(votes.argmax()), votes.shape)
    if votes.max() < LEAST_LAND_EDGE:
        return NotFound(
            reason=f"the outer ends of the lands do not show on one line "
            f"({votes.max():.3f}; {LEAST_LAND_EDGE:.3f} needed)"
        )
    if slope in (0, len(SLOPES) - 1):
        return NotFound(reason="the lands lie on a steep line: hold the camera level")
    return _Lands(offsets[offset] + SLOPES[slope] * order)


def _smooth(profiles: Floats) -> Floats:
    soft: Floats = cv2.GaussianBlur(
        profiles.astype(np.float32), (0, 0), sigmaX=1.5, sigmaY=0.01
    ).astype(float)
    return soft


def _laid_over(cut: _Cut, lands: _Lands) -> tuple[Floats, Floats]:
    """Lay each foot over each other one: shifts in pitches, up, and correlations."""
    count, reach = len(cut.middles), int(REACH * STEPS)
    window = np.arange(round(FOOT[0] * STEPS) - reach, round(FOOT[1] * STEPS) + reach)
    inner = len(window) - 2 * reach
    light = np.array(
        [_column(cut.light, x, 0.09 * STEPS).mean(axis=1) for x in cut.middles]
    )
    rows = np.arange(light.shape[1])
    edges = np.array(
        [
            np.interp(end + window, rows, one)
            for end, one in zip(lands.ends, np.gradient(_smooth(light), axis=1),
                                strict=True)
        ]
    )  # fmt: skip
    shifts, alike = np.zeros((count, count)), np.eye(count)
    for one in range(count):
        pattern = edges[one][reach : reach + inner]
        for other in range(count):
            if one == other:
                continue
            parts = np.lib.stride_tricks.sliding_window_view(edges[other], inner)
            size = np.linalg.norm(parts, axis=1) * np.linalg.norm(pattern) + 1e-9
            fit = parts @ pattern / size
            best = int(fit.argmax())
            alike[one, other] = fit[best]
            shifts[one, other] = (reach - best + _between(fit, best)) / STEPS
    return shifts, alike


def _between(fit: Floats, best: int) -> float:
    """Give the top of a parabola through the best value, negated: up is positive."""
    if not 0 < best < len(fit) - 1:
        return 0.0
    left, mid, right = fit[best - 1 : best + 2]
    bend = left - 2 * mid + right
    return float((right - left) / (2 * bend)) if bend < 0 else 0.0


def _judged(shifts: Floats, alike: Floats, frame: _Frame) -> SideView | NotFound:
    """Turn shifts into heights over the feet that agree, and judge them."""
    heights = shifts * frame.pitch_mm / ELEVATION_SHARE
    level = (np.abs(heights) <= ALIKE_MM) & (alike >= LEAST_ALIKE)
    weight = level.sum(axis=1) + alike.mean(axis=1) / 2
    agree = np.flatnonzero(level[int(weight.argmax())])
    count = len(heights)
    needed = max(SIDE_LEADS, count // 2 + 1)
    if len(agree) < needed:
        rise_mm = _steady_rise_mm(heights, alike)
        reason = (
            f"{len(agree)} of {count} feet stand on one line; {needed} needed to say "
            "which stand high"
        )
        return NotFound(reason=reason if rise_mm is None else _leans(rise_mm))
    feet = tuple(
        _foot(k, heights[agree[agree != k], k], alike[agree[agree != k], k], frame)
        for k in range(count)
    )
    low = [f for f in feet if f.height_mm + f.u_mm < -frame.limit_mm]
    if low:
        return NotFound(
            reason=f"foot {low[0].from_left} from the left stands lower than the rest "
            f"by {-low[0].height_mm:.2f} mm: the rest may stand high"
        )
    return SideView(
        state=worst_state(foot.state for foot in feet),
        feet=feet,
        limit_mm=frame.limit_mm,
        pitch_mm=frame.pitch_mm,
        px_per_mm=frame.row.pitch_px / frame.pitch_mm,
    )


def _steady_rise_mm(heights_mm: Floats, alike: Floats) -> float | None:
    """Give the rise from the first foot to the last, where it is even; else None."""
    count = len(heights_mm)
    apart = np.arange(count)[None, :] - np.arange(count)[:, None]
    weight = np.where(alike >= LEAST_ALIKE, apart**2, 0)
    step = (weight * heights_mm / np.where(apart, apart, 1)).sum() / (
        weight.sum() or 1.0
    )
    rest = np.abs(heights_mm - step * apart)[weight > 0]
    is_even = len(rest) > count and float(rest.max()) <= 2 * ALIKE_MM
    return float(step * (count - 1)) if is_even else None


def _leans(rise_mm: float) -> str:
    end = "right" if rise_mm > 0 else "left"
    return (
        f"the feet seem to rise evenly towards the {end}, by {abs(rise_mm):.2f} mm "
        "along the row: the chip may be tilted or turned on its lands, or their ends "
        "were misread; this photo cannot tell which. Measure the gap under the body "
        "at both ends"
    )


def _foot(index: int, heights_mm: Floats, alike: Floats, frame: _Frame) -> SideFoot:
    heights_mm = heights_mm[alike >= LIKELIEST * alike.max()]
    height = float(np.median(heights_mm))
    spread = float(np.ptp(heights_mm)) / 2
    pixel = 0.5 * frame.pitch_mm / frame.row.pitch_px
    scale = height * ELEVATION_SHARE_SD / ELEVATION_SHARE
    u_mm = 2 * float(np.sqrt(FLOOR_SD_MM**2 + spread**2 + pixel**2 + scale**2))
    best, limit = float(alike.max()), frame.limit_mm
    state: State = "unsure"
    if abs(height) <= min(ALIKE_MM, limit - u_mm) and best >= SURE_ALIKE:
        state = "ok"
    elif height - u_mm > limit and best >= LEAST_ALIKE and len(heights_mm) > 1:
        state = "fault"
    x, y = frame.cut.middles[index], frame.lands.ends[index]
    along, down = _pitches(np.array(x), np.array(y), frame.cut.slant)
    at = place_px(frame.row, along, down)
    return SideFoot(
        from_left=index + 1,
        height_mm=height,
        u_mm=u_mm,
        alike_frac=best,
        at_px=(float(at[0]), float(at[1])),
        state=state,
    )
