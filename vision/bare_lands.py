"""The bare lands of a package in a photo: found at any place, turn and size, then read.

``lands`` wants a square-on picture of known scale.  Here that picture is made: the land
pattern is looked for coarsely in the photo, or where another photo puts it, and the
piece round it is laid flat by the pattern itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import apply_homography, zoom_of
from vision.lands import (
    corners_mm,
    match_pattern,
    metal_likeness,
    read_lands,
    strips_of,
    sum_lands,
)
from vision.overlap import lie_inside
from vision.packages import land_name
from vision.results import NotFound
from vision.tables import land_positions

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy.typing as npt

    from vision.lands import LandsReport
    from vision.overhang import Strip
    from vision.packages import Variant
    from vision.results import Photo

    FloatArray = npt.NDArray[np.float64]

SEARCH_SIDE_PX = 240
SPANS_FRAC = (0.14, 0.85)
"""Longest side of the pattern as a share of the photo's short side."""
SPAN_STEP = 1.08
TURN_STEP_DEG = 7.5
HALF_TURN = (-90.0, 90.0, TURN_STEP_DEG)
FULL_TURN = (-180.0, 180.0, TURN_STEP_DEG)
"""Turns that are tried: half of all where the pattern looks the same half turned."""
ALIKE_MM = 0.01
LEAST_LAND_PX = 2.0
TRIED = 3
MOST_BAD_FRAC = 0.5
"""With more bad lands than this, it is the pattern that does not fit."""
FLAT_PX_PER_MM = 30.0
FLAT_MARGIN_MM = 1.6
FLAT_REACH_DEG = 7.5
PLAIN_SCORE = 0.65
"""From this likeness on no other place or package is tried; chance stays below 0.45."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BareLands:
    """The lands of one package in a photo.

    ``to_photo`` carries the pattern's frame (mm, its middle) to the photo; ``lands``
    are the strips as seen, in that frame, with their spreads.
    """

    variant: Variant
    report: LandsReport
    to_photo: tuple[tuple[float, float, float], ...]
    lands: tuple[Strip, ...]
    px_per_mm: float


def read_bare_lands(
    photo: Photo,
    variants: Iterable[Variant],
    *,
    guess: npt.ArrayLike | None = None,
) -> BareLands | NotFound:
    """Find and check the bare lands in a photo.

    Parameters
    ----------
    photo : Photo
        Upright photo of the board, chip off.
    variants : iterable of Variant
        Packages whose lands it may show.
    guess : array_like of shape (3, 3) or None
        Pattern's frame to photo, within 0.6 mm, 6 degrees and 3 %, where known.

    Returns
    -------
    BareLands or NotFound
        The best of the packages; NotFound when no pattern is in the photo.
    """
    starts: list[tuple[float, Variant, FloatArray]] = []
    for variant in _unlike(variants):
        if guess is not None:
            starts.append((1.0, variant, np.asarray(guess, dtype=np.float64)))
            continue
        pattern = strips_of(land_positions(variant))
        starts += [(score, variant, at) for score, at in _starts(photo, pattern)]
    starts.sort(key=lambda start: -start[0])
    best: BareLands | NotFound = NotFound(reason="no package was named")
    for _, variant, at in starts[: len(starts) if guess is not None else TRIED]:
        found = _read_at(photo, variant, strips_of(land_positions(variant)), at)
        if isinstance(found, NotFound):
            best = best if best else found
            continue
        if not best or found.report.score > best.report.score:
            best = found
        if guess is None and found.report.score >= PLAIN_SCORE:
            break
    return best


def _unlike(variants: Iterable[Variant]) -> list[Variant]:
    """Give one package of each land pattern."""
    found: dict[tuple[object, ...], Variant] = {}
    for variant in variants:
        places = tuple((p.centre_mm, p.size_mm) for p in land_positions(variant))
        found.setdefault(places, variant)
    return list(found.values())


def _is_alike_half_turned(pattern: Sequence[Strip]) -> bool:
    """Tell whether a pattern covers itself after half a turn."""
    centres = np.array([land.centre_mm for land in pattern])
    apart = np.linalg.norm(centres[:, None] + centres[None], axis=2)
    return bool((apart.min(axis=1) < ALIKE_MM).all())


def _starts(photo: Photo, pattern: Sequence[Strip]) -> list[tuple[float, FloatArray]]:
    """Likeliness and coarse place of the pattern, likeliest first."""
    shrink = SEARCH_SIDE_PX / max(photo.width_px, photo.height_px)
    size = (round(photo.width_px * shrink), round(photo.height_px * shrink))
    small = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA)
    metal = np.minimum(metal_likeness(np.asarray(small)), 60).astype(np.float32)
    corners = np.vstack([corners_mm(land) for land in pattern])
    span_mm = float(np.ptp(corners, axis=0).max())
    least_mm = min(land.width_mm for land in pattern)
    turns = np.arange(*(HALF_TURN if _is_alike_half_turned(pattern) else FULL_TURN))
    found = []
    span_px = SPANS_FRAC[0] * min(size)
    while span_px < SPANS_FRAC[1] * min(size):
        scale = span_px / span_mm
        span_px *= SPAN_STEP
        if scale * least_mm < LEAST_LAND_PX:
            continue
        found += [
            (*match_pattern(metal, pattern, scale, float(turn)), scale)
            for turn in turns
        ]
    found.sort(key=lambda match: -match[0])
    starts: list[tuple[float, FloatArray]] = []
    for score, turn, (x, y), scale in found[: 40 * TRIED]:
        middle = (np.array([x, y]) + 0.5) / shrink - 0.5
        if len(starts) == TRIED:
            break
        if all(np.hypot(*(s[:2, 2] - middle)) > scale / shrink for _, s in starts):
            c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
            zoom = scale / shrink
            turned = [[zoom * c, zoom * s, middle[0]], [-zoom * s, zoom * c, middle[1]]]
            starts.append((score, np.array([*turned, [0.0, 0.0, 1.0]])))
    return starts


def _read_at(
    photo: Photo, variant: Variant, pattern: Sequence[Strip], start: FloatArray
) -> BareLands | NotFound:
    """Lay the piece flat and read it; twice, the second time by the lands found."""
    to_photo = start
    report: LandsReport | NotFound = NotFound(reason="nothing was tried")
    for _ in range(2):
        flat, to_flat = _flatten(photo, pattern, to_photo)
        report = read_lands(
            flat,
            pattern,
            FLAT_PX_PER_MM,
            turn_reach_deg=FLAT_REACH_DEG,
            pad_mm=variant.thermal_pad_mm,
        )
        if isinstance(report, NotFound):
            return report
        to_photo = to_photo @ np.linalg.inv(to_flat) @ _refit(report, pattern)
    assert not isinstance(report, NotFound)
    report = _without_cut_off(report, pattern, photo, to_photo)
    bad = [land.number for land in report.lands if land.state == "fault"]
    if len(bad) > MOST_BAD_FRAC * len(report.lands):
        return NotFound(
            reason=f"{len(bad)} of {len(report.lands)} lands do not fit the pattern of "
            f"{variant.name}: it is another package's place, or the chip is still on"
        )
    seen = {land.number: land.strip for land in report.lands if land.strip is not None}
    one, two, three = ((float(x), float(y), float(z)) for x, y, z in to_photo)
    return BareLands(
        variant=variant,
        report=report,
        to_photo=(one, two, three),
        lands=tuple(seen[land.number] for land in pattern if land.number in seen),
        px_per_mm=zoom_of(to_photo, (0.0, 0.0), 0.1),
    )


def _without_cut_off(
    report: LandsReport, pattern: Sequence[Strip], photo: Photo, to_photo: FloatArray
) -> LandsReport:
    """Leave open what is said of lands that the photo's edge cuts off."""
    places = {s.number: apply_homography(to_photo, corners_mm(s)) for s in pattern}
    cut = {
        number
        for number, corners in places.items()
        if not lie_inside(corners, photo.width_px, photo.height_px)
    }
    lands = tuple(
        replace(
            land,
            strip=None,
            state="unsure",
            findings=(
                f"land {land_name(land.number)} is cut off by the edge of the photo; "
                "take it again with every land in the frame",
            ),
        )
        if land.number in cut
        else land
        for land in report.lands
    )
    return replace(report, lands=lands, finding=sum_lands(lands))


def _flatten(
    photo: Photo, pattern: Sequence[Strip], to_photo: FloatArray
) -> tuple[npt.NDArray[np.uint8], FloatArray]:
    """Square-on picture of the pattern's place, and the map from the pattern to it."""
    corners = np.vstack([corners_mm(land) for land in pattern])
    low, high = (
        corners.min(axis=0) - FLAT_MARGIN_MM,
        corners.max(axis=0) + FLAT_MARGIN_MM,
    )
    size = np.ceil((high - low) * FLAT_PX_PER_MM).astype(int) + 1
    to_flat = np.array(
        [
            [FLAT_PX_PER_MM, 0.0, -low[0] * FLAT_PX_PER_MM],
            [0.0, FLAT_PX_PER_MM, -low[1] * FLAT_PX_PER_MM],
            [0.0, 0.0, 1.0],
        ]
    )
    step = apply_homography(to_photo, [[0.0, 0.0], [1.0, 0.0]])
    shrink = min(1.0, 1.3 * FLAT_PX_PER_MM / float(np.hypot(*(step[1] - step[0]))))
    pixels, matrix = photo.pixels, to_photo
    if shrink < 1:
        whole = (round(photo.width_px * shrink), round(photo.height_px * shrink))
        pixels = np.asarray(cv2.resize(pixels, whole, interpolation=cv2.INTER_AREA))
        x, y = whole[0] / photo.width_px, whole[1] / photo.height_px
        half = np.array([[x, 0, x / 2 - 0.5], [0, y, y / 2 - 0.5], [0, 0, 1]])
        matrix = half @ to_photo
    flat = cv2.warpPerspective(
        pixels,
        matrix @ np.linalg.inv(to_flat),
        (int(size[0]), int(size[1])),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(flat, np.uint8), to_flat


def _refit(report: LandsReport, pattern: Sequence[Strip]) -> FloatArray:
    """Map from the pattern to the flat picture, sides free to shrink by the tilt."""
    pose = np.array(report.pattern_to_image)
    drawn = {land.number: np.array(land.centre_mm) for land in pattern}
    pairs = [
        (drawn[land.number], np.array(land.strip.centre_mm))
        for land in report.lands
        if land.strip is not None
    ]
    if len(pairs) < 4:
        return pose
    wanted, seen = (np.array(points) for points in zip(*pairs, strict=True))
    affine, _ = cv2.estimateAffine2D(
        wanted, seen, method=cv2.RANSAC, ransacReprojThreshold=0.06
    )
    if affine is None:
        return pose
    return np.asarray(pose @ np.vstack([affine, [0.0, 0.0, 1.0]]))
