"""Reads which way the marking on a package's top runs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from vision.geometry import homography
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]
    Picture = npt.NDArray[np.uint8]

TOP_PX = 320
"""Longer side of the flattened top."""
RIM_FRAC = 0.04
"""Left out round the top: edges read as letters."""
LINE_PX = 48
LINE_FRACS = (0.07, 0.6)
"""Height of a line as a share of the top's."""
MIN_CONTRAST_FRAC = 0.35
"""Of the strongest row's contrast; what lies below is between lines."""
MOST_LINES = 3
MIN_LETTERS = 3.5
MIN_RATIO = 1.5
"""How much must be read, in sure letters, and how much more than any other way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marking:
    """The marking as read.

    ``lower_left`` is the index of the outline's corner that lies lower left when the
    text is upright; ``letters`` how many letters were read, weighted by how surely;
    ``rival`` the same for the next best way round.
    """

    text: str
    lower_left: int
    letters: float
    rival: float


def read_marking(pixels: Picture, corners_px: FloatArray) -> Marking | NotFound:
    """Read the marking on a package's top and say which way it stands.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        Upright photo, BGR.
    corners_px : ndarray of shape (4, 2)
        Body corners, counter-clockwise, any start, photo px.

    Returns
    -------
    Marking or NotFound
        NotFound where nothing is legible, or as much one way as another.

    Notes
    -----
    Lines are bands of strong local contrast.  Each is read as it stands and upside
    down, along both sides of the body, by the recogniser that comes with rapidocr.
    """
    readings: list[tuple[float, str]] = []
    for corner in range(4):
        top = _flattened(pixels, np.roll(corners_px, -corner, axis=0))
        lines = [_read_line(line) for line in _lines(top)]
        letters = sum(score * len(text) for text, score in lines)
        readings.append((letters, " ".join(text for text, _ in lines if text)))
    order = sorted(range(4), key=lambda k: -readings[k][0])
    letters, text = readings[order[0]]
    rival = readings[order[1]][0]
    if letters < max(MIN_LETTERS, MIN_RATIO * rival):
        return NotFound(
            reason="the marking cannot be read. Take it closer and sharper."
        )
    return Marking(text=text, lower_left=order[0], letters=letters, rival=rival)


def _flattened(pixels: Picture, corners_px: FloatArray) -> Picture:
    """Flatten the top, its first corner at the lower left."""
    along = float(np.linalg.norm(corners_px[1] - corners_px[0]))
    across = float(np.linalg.norm(corners_px[2] - corners_px[1]))
    scale = TOP_PX / max(along, across, 1.0)
    wide, high = (max(16, round(float(v) * scale)) for v in (along, across))
    rim = RIM_FRAC * min(wide, high)
    left, right, low, up = -rim, wide - 1 + rim, high - 1 + rim, -rim
    target = np.array([[left, low], [right, low], [right, up], [left, up]])
    flat = cv2.warpPerspective(
        pixels, homography(corners_px, target), (wide, high), flags=cv2.INTER_AREA
    )
    return flat.astype(np.uint8, copy=False)


def _lines(top: Picture) -> Iterator[Picture]:
    """Cut out the bands of strong contrast, the tallest first."""
    grey = cv2.cvtColor(top, cv2.COLOR_BGR2GRAY).astype(np.float32)
    contrast = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 0.06 * grey.shape[0] + 2))
    rows = cv2.GaussianBlur(
        contrast.mean(1, keepdims=True), (1, 0), 0.01 * len(grey) + 0.5
    )
    is_line = rows[:, 0] > MIN_CONTRAST_FRAC * rows.max()
    edges = np.flatnonzero(np.diff(np.r_[False, is_line, False].astype(int)))
    least, most = (f * len(grey) for f in LINE_FRACS)
    bands = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    fitting = [(a, b) for a, b in bands if least <= b - a <= most]
    fitting.sort(key=lambda band: band[0] - band[1])
    for first, last in fitting[:MOST_LINES] or [(0, len(grey))]:
        margin = round(0.15 * (last - first)) + 1
        yield top[max(0, first - margin) : last + margin]


def _read_line(line: Picture) -> tuple[str, float]:
    """Read letters and digits, with the recogniser's score, 0..1."""
    wide = max(LINE_PX, round(line.shape[1] * LINE_PX / line.shape[0]))
    strip = cv2.resize(line, (wide, LINE_PX), interpolation=cv2.INTER_AREA)
    read = _reader()(strip, use_det=False, use_cls=False, use_rec=True)
    if not read.txts:
        return "", 0.0
    text = "".join(c for c in read.txts[0] if c.isascii() and c.isalnum())
    return text, float(read.scores[0])


@cache
def _reader() -> Any:
    from rapidocr import RapidOCR  # noqa: PLC0415 - slow to import, seldom needed

    return RapidOCR(params={"Global.log_level": "critical"})
