"""Where the feet and the lands are, measured in the photo, in the board frame.

A land is measured on the bare board.  A foot is measured together with the land under
it, so that the land's edge in the same picture holds the answer and the registration
only helps out where that edge is hidden.  The upper face of a foot stands above the
board: its parallax is taken off with the view (``planes``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from vision.edge_pattern import fit_pattern
from vision.foot_pattern import (
    cover_land,
    foot_on_land,
    strip_pattern,
)
from vision.overhang import Strip
from vision.planes import FOCAL_SD_LOG, parallax
from vision.results import NotFound
from vision.strip_ends import (
    EDGE_MODEL_PX,
    INSET_FRAC,
    Across,
    Board,
    fit_end,
    point,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.edge_pattern import PatternFit
    from vision.planes import View
    from vision.results import Point

    FloatArray = npt.NDArray[np.float64]

GUESS_FRAC = 0.2
"""Prior spread of a first place, as a share of the width."""
MIN_SEEN_MM = 0.2
BODY_MARGIN_MM = 0.05
EDGE_MODEL_MM = 0.001
"""What rounded edges leave, besides ``EDGE_MODEL_PX``."""
WIDTH_FRAC = 0.08
"""Prior spread of a width: tolerance of drawings, for example 0.31 to 0.51 mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFoot:
    """What is known of a foot before it is measured, mm.

    ``top_mm``: upper face, lead thickness plus solder (JEDEC drawings: 0.17 to 0.25 mm
    for SOIC).  ``body_half_mm``: from the chip's middle to the body's side along the
    foot, and ``body_top_mm`` its height: in a tilted view the body hides heels.
    ``place_sd_mm``: how well the other feet tell its place, and the strip's
    ``width_sd_mm`` its width; solder then has edges of its own.  None for a first look.
    """

    top_mm: float = 0.22
    body_half_mm: float = 0.0
    body_top_mm: float = 0.0
    place_sd_mm: float | None = None


def measure_land(board: Board, land: Strip, gap_mm: float) -> Strip | NotFound:
    """Measure a bare land.

    Parameters
    ----------
    board : Board
        The bare-lands photo.
    land : Strip
        Where the land pattern puts it.
    gap_mm : float
        Clear distance to the next land of the row.

    Returns
    -------
    Strip or NotFound
        The land as seen, with standard uncertainties.
    """
    guess = max(GUESS_FRAC * land.width_mm, 2 * board.registration_sd_mm)
    across = Across(board, land)
    pattern = strip_pattern(
        across.scale,
        base_mm=(-land.width_mm / 2, land.width_mm / 2),
        mixing=((1.0, -0.5), (1.0, 0.5)),
        prior_mm=(guess, WIDTH_FRAC * land.width_mm),
        cover=cover_land,
    )
    reach = (land.width_mm / 2 + min(0.6 * gap_mm, land.width_mm)) * across.scale
    fit = fit_pattern(board.gray, *across.segment, pattern, reach_px=(-reach, reach))
    if isinstance(fit, NotFound):
        return fit
    end = fit_end(board, land, beyond_mm=None)
    if isinstance(end, NotFound):
        return end
    shift, width = fit.shifts_px / across.scale
    sd = np.sqrt(np.diag(fit.covariance)) / across.scale
    moved = _moved(land, float(shift), end[0], float(width))
    return replace(
        moved,
        across_sd_mm=math.hypot(
            float(sd[0]), EDGE_MODEL_PX / across.scale, EDGE_MODEL_MM
        ),
        width_sd_mm=float(sd[1]),
        end_sd_mm=end[1],
    )


def measure_foot(
    board: Board,
    foot: Strip,
    land: Strip,
    view: View,
    *,
    gap_mm: float,
    known: KnownFoot,
) -> Strip | NotFound:
    """Measure a foot upon its land.

    Parameters
    ----------
    board : Board
        The photo with the chip; its map carries the lands' frame.
    foot : Strip
        Where the foot is expected, within about a fifth of its width, laid along its
        land; the frame's origin is near the chip's middle.
    land : Strip
        Its land as measured on the bare board, or from the pattern.
    view : View
        Where the camera stood.
    gap_mm : float
        Clear distance to the next land of the row.
    known : KnownFoot
        Height of the upper face, and what the other feet tell.

    Returns
    -------
    Strip or NotFound
        The foot in the lands' frame, parallax taken off.  ``registration_gain`` says
        how much of the registration's error is left in the place across.

    Notes
    -----
    Upper faces are seen spread outwards, the more the nearer the camera stood, which
    the photo hardly tells: that is in the place's doubt.
    """
    shift_seen = parallax(view, foot.centre_mm, known.top_mm)
    whole = _displaced(foot, shift_seen.dx_mm, shift_seen.dy_mm)
    hidden_mm = _hidden_mm(foot, whole, view, known)
    if whole.length_mm - hidden_mm < MIN_SEEN_MM:
        return NotFound(
            reason=f"lead {foot.number}: the body hides {hidden_mm:.2f} mm of the "
            "foot. Take the photo square on."
        )
    seen = _drawn_in(whole, hidden_mm)
    across = Across(board, seen)
    lift_mm = shift_seen.dx_mm, shift_seen.dy_mm
    fit = _fit_foot(board, seen, land, lift_mm, gap_mm, known.place_sd_mm)
    if isinstance(fit, NotFound):
        return fit
    out = np.array(seen.outward)
    wall_mm = -float(out @ lift_mm)
    common = _on_land(seen, land, float(fit.shifts_px[0]) / across.scale)
    end = fit_end(board, common, beyond_mm=_past(land, seen), wall_mm=wall_mm)
    if isinstance(end, NotFound):
        return end
    foot_alone, _, land_alone, *_ = np.eye(len(fit.shifts_px))
    tie = foot_alone - land_alone
    apart = float(tie @ fit.shifts_px) / across.scale
    variance = float(tie @ fit.covariance @ tie) / across.scale**2
    prior = board.registration_sd_mm
    gain = 0.0
    if prior > 0:
        gain = -float(tie @ fit.covariance[:, 2]) / (prior * across.scale) ** 2
        gain = min(max(gain, 0.0), 1.0)
    own = math.sqrt(max(variance - (gain * prior) ** 2, 0.05 * variance))
    width = float(fit.shifts_px[1]) / across.scale
    moved = _moved(_turned(_moved(seen, apart, 0.0, width), fit, across), 0.0, end[0])
    turned = _drawn_in(moved, -hidden_mm)
    spread_mm = FOCAL_SD_LOG * known.top_mm / view.camera_mm[2]
    side, ahead = _across_of(seen, *foot.centre_mm), float(out @ foot.centre_mm)
    back = _displaced(turned, -shift_seen.dx_mm, -shift_seen.dy_mm)
    return replace(
        back,
        across_sd_mm=math.hypot(
            own, EDGE_MODEL_PX / across.scale, EDGE_MODEL_MM, spread_mm * side
        ),
        width_sd_mm=math.sqrt(float(fit.covariance[1, 1])) / across.scale,
        end_sd_mm=math.hypot(end[1], spread_mm * ahead),
        registration_gain=gain,
        turn_sd_rad=fit.slope_sd_rad,
        left_over=fit.noise,
    )


def _fit_foot(
    board: Board,
    seen: Strip,
    land: Strip,
    lift_mm: Point,
    gap_mm: float,
    place_sd_mm: float | None,
) -> PatternFit | NotFound:
    """Fit the edges across a foot; shifts as ``foot_on_land`` has them."""
    across = Across(board, seen)
    wall_mm = _across_of(seen, -lift_mm[0], -lift_mm[1])
    off = _across_of(
        seen,
        land.centre_mm[0] - seen.centre_mm[0],
        land.centre_mm[1] - seen.centre_mm[1],
    )
    half, half_land = seen.width_mm / 2, land.width_mm / 2
    width_sd_mm = WIDTH_FRAC * seen.width_mm
    if place_sd_mm is not None:
        width_sd_mm = seen.width_sd_mm
    pattern = foot_on_land(
        across.scale,
        land_mm=(off - half_land, off + half_land),
        foot_mm=seen.width_mm,
        wall_mm=wall_mm,
        prior_mm=(
            place_sd_mm or GUESS_FRAC * seen.width_mm,
            width_sd_mm,
            board.registration_sd_mm,
            land.width_sd_mm,
        ),
        is_soldered=place_sd_mm is not None,
    )
    pitch_mm = land.width_mm + gap_mm
    spans = ((off - half_land, off + half_land), _foot_span(half, wall_mm))
    low, high = min(x[0] for x in spans), max(x[1] for x in spans)
    room = min(0.5 * max(pitch_mm - (high - low), 0.0), 0.5 * land.width_mm)
    reach = (low - room) * across.scale, (high + room) * across.scale
    return fit_pattern(board.gray, *across.segment, pattern, reach_px=reach)


def _foot_span(half_mm: float, wall_mm: float) -> tuple[float, float]:
    """From where to where foot and wall reach across."""
    return -half_mm + min(wall_mm, 0.0), half_mm + max(wall_mm, 0.0)


def _moved(
    strip: Strip, across_mm: float, end_mm: float, width_mm: float = 0.0
) -> Strip:
    """Give the strip moved across, its outer end moved outwards, its width changed."""
    out, side = np.array(strip.outward), np.array([-strip.outward[1], strip.outward[0]])
    centre = np.array(strip.centre_mm) + across_mm * side + end_mm * out
    return replace(strip, centre_mm=point(centre), width_mm=strip.width_mm + width_mm)


def _turned(strip: Strip, fit: PatternFit, across: Across) -> Strip:
    """Give the strip turned by the fitted slope of its edges."""
    start, end = np.array(across.segment)
    along = float(np.hypot(*(end - start))) / (strip.length_mm * (1 - 2 * INSET_FRAC))
    slope = fit.slope_rad * along / across.scale
    out, side = np.array(strip.outward), np.array([-strip.outward[1], strip.outward[0]])
    turned = out + slope * side
    return replace(strip, outward=point(turned / np.hypot(*turned)))


def _displaced(strip: Strip, dx_mm: float, dy_mm: float) -> Strip:
    x, y = strip.centre_mm
    return replace(strip, centre_mm=(x + dx_mm, y + dy_mm))


def _drawn_in(strip: Strip, heel_mm: float) -> Strip:
    """Give the strip with its heel end moved outwards."""
    x, y = strip.centre_mm
    half = heel_mm / 2
    return replace(
        strip,
        centre_mm=(x + half * strip.outward[0], y + half * strip.outward[1]),
        length_mm=strip.length_mm - heel_mm,
    )


def _hidden_mm(foot: Strip, seen: Strip, view: View, known: KnownFoot) -> float:
    """How much of the foot's heel the body covers in this view."""
    if known.body_top_mm <= 0:
        return 0.0
    out = np.array(foot.outward)
    lifted = parallax(view, foot.centre_mm, known.body_top_mm)
    edge = known.body_half_mm + float(out @ [lifted.dx_mm, lifted.dy_mm])
    edge += BODY_MARGIN_MM + 2 * lifted.sd_mm
    heel = float(np.array(seen.centre_mm) @ out) - seen.length_mm / 2
    return max(edge - heel, 0.0)


def _across_of(strip: Strip, dx_mm: float, dy_mm: float) -> float:
    """Part of a step that runs across a strip."""
    return -strip.outward[1] * dx_mm + strip.outward[0] * dy_mm


def _on_land(foot: Strip, land: Strip, shift_mm: float) -> Strip:
    """Give the part of the foot, moved across, that lies on the land."""
    off = _across_of(
        foot,
        land.centre_mm[0] - foot.centre_mm[0],
        land.centre_mm[1] - foot.centre_mm[1],
    )
    low = max(shift_mm - foot.width_mm / 2, off - land.width_mm / 2)
    high = min(shift_mm + foot.width_mm / 2, off + land.width_mm / 2)
    if high - low < 0.3 * foot.width_mm:
        low, high = shift_mm - foot.width_mm / 2, shift_mm + foot.width_mm / 2
    middle = (low + high) / 2
    side = np.array([-foot.outward[1], foot.outward[0]])
    centre = np.array(foot.centre_mm) + middle * side
    return replace(foot, centre_mm=point(centre), width_mm=high - low)


def _past(land: Strip, foot: Strip) -> float:
    """How far the land reaches past the toe."""
    out = np.array(foot.outward)
    between = np.array(land.centre_mm) - np.array(foot.centre_mm)
    return float(between @ out) + (land.length_mm - foot.length_mm) / 2
