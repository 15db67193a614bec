"""Looks closely at one package: exact corners, cue maps, family and lead count."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

import cv2
import numpy as np

from vision import networks
from vision.geometry import apply_homography, is_sane_quad
from vision.results import NotFound
from vision.small import picture_for, shrunk_part

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.small import Small

    FloatArray = npt.NDArray[np.float64]

Name = TypeVar("Name", str, int)

CROP_PX, FILL_FRAC = 256, 0.56
"""Side of the crop, and the longer body side as a share of it; training saw 0.40 to
0.76 of 256 px."""
QUICK_PX, QUICK_FRAC = 192, 0.64
"""The same for a quick look, which tells packages from other things as well."""
MAP_STEP_PX = 2
CORNER_MAPS = 4
MARK_MAPS = {"dimple": 2, "dot": 3, "notch": 4, "bevel": 5, "bar": 6, "silkscreen": 7}
"""Places among the maps after the corners'; first are body and leads."""
PEAK_RADIUS = 3
MASS_RADIUS = 6
MIN_CORNER_SHARE = 0.08
"""Of the four corner maps' mass; less of it at a corner is no corner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseUp:
    """What the close look gave.

    ``corners_px`` (4, 2) photo px, counter-clockwise as seen, start arbitrary;
    ``turn_share`` (4,) the share of belief that corner k is pin 1; ``corner_share``
    how much of the corner maps' mass lies at the four corners; ``family_share`` and
    ``count_share`` probabilities by name; ``marks`` (kind, photo px, score 0..1).
    """

    corners_px: FloatArray = field(compare=False, repr=False)
    turn_share: FloatArray = field(compare=False, repr=False)
    corner_share: float
    family_share: dict[str, float]
    count_share: dict[int, float]
    marks: tuple[tuple[str, tuple[float, float], float], ...]


def refine(
    pixels: npt.NDArray[np.uint8],
    corners_px: FloatArray,
    *,
    turns: Sequence[int] = (0, 2),
    is_quick: bool = False,
    small: Small | None = None,
) -> CloseUp | NotFound:
    """Look closely at one package.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The whole upright photo, BGR.
    corners_px : ndarray of shape (4, 2)
        The body as the finder or an earlier close look gave it, photo px.
    turns : sequence of int
        Quarter turns at which the network looks; the answers are averaged.
    is_quick : bool
        Look at a smaller crop: enough to tell whether there is a package at all.
    small : Small or None
        The photo made smaller; cut from where it shows as much as the crop does.

    Returns
    -------
    CloseUp or NotFound
        NotFound where no body with four corners stands out.
    """
    size_px, fill_frac = (QUICK_PX, QUICK_FRAC) if is_quick else (CROP_PX, FILL_FRAC)
    crop, photo_to_crop = _cut_from(pixels, small, corners_px, size_px, fill_frac)
    stack = np.stack([np.rot90(crop, k) for k in turns])
    maps, family, count = networks.run("crop", stack)
    places = _shares(maps[:, :CORNER_MAPS])
    turned_back = [
        np.rot90(m, -k, axes=(1, 2)) for m, k in zip(places, turns, strict=True)
    ]
    shares = np.mean(turned_back, axis=0)
    rest: FloatArray = np.mean(
        [
            np.rot90(m, -k, axes=(1, 2))
            for m, k in zip(maps[:, CORNER_MAPS:], turns, strict=True)
        ],
        axis=0,
    )
    found = _find_corners(shares)
    if found is None:
        return NotFound(reason="no four corners of a body stand out")
    mass = _mass(shares, found)
    at_corners = float(mass.sum() / 4)
    if mass.sum(0).min() < MIN_CORNER_SHARE:
        return NotFound(reason="a corner of the body is hidden or out of the photo")
    turn = np.array(
        [np.mean([mass[c, (c + k) % 4] for c in range(4)]) for k in range(4)]
    )
    names = networks.registry()["crop"]
    back = np.linalg.inv(photo_to_crop).astype(np.float64)
    return CloseUp(
        corners_px=apply_homography(back, found * MAP_STEP_PX + 0.5),
        turn_share=turn / turn.sum(),
        corner_share=at_corners,
        family_share=_named(names["families"], family),
        count_share=_named(names["lead_counts"], count),
        marks=_find_marks(rest, back),
    )


def _cut_from(
    pixels: npt.NDArray[np.uint8],
    small: Small | None,
    corners_px: FloatArray,
    size_px: int,
    fill_frac: float,
) -> tuple[npt.NDArray[np.uint8], FloatArray]:
    picture, from_photo = picture_for(pixels, small, corners_px, fill_frac * size_px)
    inside = apply_homography(from_photo, corners_px)
    crop, to_crop = cut(picture, inside, size_px, fill_frac)
    return crop, to_crop @ from_photo


def cut(
    pixels: npt.NDArray[np.uint8],
    corners_px: FloatArray,
    size_px: int = CROP_PX,
    fill_frac: float = FILL_FRAC,
) -> tuple[npt.NDArray[np.uint8], FloatArray]:
    """Cut an upright square round a body; also the homography from photo to crop px."""
    along = corners_px[3] - corners_px[0] + corners_px[2] - corners_px[1]
    across = corners_px[1] - corners_px[0] + corners_px[2] - corners_px[3]
    theta = np.arctan2(along[1], along[0])
    theta -= np.round(theta / (np.pi / 2)) * np.pi / 2
    long_px = max(np.linalg.norm(along), np.linalg.norm(across)) / 2
    scale = fill_frac * size_px / max(float(long_px), 4.0)
    c, s = np.cos(-theta) * scale, np.sin(-theta) * scale
    turn = np.array([[c, -s], [s, c]])
    shift = (size_px - 1) / 2 - turn @ corners_px.mean(0)
    matrix = np.eye(3)
    matrix[:2, :2], matrix[:2, 2] = turn, shift
    return _warped(pixels, matrix, scale, size_px), matrix


def _warped(
    pixels: npt.NDArray[np.uint8], matrix: FloatArray, scale: float, size_px: int
) -> npt.NDArray[np.uint8]:
    """Warp without aliasing: where it shrinks, the piece is averaged down first."""
    size = (size_px, size_px)
    if scale > 0.7:
        way = cv2.INTER_LINEAR if scale < 1.5 else cv2.INTER_CUBIC
        warped = cv2.warpAffine(
            pixels, matrix[:2], size, flags=way, borderMode=cv2.BORDER_REFLECT_101
        )
        return warped.astype(np.uint8, copy=False)
    square = np.array([[0, 0], [size_px, 0], [size_px, size_px], [0, size_px]], float)
    reached = apply_homography(np.linalg.inv(matrix), square)
    part, to_part = shrunk_part(pixels, reached, 1 / scale)
    warped = cv2.warpAffine(
        part, (matrix @ np.linalg.inv(to_part))[:2], size, flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REFLECT_101,
    )  # fmt: skip
    return warped.astype(np.uint8, copy=False)


def _shares(maps: npt.NDArray[np.float32]) -> FloatArray:
    """Softmax of every map over its cells."""
    flat = maps.reshape(*maps.shape[:2], -1).astype(float)
    flat = np.exp(flat - flat.max(-1, keepdims=True))
    shares: FloatArray = (flat / flat.sum(-1, keepdims=True)).reshape(maps.shape)
    return shares


def _find_corners(shares: FloatArray) -> FloatArray | None:
    """Find the four strongest places of all corner maps, counter-clockwise, map px."""
    heat = shares.sum(0)
    left = cv2.GaussianBlur(heat, (0, 0), 1.2)
    found = []
    for _ in range(4):
        row, col = np.unravel_index(int(left.argmax()), left.shape)
        if left[row, col] <= 0:
            return None
        found.append(_centroid(heat, int(row), int(col)))
        cv2.circle(left, (int(col), int(row)), 12, 0.0, -1)
    corners = np.array(found)
    middle = corners.mean(0)
    corners = corners[np.argsort(-np.arctan2(*(corners - middle).T[::-1]))]
    return corners if is_sane_quad(corners) else None


def _centroid(heat: FloatArray, row: int, col: int) -> tuple[float, float]:
    r = PEAK_RADIUS
    top, left = max(row - r, 0), max(col - r, 0)
    part = heat[top : row + r + 1, left : col + r + 1]
    rows, cols = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    total = part.sum()
    return float((cols * part).sum() / total), float((rows * part).sum() / total)


def _mass(shares: FloatArray, corners: FloatArray) -> FloatArray:
    """Mass of map c round corner j, (4, 4)."""
    rows, cols = np.ogrid[: shares.shape[1], : shares.shape[2]]
    near = [(cols - x) ** 2 + (rows - y) ** 2 <= MASS_RADIUS**2 for x, y in corners]
    return np.asarray(np.tensordot(shares, np.array(near, float), ((1, 2), (1, 2))))


def _named(names: Sequence[Name], logits: npt.NDArray[np.float32]) -> dict[Name, float]:
    mean = logits.mean(0)
    share = np.exp(mean - mean.max())
    share /= share.sum()
    return {name: float(s) for name, s in zip(names, share, strict=True)}


def _find_marks(
    maps: FloatArray, back: FloatArray
) -> tuple[tuple[str, tuple[float, float], float], ...]:
    """Find the strongest place of every mark map."""
    marks = []
    for kind, index in MARK_MAPS.items():
        row, col = np.unravel_index(int(maps[index].argmax()), maps[index].shape)
        score = 1 / (1 + np.exp(-float(maps[index, row, col])))
        at = apply_homography(back, np.array([[col, row]]) * MAP_STEP_PX + 0.5)[0]
        marks.append((kind, (float(at[0]), float(at[1])), score))
    return tuple(marks)
