"""Holds the rhythm of the leads beside a body against a size's drawing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from math import ceil, log, log2, sqrt
from operator import attrgetter
from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from vision.geometry import apply_homography, homography, side_lengths
from vision.small import shrunk_part

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy.typing as npt

    from vision.packages import Variant

    FloatArray = npt.NDArray[np.float32]

STEPS = 240
"""Columns of a strip along a side; a photo that shows more is shrunk first."""
MARGIN = 0.06
"""How far a strip goes past both corners, as a share of the side."""
ALONG = (np.arange(round((1 + 2 * MARGIN) * STEPS)) / STEPS - MARGIN).astype(np.float32)
"""Places along a side, as shares of it."""
ROWS, OUTWARD = 32, 0.0125
"""Rows of a strip, and one row as a share of the body across the side."""
LEAST_REACH_FRAC = 0.03
"""Leadless packages: their lands and fillets show this far out."""
BAND = (0.1, 0.9)
"""Of the lead's reach, what is read; shoulder and toe are uncertain."""
BROAD_FRAC, BROAD_PITCHES, MOST_DOUBLINGS = 0.03, 0.5, 2
"""Standard deviation of the blur that is taken off: a share of the side, or of the
pitch where that is more.  Shadows and glare are broader than that, leads are not."""
DIM_LEVELS2 = 3.0
"""Contrast, in squared grey levels, below which a place is noise."""
SCALES = np.linspace(0.97, 1.03, 7)
SHIFTS = np.linspace(-0.5, 0.5, 11)
"""Errors of the outline that are allowed for: of the side, and of the pitch."""
MOST_LIKE = 0.999
MIN_LIKE = 0.5
"""Correlation below which a side does not tell how far its leads reach."""
FOLLOWED_REACHES, SEEN_SHARE = 1.3, 0.25
"""How far out leads are followed, in reaches; what of their contrast is still them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadEvidence:
    """How well the leads of one size explain what lies beside a body.

    ``rhythm`` is 0 where nothing looks like its leads; the larger the better.
    ``reached_frac`` is how far out they can be followed, as a share of how far they
    reach; None where the size has no leads on four sides, or they are not made out.
    """

    rhythm: float
    reached_frac: float | None


def cut_lead_strips(
    pixels: npt.NDArray[np.uint8], corners_px: npt.ArrayLike
) -> FloatArray:
    """Cut the strips beside a body's four sides.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The photo, BGR.
    corners_px : array_like of shape (4, 2)
        Body corners, counter-clockwise, the likeliest pin 1 first.

    Returns
    -------
    ndarray of shape (4, outward, along)
        Brightness; side k runs from corner k to the next, in the order in which leads
        are counted.
    """
    cols = len(ALONG)
    # From a strip's pixel to the side: share along it, share outward of it.
    to_side = np.array(
        [[1 / STEPS, 0, -MARGIN], [0, -OUTWARD, -OUTWARD / 2], [0, 0, 1]]
    )
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    ends = np.array([[0, 0], [cols - 1, 0], [cols - 1, ROWS - 1], [0, ROWS - 1]])
    maps = [
        homography(square, np.roll(corners_px, -side, axis=0)) @ to_side
        for side in range(4)
    ]
    reached = np.concatenate([apply_homography(m, ends) for m in maps])
    density = float(side_lengths(corners_px).max()) / STEPS
    part, to_part = shrunk_part(pixels, reached, max(1.0, density))
    strips = [
        cv2.warpPerspective(
            part,
            to_part @ m,
            (cols, ROWS),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for m in maps
    ]
    light = cv2.cvtColor(np.concatenate(strips), cv2.COLOR_BGR2LAB)[..., 0]
    return np.asarray(light.reshape(4, ROWS, cols), np.float32)


def lead_evidence(
    strips: FloatArray, variants: Sequence[Variant]
) -> list[LeadEvidence]:
    """Say how well the leads of each size explain what lies beside the body.

    Parameters
    ----------
    strips : ndarray of shape (4, outward, along)
        From ``cut_lead_strips``.
    variants : sequence of Variant
        The sizes that are tried.

    Returns
    -------
    list of LeadEvidence
        One a size.

    Notes
    -----
    Pulses at the drawing's places and of its widths are laid on the brightness of each
    side with leads, allowed to be off by the outline's error.  Where they correlate by
    r they leave a share 1 - r^2 of its variance, so that -ln(1 - r^2) / 2 is the gain
    in log-likelihood of Gaussian noise per sample.  The gains are summed over the sides
    and divided by the root of their number, as sides of one photo err alike.

    Leads on four sides are also followed outward; in the median side they have to be
    seen as far as they reach, or the fillets of a leadless package are taken for them.
    """
    drawings = [
        {k: _drawn(variant, k) for k in range(4) if variant.leads_per_side[k]}
        for variant in variants
    ]
    profiles = _profiles(strips, {d.cut for sides in drawings for d in sides.values()})
    evidence = []
    for variant, sides in zip(variants, drawings, strict=True):
        laid = [_lay(profiles[drawn.cut], drawn) for drawn in sides.values()]
        gains = [-log(1 - min(one.like, MOST_LIKE) ** 2) / 2 for one in laid]
        reached = [
            _reached(strips[side], one, variant, side)
            for side, one in zip(sides, laid, strict=True)
            if one.like > MIN_LIKE and _has_leads_all_round(variant)
        ]
        evidence.append(
            LeadEvidence(
                rhythm=sum(gains) / sqrt(len(sides)) if sides else 0.0,
                reached_frac=float(np.median(reached)) if reached else None,
            )
        )
    return evidence


def _has_leads_all_round(variant: Variant) -> bool:
    return variant.lead_style == "gull_wing" and all(variant.leads_per_side)


class _Cut(NamedTuple):
    """Which rows of which strip are read, and the blur taken off them."""

    side: int
    first: int
    last: int
    broad_frac: float


@dataclass(frozen=True, slots=True)
class _Drawn:
    """How one side of a size would look, for every error of the outline.

    ``columns``: of the strip, (shifts, along); ``pulses``: (scales, along), each of
    mean nought and length one.
    """

    cut: _Cut
    columns: npt.NDArray[np.int16]
    pulses: FloatArray


@dataclass(frozen=True, slots=True)
class _Laid:
    """How like the leads one side looks where they fit best, and where that is."""

    like: float
    columns: npt.NDArray[np.int16]
    pulses: FloatArray


def _lay(profile: FloatArray, drawn: _Drawn) -> _Laid:
    tries = profile[drawn.columns] @ drawn.pulses.T
    shift, scale = divmod(int(tries.argmax()), len(drawn.pulses))
    like = max(float(tries[shift, scale]), 0.0)
    return _Laid(like, drawn.columns[shift], drawn.pulses[scale])


def _reached(strip: FloatArray, laid: _Laid, variant: Variant, side: int) -> float:
    """How far out the leads can be followed, as a share of their reach."""
    _, across, reach = _side_mm(variant, side)
    reach_rows = reach / across / OUTWARD
    rows = strip[: max(3, ceil(FOLLOWED_REACHES * reach_rows))]
    rows = rows - _broad(rows, _broad_frac(variant, side))
    swing = np.abs(rows[:, laid.columns] @ laid.pulses)
    swing = np.convolve(swing, (0.25, 0.5, 0.25), "same")
    return float(np.flatnonzero(swing >= SEEN_SHARE * swing.max())[-1] + 1) / reach_rows


def _profiles(strips: FloatArray, cuts: Iterable[_Cut]) -> dict[_Cut, FloatArray]:
    """Brightness along sides, relative to its surroundings and of even contrast."""
    profiles: dict[_Cut, FloatArray] = {}
    by_blur = attrgetter("broad_frac")
    for broad_frac, same in groupby(sorted(cuts, key=by_blur), by_blur):
        group = list(same)
        mean = np.stack([strips[c.side, c.first : c.last].mean(0) for c in group])
        profile = mean - _broad(mean, broad_frac)
        even = np.sqrt(_broad(profile**2, broad_frac) + DIM_LEVELS2)
        profiles |= zip(group, _of_unit_length(profile / even), strict=True)
    return profiles


def _side_mm(variant: Variant, side: int) -> tuple[float, float, float]:
    """Body along the side, body across it, and how far the leads reach out, mm."""
    x, y = variant.body_x_mm[1], variant.body_y_mm[1]
    if side % 2 == 0:
        return y, x, (variant.span_x_mm[1] - x) / 2
    return x, y, (variant.span_y_mm[1] - y) / 2


def _pitch_frac(variant: Variant, side: int) -> float:
    return variant.pitch_mm / _side_mm(variant, side)[0]


def _broad_frac(variant: Variant, side: int) -> float:
    """Choose the blur, in doublings: sizes of about one pitch share their profiles."""
    times = BROAD_PITCHES * _pitch_frac(variant, side) / BROAD_FRAC
    doublings = min(MOST_DOUBLINGS, max(0, round(log2(times))))
    return float(BROAD_FRAC * 2**doublings)


def _band(variant: Variant, side: int) -> tuple[int, int]:
    """Rows of a strip between shoulder and toe."""
    _, across, reach = _side_mm(variant, side)
    reach_frac = max(reach / across, LEAST_REACH_FRAC)
    first = int(BAND[0] * reach_frac / OUTWARD)
    last = max(first + 1, round(BAND[1] * reach_frac / OUTWARD))
    return first, min(last, ROWS)


@lru_cache(maxsize=2000)
def _drawn(variant: Variant, side: int) -> _Drawn:
    broad_frac = _broad_frac(variant, side)
    return _Drawn(
        cut=_Cut(side, *_band(variant, side), broad_frac),
        columns=_shifted(variant, side),
        pulses=_pulses(variant, side, broad_frac),
    )


def _shifted(variant: Variant, side: int) -> npt.NDArray[np.int16]:
    drift = np.round(SHIFTS * _pitch_frac(variant, side) * STEPS).astype(np.int16)
    at = np.arange(len(ALONG), dtype=np.int16) + drift[:, None]
    return np.asarray(at.clip(0, len(ALONG) - 1), np.int16)


def _pulses(variant: Variant, side: int, broad_frac: float) -> FloatArray:
    along = _side_mm(variant, side)[0]
    sign = 1.0 if side < 2 else -1.0
    half = variant.lead_width_mm[1] / along / 2
    offsets = sign * np.asarray(variant.side_offsets_mm[side]) / along
    middles = 0.5 + SCALES[:, None, None] * offsets[:, None]
    rise = 0.5 + 0.75 * (half - np.abs(ALONG - middles)) / half
    pulses = rise.clip(0, 1).max(axis=1).astype(np.float32)
    return _of_unit_length(pulses - _broad(pulses, broad_frac))


def _of_unit_length(rows: FloatArray) -> FloatArray:
    rows = rows - rows.mean(-1, keepdims=True)
    length = np.sqrt((rows**2).sum(-1, keepdims=True))
    return np.asarray(rows / (length + 1e-6), np.float32)


def _broad(rows: FloatArray, sd_frac: float) -> FloatArray:
    """Blur along the side only."""
    blurred = cv2.GaussianBlur(
        np.atleast_2d(rows), (0, 0), sd_frac * STEPS, sigmaY=0.01,
        borderType=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return np.asarray(blurred, np.float32).reshape(rows.shape)
