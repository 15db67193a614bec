"""A picture to draw on: lines with a dark casing, tags and words, on any board colour.

Nothing is told by colour alone.  Pin 1 is a filled disc and a word; the photo taken
before is dashed, the one taken after is solid; states are a sign and a word.
Colours are from the palette of Okabe and Ito, told apart by colour-blind people too.

References
----------
M. Okabe, K. Ito, "Color Universal Design", 2008, https://jfly.uni-koeln.de/color/
(values from memory).
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from vision.results import Point, State

Rgb = tuple[int, int, int]
Box = tuple[float, float, float, float]

INK: Rgb = (12, 24, 38)
PAPER: Rgb = (250, 248, 242)
AMBER: Rgb = (240, 175, 30)
SKY: Rgb = (120, 200, 245)
RUST: Rgb = (235, 110, 40)
MUTED: Rgb = (170, 182, 192)

SUBPIXEL_BITS = 4
DASH_PX = 15.0


@dataclass(frozen=True, slots=True)
class Text:
    """One word or number waiting to be set: its middle, size, turn and colours."""

    words: str
    centre: Point
    size: int
    colour: Rgb = PAPER
    is_upright: bool = True
    plate: Rgb | None = None

    @property
    def box(self) -> Box:
        """Left, top, right, bottom, with the air round it."""
        width, height = text_size(self.words, self.size)
        if not self.is_upright:
            width, height = height, width
        pad = 0.30 * self.size if self.plate else 3.0
        x, y = self.centre
        return (
            x - width / 2 - pad,
            y - height / 2 - 0.7 * pad,
            x + width / 2 + pad,
            y + height / 2 + 0.7 * pad,
        )


@dataclass
class Canvas:
    """A picture being drawn on.  ``pixels``: (rows, cols, 3) uint8 RGB."""

    pixels: np.ndarray
    texts: list[Text] = field(default_factory=list)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.pixels.shape[1], self.pixels.shape[0]

    def line(
        self,
        points: Sequence[Point],
        colour: Rgb,
        *,
        width: int = 3,
        dashed: bool = False,
        closed: bool = False,
    ) -> None:
        """Draw a line through the points, cased in dark so that it shows anywhere."""
        path = [*points, points[0]] if closed else list(points)
        pieces = _dashes(path) if dashed else [path]
        for casing, tint in ((4, INK), (0, colour)):
            for piece in pieces:
                cv2.polylines(
                    self.pixels,
                    [_fixed(piece)],
                    isClosed=False,
                    color=tint,
                    thickness=width + casing,
                    lineType=cv2.LINE_AA,
                    shift=SUBPIXEL_BITS,
                )

    def shape(self, points: Sequence[Point], fill: Rgb, edge: Rgb = INK) -> None:
        """Fill a convex shape and edge it."""
        corners = _fixed(points)
        cv2.fillConvexPoly(self.pixels, corners, fill, cv2.LINE_AA, SUBPIXEL_BITS)
        cv2.polylines(
            self.pixels,
            [corners],
            isClosed=True,
            color=edge,
            thickness=2,
            lineType=cv2.LINE_AA,
            shift=SUBPIXEL_BITS,
        )

    def disc(self, centre: Point, radius: float, fill: Rgb, edge: Rgb = INK) -> None:
        """Draw a filled disc with an edge."""
        self.shape(_circle(centre, radius), fill, edge)

    def ring(self, centre: Point, radius: float, colour: Rgb, width: int = 3) -> None:
        """Draw a ring that leaves what it marks in sight."""
        self.line(_circle(centre, radius), colour, width=width, closed=True)

    def arrow(self, points: Sequence[Point], colour: Rgb, width: int = 5) -> None:
        """Draw a line that ends in a head."""
        tip = np.asarray(points[-1], float)
        path = np.asarray(points, float)
        reach = np.linalg.norm(path - tip, axis=1)
        length = min(4.5 * width, 0.7 * float(reach.max()))
        far = path[reach >= 0.8 * length]
        back = tip - (far[-1] if len(far) else path[0])
        along = back / (np.linalg.norm(back) or 1.0)
        across = np.array([-along[1], along[0]])
        base = tip - along * length
        self.line([_pair(p) for p in (*far, base)], colour, width=width)
        wings = (base + across * length * 0.55, base - across * length * 0.55)
        self.shape([_pair(tip), _pair(wings[0]), _pair(wings[1])], colour)

    def write(self, text: Text) -> None:
        """Keep a word for `finish`, so that no line runs over it."""
        self.texts.append(text)

    def finish(self) -> np.ndarray:
        """Set the kept words and give the picture as (rows, cols, 3) uint8 BGR."""
        for text in self.texts:
            if text.plate is not None:
                self._plate(text.box, text.plate)
        picture = Image.fromarray(self.pixels)
        for text in self.texts:
            _set_text(picture, text)
        self.texts.clear()
        return np.ascontiguousarray(np.asarray(picture)[..., ::-1])

    def _plate(self, box: Box, fill: Rgb) -> None:
        left, top, right, bottom = box
        cut = min(6.0, (bottom - top) / 4)
        corners = [
            (left + cut, top),
            (right - cut, top),
            (right, top + cut),
            (right, bottom - cut),
            (right - cut, bottom),
            (left + cut, bottom),
            (left, bottom - cut),
            (left, top + cut),
        ]
        self.shape(corners, fill)


def text_size(words: str, size: int) -> tuple[float, float]:
    """Give width and height in pixels of a word set at a size."""
    left, _, right, _ = _font(size).getbbox(words)
    return float(right - left), 0.95 * size


def overlap(a: Box, b: Box) -> bool:
    """Tell whether two boxes share any area."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def clear_of(box: Box, others: Iterable[Box]) -> bool:
    """Tell whether a box is clear of all others."""
    return not any(overlap(box, other) for other in others)


def state_sign(canvas: Canvas, state: State, centre: Point, radius: float) -> None:
    """Draw the sign of a state: tick in a disc, bar in an octagon, ? in a diamond."""
    x, y = centre
    if state == "ok":
        canvas.disc(centre, radius, PAPER)
        tick = [(-0.5, 0.0), (-0.12, 0.42), (0.52, -0.42)]
        _plain(canvas, [(x + radius * a, y + radius * b) for a, b in tick], radius)
    elif state == "fault":
        canvas.shape(_circle(centre, radius * 1.06, 8, np.pi / 8), RUST, PAPER)
        bar = [(x - 0.5 * radius, y), (x + 0.5 * radius, y)]
        _plain(canvas, bar, radius * 1.5, PAPER)
    else:
        canvas.shape(_circle(centre, radius * 1.15, 4), AMBER)
        canvas.write(Text("?", (x, y), round(1.4 * radius), INK))


def band(
    picture: np.ndarray, lines: Sequence[str], state: State | None, size: int
) -> np.ndarray:
    """Put a dark band with words, and the sign of a state, under a BGR picture."""
    if not lines:
        return picture
    width = picture.shape[1]
    indent = round(3.0 * size) if state else round(0.8 * size)
    rows = [row for line in lines for row in _wrap(line, width - indent - size, size)]
    step = round(1.4 * size)
    strip = np.full((step * len(rows) + size, width, 3), INK, np.uint8)
    canvas = Canvas(strip)
    if state:
        state_sign(canvas, state, (1.5 * size, 0.5 * size + step / 2), 0.72 * size)
    for index, row in enumerate(rows):
        wide, _ = text_size(row, size)
        middle = (indent + wide / 2, 0.5 * size + step * (index + 0.5))
        canvas.write(Text(row, middle, size, PAPER if index == 0 else MUTED))
    return np.vstack([picture, canvas.finish()])


def _plain(
    canvas: Canvas, points: Sequence[Point], radius: float, colour: Rgb = INK
) -> None:
    cv2.polylines(
        canvas.pixels,
        [_fixed(points)],
        isClosed=False,
        color=colour,
        thickness=max(2, round(radius * 0.22)),
        lineType=cv2.LINE_AA,
        shift=SUBPIXEL_BITS,
    )


def _wrap(words: str, width: float, size: int) -> list[str]:
    rows: list[str] = []
    for word in words.split():
        longer = f"{rows[-1]} {word}" if rows else word
        if rows and text_size(longer, size)[0] <= width:
            rows[-1] = longer
        else:
            rows.append(word)
    return rows


@functools.lru_cache(maxsize=32)
def _font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Pillow's own face, so that the picture is the same on every machine."""
    return ImageFont.load_default(size)


def _set_text(picture: Image.Image, text: Text) -> None:
    halo = 0 if text.plate or text.colour == INK else max(2, text.size // 8)
    if text.is_upright:
        ImageDraw.Draw(picture).text(
            text.centre,
            text.words,
            fill=text.colour,
            font=_font(text.size),
            anchor="mm",
            stroke_width=halo,
            stroke_fill=INK,
        )
        return
    width, height = text_size(text.words, text.size)
    room = (round(width) + 4 * halo + 8, round(height) + 4 * halo + 8)
    layer = Image.new("RGBA", room, (*INK, 0))
    flat = Text(text.words, (room[0] / 2, room[1] / 2), text.size, text.colour)
    ImageDraw.Draw(layer).text(
        flat.centre,
        flat.words,
        fill=(*flat.colour, 255),
        font=_font(text.size),
        anchor="mm",
        stroke_width=halo,
        stroke_fill=(*INK, 255),
    )
    turned = layer.rotate(90, expand=True)
    x, y = text.centre
    corner = (round(x - turned.width / 2), round(y - turned.height / 2))
    picture.paste(turned, corner, turned)


def _fixed(points: Iterable[Point]) -> np.ndarray:
    scaled = np.asarray(list(points), float) * (1 << SUBPIXEL_BITS)
    return np.round(scaled).astype(np.int32)


def _pair(point: np.ndarray) -> Point:
    return float(point[0]), float(point[1])


def _circle(
    centre: Point, radius: float, corners: int = 48, start: float = 0.0
) -> list[Point]:
    angles = start + np.arange(corners) * 2 * np.pi / corners
    return [
        (centre[0] + radius * float(np.cos(a)), centre[1] + radius * float(np.sin(a)))
        for a in angles
    ]


def _dashes(path: Sequence[Point]) -> list[list[Point]]:
    """Cut a path into dashes that begin and end on its corners."""
    pieces: list[list[Point]] = []
    for start, end in itertools.pairwise(path):
        a, b = np.asarray(start, float), np.asarray(end, float)
        count = max(1, round(float(np.linalg.norm(b - a)) / DASH_PX / 2)) * 2 - 1
        cuts = np.linspace(0, 1, count + 1)
        pieces.extend(
            [_pair(a + (b - a) * cuts[k]), _pair(a + (b - a) * cuts[k + 1])]
            for k in range(0, count, 2)
        )
    return pieces
