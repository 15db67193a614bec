"""Printed tags: a square of known size that says what the photo shows.

Each tag's number stands for a role of the board (patient or donor) and a stage of
the work.  Its outer black edge is 10 mm a side; the edges are fitted to a fraction of
a pixel and give the board plane and the scale, if the tag lies on the board.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Literal

import cv2
import numpy as np

from vision.edges import fit_line
from vision.geometry import homography, side_lengths, zoom_of
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.edges import LineEdge
    from vision.results import Point, Quad

    FloatArray = npt.NDArray[np.float64]

Role = Literal["patient", "donor"]
Stage = Literal["before", "lands", "placed", "after"]
ROLES: tuple[Role, ...] = ("patient", "donor")
STAGES: tuple[Stage, ...] = ("before", "lands", "placed", "after")
DICTIONARY = cv2.aruco.DICT_APRILTAG_36h11
FIRST_ID = 40
MODULES = 8
"""Squares along a side: 6 of data within a black rim of 1 (36h11)."""
SIDE_MM = 10.0
MIN_SIDE_PX = 40.0
"""Five pixels a module: below, the data squares run together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """A tag found in a photo.

    ``corners_px`` go clockwise from the upper left of the upright tag;
    ``corner_sd_px`` is the standard deviation of a corner's coordinate.  The map goes
    from the tag's frame (mm, middle of the tag, x right, y down) to the photo.
    """

    role: Role
    stage: Stage
    corners_px: Quad
    corner_sd_px: float
    tag_to_image: np.ndarray = field(compare=False, repr=False)


def tag_id(role: Role, stage: Stage) -> int:
    """Give the number printed for a role and a stage.

    Parameters
    ----------
    role, stage : str
        One of ``ROLES`` and one of ``STAGES``.

    Returns
    -------
    int
        Number in the AprilTag 36h11 family.
    """
    return FIRST_ID + len(STAGES) * ROLES.index(role) + STAGES.index(stage)


def tag_modules(role: Role, stage: Stage) -> np.ndarray:
    """Draw a tag as a grid of its squares.

    Parameters
    ----------
    role, stage : str
        What the tag shall say.

    Returns
    -------
    ndarray of shape (8, 8), bool
        True where a square is white.
    """
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    picture = cv2.aruco.generateImageMarker(dictionary, tag_id(role, stage), MODULES)
    return np.asarray(picture) > 127


def find_tags(pixels: np.ndarray) -> tuple[Tag, ...]:
    """Find every one of our tags in a photo.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3) or (rows, cols), uint8
        The upright photo, BGR or grey.

    Returns
    -------
    tuple of Tag
        Largest first; tags of other numbers, or too small to fit, are left out.

    Notes
    -----
    Detection by OpenCV's aruco; then an error function is fitted along each side
    between the rim and the white margin, and the sides are intersected.

    References
    ----------
    E. Olson, "AprilTag: a robust and flexible visual fiducial system", ICRA (2011),
    doi:10.1109/ICRA.2011.5979561.
    """
    gray = pixels if pixels.ndim == 2 else cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)
    quads, places, _ = cv2.aruco.ArucoDetector(_own_tags()).detectMarkers(gray)
    found = []
    for quad, place in zip(quads, [] if places is None else places.flat, strict=True):
        corners = _sharpen(gray, np.reshape(quad, (4, 2)).astype(np.float64))
        if corners:
            found.append(_tag(int(place), *corners))
    return tuple(sorted(found, key=lambda tag: -_side_px(np.array(tag.corners_px))))


@cache
def _own_tags() -> cv2.aruco.Dictionary:
    """Give our tags alone: a photo's squares are held against 8, not 587, each."""
    family = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    own = family.bytesList[FIRST_ID : FIRST_ID + len(ROLES) * len(STAGES)].copy()
    return cv2.aruco.Dictionary(own, family.markerSize, family.maxCorrectionBits)


def what_it_shows(tags: Sequence[Tag]) -> tuple[Role, Stage] | NotFound:
    """Say which board and which stage the photo shows by its tags.

    Parameters
    ----------
    tags : sequence of Tag
        What ``find_tags`` gave.

    Returns
    -------
    (role, stage) or NotFound
        NotFound when there is no tag, or when two tags say different things.
    """
    said = {(tag.role, tag.stage) for tag in tags}
    if not said:
        return NotFound(reason="no tag in the photo; lay a printed tag beside the chip")
    if len(said) > 1:
        names = " and ".join(sorted(f"{role} {stage}" for role, stage in said))
        return NotFound(reason=f"the tags disagree: {names}; leave only the right one")
    return said.pop()


def scale_at(tag: Tag, at_px: Point) -> tuple[float, float]:
    """Find the scale of the tag's plane at a place in the photo.

    Parameters
    ----------
    tag : Tag
        A tag that lies on the board.
    at_px : (float, float)
        Where the scale is wanted, usually the chip; px.

    Returns
    -------
    (float, float)
        Pixels per millimetre there (root of the area scale), and its relative
        standard uncertainty from the tag's edges; it grows with the distance.
    """
    corners = np.array(tag.corners_px)
    best = _scale_near(tag.tag_to_image, at_px)
    variance = 0.0
    for i in range(4):
        for axis in range(2):
            moved = corners.copy()
            moved[i, axis] += 0.1
            change = _scale_near(homography(_frame_mm(), moved), at_px) - best
            variance += (change / 0.1 * tag.corner_sd_px) ** 2
    return best, math.sqrt(variance) / best


def _scale_near(tag_to_image: FloatArray, at_px: Point) -> float:
    return 1 / zoom_of(np.linalg.inv(tag_to_image), at_px)


def _frame_mm() -> FloatArray:
    half = SIDE_MM / 2
    return np.array([(-half, -half), (half, -half), (half, half), (-half, half)])


def _tag(place: int, corners: FloatArray, sd_px: float) -> Tag:
    role, stage = divmod(place, len(STAGES))
    quad = tuple((float(x), float(y)) for x, y in corners)
    return Tag(
        role=ROLES[role],
        stage=STAGES[stage],
        corners_px=(quad[0], quad[1], quad[2], quad[3]),
        corner_sd_px=sd_px,
        tag_to_image=homography(_frame_mm(), corners),
    )


def _sharpen(gray: np.ndarray, quad: FloatArray) -> tuple[FloatArray, float] | None:
    """Fit the four sides and intersect them; corners and their spread."""
    side_px = _side_px(quad)
    if side_px < MIN_SIDE_PX:
        return None
    reach = 0.6 * side_px / MODULES
    corners = quad
    for _ in range(2):
        sides: list[LineEdge] = []
        for i in range(4):
            start, end = corners[i], corners[(i + 1) % 4]
            inset = 0.08 * (end - start)
            edge = fit_line(
                gray, _point(start + inset), _point(end - inset), reach_px=reach
            )
            if not edge:
                return None
            sides.append(edge)
        crossings = [_cross(sides[i - 1], sides[i]) for i in range(4)]
        corners = np.array(crossings)
    if np.max(np.abs(corners - quad)) > reach:
        return None
    ends = [
        math.hypot(e.offset_sd_px, math.radians(e.angle_sd_deg) * side_px / 2)
        for e in sides
    ]
    return corners, float(np.sqrt(np.mean(np.square(ends))))


def _cross(first: LineEdge, second: LineEdge) -> FloatArray:
    a, b = np.array(first.direction), np.array(second.direction)
    between = np.array(second.at_px) - np.array(first.at_px)
    step = np.linalg.solve(np.stack([a, -b], axis=1), between)
    crossing: FloatArray = np.array(first.at_px) + step[0] * a
    return crossing


def _point(place: FloatArray) -> Point:
    return float(place[0]), float(place[1])


def _side_px(quad: FloatArray) -> float:
    return float(side_lengths(quad).mean())
