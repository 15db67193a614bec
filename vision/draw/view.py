"""Which part of a photo is shown, how large, and where its points fall."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.draw.canvas import AMBER, PAPER, Canvas, overlap
from vision.geometry import zoom_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from vision.results import Photo, Point

MAX_ENLARGEMENT = 16.0
BACKDROP = (28, 40, 52)
WIDEST = 1.35
INSET_SHARE = 0.24
SMALL_SHARE = 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A window on a photo.

    ``photo_to_view`` : (3, 3) maps photo pixels to view pixels.
    ``size_px`` : width and height of the view.
    """

    photo_to_view: np.ndarray = field(compare=False, repr=False)
    size_px: tuple[int, int]

    def at(self, point: Point) -> Point:
        """Give the place in the view of a point of the photo."""
        x, y, w = self.photo_to_view @ np.array([point[0], point[1], 1.0])
        return float(x / w), float(y / w)

    def all_at(self, points: Iterable[Point]) -> list[Point]:
        """Give the places in the view of several points of the photo."""
        return [self.at(point) for point in points]

    def through(self, other_to_photo: np.ndarray) -> View:
        """Give the same window, looked through from another photo's pixels."""
        return View(
            photo_to_view=self.photo_to_view @ other_to_photo, size_px=self.size_px
        )


def window(
    points: Iterable[Point], photo: Photo, *, pixels: int, air_frac: float
) -> View:
    """Choose a window round the points with air on every side.

    Parameters
    ----------
    points : iterable of Point
        What must be seen, photo pixels.
    photo : Photo
        The window is moved inside it as far as the points allow.
    pixels : int
        About how many pixels the view holds.
    air_frac : float
        Air on each side, as a share of the longer extent of the points.

    Returns
    -------
    View
        Between upright and lying `WIDEST` to one.
    """
    cloud = np.asarray(list(points), float)
    low, high = cloud.min(axis=0), cloud.max(axis=0)
    air = air_frac * float((high - low).max())
    need = np.maximum(high - low + 2 * air, 1.0)
    need = np.maximum(need, need[::-1] / WIDEST)
    middle = (low + high) / 2
    slack = (np.array([photo.width_px, photo.height_px]) - need) / 2
    inside = np.array([photo.width_px, photo.height_px]) / 2
    room = np.maximum(slack, 0.0)
    reach = air / 2
    wanted = np.clip(middle, inside - room, inside + room)
    middle = np.clip(wanted, middle - reach, middle + reach)
    scale = min(MAX_ENLARGEMENT, float(np.sqrt(pixels / need.prod())))
    size = np.round(need * scale).astype(int)
    shift = size / 2 - scale * middle
    matrix = np.array([[scale, 0, shift[0]], [0, scale, shift[1]], [0, 0, 1.0]])
    return View(photo_to_view=matrix, size_px=(int(size[0]), int(size[1])))


def render(photo: Photo, view: View) -> Canvas:
    """Show a photo through a window; what lies outside the photo is dark.

    Parameters
    ----------
    photo : Photo
    view : View

    Returns
    -------
    Canvas
    """
    pixels, matrix = photo.pixels, view.photo_to_view
    shrink = _scale_of(view, photo)
    if shrink < 0.6:
        pixels = cv2.resize(
            pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA
        )
        half = 0.5 / shrink - 0.5
        grow = np.array([[1 / shrink, 0, half], [0, 1 / shrink, half], [0, 0, 1.0]])
        matrix = matrix @ grow
    shown = cv2.warpPerspective(
        np.ascontiguousarray(pixels),
        matrix,
        view.size_px,
        flags=cv2.INTER_CUBIC if shrink > 1 else cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=BACKDROP[::-1],
    )
    return Canvas(np.ascontiguousarray(shown[..., ::-1]))


def inset(canvas: Canvas, photo: Photo, points: Iterable[Point]) -> None:
    """Show in a corner where in the whole photo the points lie, if they are small.

    Parameters
    ----------
    canvas : Canvas
        Drawn on in the corner that hides the fewest words.
    photo : Photo
    points : iterable of Point
        Photo pixels.
    """
    cloud = np.asarray(list(points), float)
    low, high = cloud.min(axis=0), cloud.max(axis=0)
    if float(max((high - low) / (photo.width_px, photo.height_px))) > SMALL_SHARE:
        return
    width, height = canvas.size
    scale = INSET_SHARE * min(width / photo.width_px, height / photo.height_px)
    extent = (
        max(1, round(photo.width_px * scale)),
        max(1, round(photo.height_px * scale)),
    )
    small = cv2.resize(photo.pixels, extent, interpolation=cv2.INTER_AREA)[..., ::-1]
    rows, cols = small.shape[:2]
    corners = [
        (x, y) for x in (width - cols - 12, 12) for y in (12, height - rows - 12)
    ]
    left, top = min(
        corners,
        key=lambda c: sum(
            overlap((c[0], c[1], c[0] + cols, c[1] + rows), text.box)
            for text in canvas.texts
        ),
    )
    canvas.pixels[top : top + rows, left : left + cols] = small
    canvas.line(
        _box((left, top), (left + cols, top + rows)), PAPER, width=2, closed=True
    )
    corner = np.array([left, top])
    spot = (corner + low * scale - 3, corner + high * scale + 3)
    canvas.line(_box(*spot), AMBER, width=2, closed=True)


def _box(low: Iterable[float], high: Iterable[float]) -> list[Point]:
    (left, top), (right, bottom) = (tuple(map(float, p)) for p in (low, high))
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def _scale_of(view: View, photo: Photo) -> float:
    """Give view pixels per photo pixel in the middle of the window."""
    inside = np.linalg.inv(view.photo_to_view)
    zoom = zoom_of(inside, np.asarray(view.size_px) / 2, 5.0)
    limit = 2.0 / min(photo.width_px, photo.height_px)
    return float(np.clip(1 / max(zoom, 1e-6), limit, MAX_ENLARGEMENT))
