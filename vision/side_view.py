"""How high each foot of a row stands over the line of its lands, seen from the side.

Toes are held against the straight line through the outer ends of the lands, and then
against the toes that agree with each other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.packages import SIDE_LEADS, SIDE_PITCH_MM
from vision.results import NotFound, SideFoot, SideView, worst_state
from vision.side_row import LAND, SHOULDER, TOE, find_row, place_px

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.packages import Variant
    from vision.results import State
    from vision.side_row import SideRow

    Floats = npt.NDArray[np.float64]
    Bools = npt.NDArray[np.bool_]

LEAST_PITCH_PX = 30.0
LEAST_BELIEF, HOLDING_BELIEF, SURE_BELIEF = 0.5, 0.7, 0.8
"""Belief in a place from which it is measured; in a toe from which it may hold the row,
and from which it is called level or high."""
TOE_SD_PITCHES = ((0.5, 0.7, 0.85, 0.95), (0.10, 0.03, 0.015, 0.008))
"""Belief in a toe, and how far off it then lies: on rendered rows kept back."""
LEAST_SHOULDER = 0.3
ALIKE_MM = 0.03
"""Feet that agree by this much stand on one line; only they are called level, as a foot
that hangs over its solder by 0.05 mm is within the limit and yet not soldered."""
ELEVATION_SHARE, ELEVATION_SHARE_SD = 0.92, 0.05
"""Heights look shorter from above the board: by 1 to 0.82 from 0 to 35 degrees."""
FLOOR_SD_MM = 0.006
ONLY_WARNS = (
    "this limit is from memory and only warns: look at the feet that stand high"
)


def read_side(pixels: npt.NDArray[np.uint8], variant: Variant) -> SideView | NotFound:
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

    Raises
    ------
    ModelError
        The network file is missing or altered.

    Notes
    -----
    Heights are against the feet that agree, at least three and more than half of the
    row: a row that stands high as a whole is not seen.
    """
    count = max(variant.leads_per_side)
    refused = _cannot_read(variant, count)
    if refused is not None:
        return refused
    row = find_row(pixels, count)
    if isinstance(row, NotFound):
        return row
    if row.pitch_px < LEAST_PITCH_PX:
        return NotFound(
            reason=f"{row.pitch_px:.0f} px between leads; {LEAST_PITCH_PX:.0f} needed"
        )
    if row.belief[SHOULDER].min() < LEAST_SHOULDER:
        return NotFound(reason=f"fewer than {count} leads stand out in the row")
    lands = _land_line(row)
    if isinstance(lands, NotFound):
        return lands
    heights = (lands - row.places[TOE][:, 1]) * variant.pitch_mm / ELEVATION_SHARE
    return _judged(heights, row, variant)


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


def _land_line(row: SideRow) -> Floats | NotFound:
    """Give how far down the line through the lands' ends lies at each toe, pitches."""
    x, y = row.places[LAND].T
    is_seen = row.belief[LAND] >= LEAST_BELIEF
    if is_seen.sum() < SIDE_LEADS:
        return NotFound(
            reason=f"the outer ends of {is_seen.sum()} lands show; {SIDE_LEADS} needed "
            "to know the line of the board"
        )
    seen_x, seen_y = x[is_seen], y[is_seen]
    i, j = np.triu_indices(len(seen_x), 1)
    slope = float(np.median((seen_y[j] - seen_y[i]) / (seen_x[j] - seen_x[i])))
    off = float(np.median(seen_y - slope * seen_x))
    line: Floats = off + slope * row.places[TOE][:, 0]
    return line


def unlike_sizes(sizes: Sequence[Variant]) -> tuple[str, ...]:
    """Name sizes in one row of which feet would be measured otherwise than in another.

    Parameters
    ----------
    sizes : sequence of Variant
        What one name stands for.

    Returns
    -------
    tuple of str
        Their full names; none where pitch, leads a side and limit are the same, or
        where no feet reach out of the body.
    """
    rows = {
        (v.pitch_mm, v.leads_per_side, v.coplanarity_mm)
        for v in sizes
        if v.lead_style == "gull_wing"
    }
    return tuple(v.name for v in sizes) if len(rows) > 1 else ()


def _judged(heights: Floats, row: SideRow, variant: Variant) -> SideView | NotFound:
    """Take off what the feet that agree stand at, and judge each foot."""
    is_seen = row.belief[TOE] >= HOLDING_BELIEF
    agree = _agreeing(heights, is_seen)
    count = len(heights)
    needed = max(SIDE_LEADS, count // 2 + 1)
    if agree.sum() < needed:
        rise_mm = _steady_rise_mm(heights, is_seen)
        reason = (
            f"{agree.sum()} of {count} feet stand on one line; {needed} needed to say "
            "which stand high"
        )
        return NotFound(reason=reason if rise_mm is None else _leans(rise_mm))
    feet = tuple(_foot(k, heights, agree, row, variant) for k in range(count))
    low = [f for f in feet if f.height_mm + f.u_mm < -ALIKE_MM]
    if low:
        return NotFound(
            reason=f"foot {low[0].from_left} from the left stands lower than the rest "
            f"by {-low[0].height_mm:.2f} mm: the rest may stand high"
        )
    limit_mm = variant.coplanarity_mm
    is_high = any(foot.height_mm - foot.u_mm > limit_mm for foot in feet)
    return SideView(
        state=worst_state(foot.state for foot in feet),
        feet=feet,
        limit_mm=limit_mm,
        reasons=(ONLY_WARNS,) if is_high and _only_warns(variant) else (),
        pitch_mm=variant.pitch_mm,
        px_per_mm=row.pitch_px / variant.pitch_mm,
    )


def _only_warns(variant: Variant) -> bool:
    """Tell whether the limit is known only from memory: it stops no board then."""
    return variant.coplanarity_status == "memory"


def _agreeing(heights_mm: Floats, is_seen: Bools) -> Bools:
    """Find the most feet that stand within twice the tolerance of each other."""
    starts = heights_mm[is_seen]
    if not len(starts):
        return is_seen
    groups = [
        is_seen & (heights_mm >= low) & (heights_mm <= low + 2 * ALIKE_MM)
        for low in starts
    ]
    return max(groups, key=lambda group: (group.sum(), -np.ptp(heights_mm[group])))


def _steady_rise_mm(heights_mm: Floats, is_seen: Bools) -> float | None:
    """Give the rise from the first foot to the last, where it is even; else None."""
    order = np.arange(len(heights_mm))
    if is_seen.sum() < SIDE_LEADS:
        return None
    step, start = np.polyfit(order[is_seen], heights_mm[is_seen], 1)
    rest = np.abs(heights_mm - start - step * order)[is_seen]
    is_even = float(rest.max()) <= ALIKE_MM
    return float(step * order[-1]) if is_even else None


def _leans(rise_mm: float) -> str:
    end = "right" if rise_mm > 0 else "left"
    return (
        f"the feet seem to rise evenly towards the {end}, by {abs(rise_mm):.2f} mm "
        "along the row: the chip may be tilted or turned on its lands, or their ends "
        "were misread; this photo cannot tell which. Measure the gap under the body "
        "at both ends"
    )


def _foot(
    index: int, heights_mm: Floats, agree: Bools, row: SideRow, variant: Variant
) -> SideFoot:
    others = agree.copy()
    others[index] = False
    belief = float(row.belief[TOE][index])
    height = float(heights_mm[index] - np.median(heights_mm[others]))
    spread = float(np.std(heights_mm[others])) / np.sqrt(others.sum())
    pixel = 0.5 * variant.pitch_mm / row.pitch_px
    place = float(np.interp(belief, *TOE_SD_PITCHES)) * variant.pitch_mm
    scale = height * ELEVATION_SHARE_SD / ELEVATION_SHARE
    u_mm = 2 * float(
        np.sqrt(FLOOR_SD_MM**2 + spread**2 + pixel**2 + place**2 + scale**2)
    )
    limit = variant.coplanarity_mm
    state: State = "unsure"
    if abs(height) <= min(ALIKE_MM, limit - u_mm) and belief >= SURE_BELIEF:
        state = "ok"
    elif height - u_mm > limit and belief >= SURE_BELIEF and not _only_warns(variant):
        state = "fault"
    x, y = place_px(row, LAND)[index]
    return SideFoot(
        from_left=index + 1,
        height_mm=height,
        u_mm=u_mm,
        seen_frac=belief,
        at_px=(float(x), float(y)),
        state=state,
    )
