"""What is wrong with each bare land: missing, torn, moved, bridged, tin, dirt."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import apply_homography
from vision.packages import land_name

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from vision.overhang import Strip
    from vision.results import Quad, State

    FloatArray = npt.NDArray[np.float64]

RASTER_PX_PER_MM = 40.0
"""The lands are looked at on a raster of the pattern's frame, 0.025 mm a pixel."""
RIM_MM = 0.6
MISSING_FRAC = 0.30
WHOLE_FRAC = 0.88
"""Metal on a land's inner part: below the first it is missing, the second torn."""
MOVED_MM = 0.10
"""Off its place: half of the free land beside a lead of the usual patterns."""
COLOUR_STEP = 14.0
"""CIE a*b* distance from the other lands: copper against tin is 20 or more."""
DARK_FRAC = 0.30
DARK_STEP = 22.0
"""Share of a land this many L* darker than its bright part, more than the other lands
have: uneven or missing tin.  Tin that stands high is dark at its rim on every land."""
DEBRIS_MM2 = 0.012
"""A ball of 0.13 mm: the least clearance (ANSI/IPC-D-275, 0 to 15 V)."""
LONG_ASPECT = 3.0
"""Longer blobs are silkscreen or traces, not debris."""
INSET_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class LandSeen:
    """One land: where it is, its corners in the picture, and what was found.

    ``strip`` is in the pattern's frame; None when the land could not be measured.
    """

    number: int
    strip: Strip | None
    corners_px: Quad
    state: State
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Raster:
    """The pattern's frame as a picture: metal share, colour, and where lands lie."""

    low_mm: FloatArray
    is_metal: np.ndarray
    lab: np.ndarray

    def box(self, low_mm: np.ndarray, high_mm: np.ndarray) -> tuple[slice, slice]:
        """Slice of an axis-parallel box, mm."""
        a = np.round((low_mm - self.low_mm) * RASTER_PX_PER_MM).astype(int)
        b = np.round((high_mm - self.low_mm) * RASTER_PX_PER_MM).astype(int)
        return slice(max(a[1], 0), max(b[1], 0)), slice(max(a[0], 0), max(b[0], 0))


def judge_lands(
    pixels: np.ndarray,
    metal: FloatArray,
    pattern: Sequence[Strip],
    seen: Mapping[int, Strip],
    to_image: FloatArray,
    *,
    pad_mm: tuple[float, float] | None = None,
) -> tuple[LandSeen, ...]:
    """Judge every land of the pattern.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The picture, BGR.
    metal : ndarray of shape (rows, cols)
        Distance from the board's colour (``lands.metal_likeness``).
    pattern : sequence of Strip
        The land pattern, mm; rows along the axes.
    seen : mapping of int to Strip
        The lands that could be measured, by number.
    to_image : ndarray of shape (3, 3)
        Pattern's frame to picture.
    pad_mm : (float, float) or None
        Sides of a pad in the pattern's middle.

    Returns
    -------
    tuple of LandSeen
        In the order of the pattern.
    """
    raster = _raster(pixels, metal, pattern, to_image)
    faults: dict[int, list[str]] = {land.number: [] for land in pattern}
    doubts: dict[int, list[str]] = {land.number: [] for land in pattern}
    present = [land for land in pattern if _presence(raster, land, faults)]
    for land in present:
        _place(land, seen.get(land.number), faults, doubts)
    _tin(raster, present, doubts)
    _bridges(raster, present, faults)
    _debris(raster, pattern, pad_mm or (0.0, 0.0), faults)
    found = []
    for land in pattern:
        number = land.number
        state: State = (
            "fault" if faults[number] else "unsure" if doubts[number] else "ok"
        )
        strip = seen.get(number) if land in present else None
        found.append(
            LandSeen(
                number=number,
                strip=strip,
                corners_px=_corners_px(strip or land, to_image),
                state=state,
                findings=tuple(faults[number] + doubts[number]),
            )
        )
    return tuple(found)


def _raster(
    pixels: np.ndarray,
    metal: FloatArray,
    pattern: Sequence[Strip],
    to_image: FloatArray,
) -> _Raster:
    boxes = np.array([_box(land) for land in pattern])
    low, high = boxes[:, 0].min(axis=0) - RIM_MM, boxes[:, 1].max(axis=0) + RIM_MM
    size = np.ceil((high - low) * RASTER_PX_PER_MM).astype(int)
    step = 1 / RASTER_PX_PER_MM
    to_mm = np.array(
        [[step, 0, low[0] + step / 2], [0, step, low[1] + step / 2], [0, 0, 1]]
    )
    shape = (int(size[0]), int(size[1]))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    flat = cv2.warpPerspective(
        metal.astype(np.float32), to_image @ to_mm, shape, flags=flags
    )
    colour = cv2.warpPerspective(pixels, to_image @ to_mm, shape, flags=flags)
    lab = cv2.cvtColor(colour.astype(np.float32) / 255, cv2.COLOR_BGR2LAB)
    raster = _Raster(low, np.zeros(flat.shape, bool), lab)
    inner = [np.median(flat[raster.box(*_box(land, INSET_MM))]) for land in pattern]
    typical = float(np.median(inner))
    is_metal = cv2.GaussianBlur(flat, (0, 0), 0.8) > 0.5 * typical
    return _Raster(low, is_metal, lab)


def _presence(raster: _Raster, land: Strip, faults: dict[int, list[str]]) -> bool:
    """Note a missing or torn land; False when it is missing."""
    share = float(raster.is_metal[raster.box(*_box(land, INSET_MM))].mean())
    if share < MISSING_FRAC:
        faults[land.number].append(
            f"land {land_name(land.number)} is missing: metal on "
            f"{100 * share:.0f} % of its place"
        )
        return False
    if share < WHOLE_FRAC:
        faults[land.number].append(
            f"land {land_name(land.number)} is torn or covered: metal on "
            f"{100 * share:.0f} % of its place; lift nothing more, mend the land first"
        )
    return True


def _place(
    land: Strip,
    strip: Strip | None,
    faults: dict[int, list[str]],
    doubts: dict[int, list[str]],
) -> None:
    """Note a land that is off its place: lifted lands swing aside."""
    number = land.number
    if strip is None:
        if not faults[number]:
            doubts[number].append(
                f"land {land_name(number)}: its edges could not be measured; "
                "take a sharper photo, square on"
            )
        return
    off = math.dist(strip.centre_mm, land.centre_mm)
    u = 2 * math.hypot(strip.across_sd_mm, strip.end_sd_mm)
    if off - u > MOVED_MM:
        faults[number].append(
            f"land {land_name(number)} lies {off:.2f} ± {u:.2f} mm off its place: "
            "lifted or torn loose"
        )
    elif off + u > MOVED_MM:
        doubts[number].append(
            f"land {land_name(number)} lies {off:.2f} ± {u:.2f} mm off its place, "
            f"shop limit {MOVED_MM:.2f} mm: take a sharper photo, square on"
        )


def _tin(raster: _Raster, lands: Sequence[Strip], doubts: dict[int, list[str]]) -> None:
    """Note lands whose colour or brightness stands out."""
    patches = [raster.lab[raster.box(*_box(land, INSET_MM))] for land in lands]
    colours = np.array([np.median(p.reshape(-1, 3), axis=0) for p in patches])
    if not len(colours):
        return
    usual = np.median(colours, axis=0)
    shares = [_dark_share(patch[:, :, 0]) for patch in patches]
    usual_dark = float(np.median(shares))
    for land, colour, dark in zip(lands, colours, shares, strict=True):
        number = land.number
        apart = float(np.hypot(*(colour - usual)[1:]))
        if apart > COLOUR_STEP:
            doubts[number].append(
                f"land {land_name(number)} has another colour than the rest "
                f"(by {apart:.0f} CIELAB): tin missing or burnt flux"
            )
        if dark - usual_dark > DARK_FRAC:
            doubts[number].append(
                f"land {land_name(number)}: {100 * dark:.0f} % of it is much darker "
                "than the rest: uneven or missing tin"
            )


def _dark_share(light: FloatArray) -> float:
    """Share of a land that is much darker than its bright part."""
    return float((light < np.percentile(light, 80) - DARK_STEP).mean())


def _bridges(
    raster: _Raster, lands: Sequence[Strip], faults: dict[int, list[str]]
) -> None:
    """Note metal that joins two neighbouring lands straight across the gap."""
    for i, first in enumerate(lands):
        for second in lands[i + 1 :]:
            if np.dot(first.outward, second.outward) < 0.9:
                continue
            apart = math.dist(first.centre_mm, second.centre_mm)
            if apart > 1.5 * _pitch(lands, first):
                continue
            a, b = np.array(_box(first)), np.array(_box(second))
            both = raster.box(np.minimum(a[0], b[0]), np.maximum(a[1], b[1]))
            joined = _labels(raster.is_metal[both])
            top, left = both[0].start, both[1].start
            ends = []
            for land in (first, second):
                rows, cols = raster.box(*_box(land, INSET_MM))
                part = joined[
                    rows.start - top : rows.stop - top,
                    cols.start - left : cols.stop - left,
                ]
                marks = part[part > 0]
                ends.append(int(np.bincount(marks).argmax()) if marks.size else -1)
            if ends[0] == ends[1] > 0:
                faults[first.number].append(
                    f"metal joins lands {land_name(first.number)} and "
                    f"{land_name(second.number)}: a bridge, unless a trace runs there"
                )


def _debris(
    raster: _Raster,
    pattern: Sequence[Strip],
    pad_mm: tuple[float, float],
    faults: dict[int, list[str]],
) -> None:
    """Note compact metal beside the lands that touches none of them, nor is the pad."""
    labels = _labels(raster.is_metal)
    touching = set()
    for land in pattern:
        touching |= set(np.unique(labels[raster.box(*_box(land))]).tolist())
    for label in range(1, int(labels.max()) + 1):
        if label in touching:
            continue
        rows, cols = np.nonzero(labels == label)
        area = len(rows) / RASTER_PX_PER_MM**2
        is_cut = (
            rows.min() == 0
            or cols.min() == 0
            or rows.max() == labels.shape[0] - 1
            or cols.max() == labels.shape[1] - 1
        )
        if area < DEBRIS_MM2 or is_cut:
            continue
        _, sides, _ = cv2.minAreaRect(np.stack([cols, rows], axis=1).astype(np.float32))
        if max(sides) + 1 > LONG_ASPECT * (min(sides) + 1):
            continue
        place = raster.low_mm + np.array([cols.mean(), rows.mean()]) / RASTER_PX_PER_MM
        if (2 * np.abs(place) < pad_mm).all():
            continue
        near = min(pattern, key=lambda land: _distance_mm(land, place))
        if _distance_mm(near, place) < RIM_MM:
            size = 2 * math.sqrt(area / math.pi)
            faults[near.number].append(
                f"something bright, {size:.2f} mm across, lies beside land "
                f"{land_name(near.number)}: a solder ball or debris; clean the board"
            )


def _distance_mm(land: Strip, place: np.ndarray) -> float:
    """Clear distance from a place to a land's box."""
    low, high = np.array(_box(land))
    return float(np.hypot(*np.maximum(np.maximum(low - place, place - high), 0)))


def _labels(is_metal: np.ndarray) -> np.ndarray:
    _, labels = cv2.connectedComponents(is_metal.astype(np.uint8), connectivity=4)
    return np.asarray(labels)


def _pitch(lands: Sequence[Strip], first: Strip) -> float:
    """Distance from a land to its nearest neighbour of the row."""
    apart = [
        math.dist(first.centre_mm, other.centre_mm)
        for other in lands
        if other is not first and np.dot(first.outward, other.outward) > 0.9
    ]
    return min(apart, default=0.0)


def _box(land: Strip, inset_mm: float = 0.0) -> tuple[FloatArray, FloatArray]:
    """Lower and upper corner of a land's box, drawn in by ``inset_mm``."""
    out = np.abs(np.array(land.outward))
    half = (out * land.length_mm + out[::-1] * land.width_mm) / 2 - inset_mm
    centre = np.array(land.centre_mm)
    return centre - half, centre + half


def _corners_px(strip: Strip, to_image: FloatArray) -> Quad:
    low, high = _box(strip)
    box = [(low[0], low[1]), (low[0], high[1]), (high[0], high[1]), (high[0], low[1])]
    a, b, c, d = apply_homography(to_image, box).tolist()
    return (a[0], a[1]), (b[0], b[1]), (c[0], c[1]), (d[0], d[1])
