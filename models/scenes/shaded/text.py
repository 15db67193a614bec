"""A bank of printed words for markings and silkscreen, drawn with OpenCV's own fonts.

Real letters, not scribble: a network shall be able to learn which way up a
marking reads.  The words are random, so no maker's name is learnt from them.
"""

from __future__ import annotations

import string

import cv2
import numpy as np

STRIP_HEIGHT_PX = 24
STRIP_WIDTH_PX = 192
HERSHEY = (
    cv2.FONT_HERSHEY_SIMPLEX,
    cv2.FONT_HERSHEY_DUPLEX,
    cv2.FONT_HERSHEY_PLAIN,
    cv2.FONT_HERSHEY_COMPLEX,
    cv2.FONT_HERSHEY_TRIPLEX,
)


def marking_word(rng: np.random.Generator) -> str:
    """Return a line that looks like a part number, a date code or a name."""
    kind = rng.integers(4)
    letters = list(string.ascii_uppercase)
    digits = list(string.digits)
    if kind == 0:
        count = int(rng.integers(5, 12))
        return "".join(rng.choice(letters + 2 * digits, count))
    if kind == 1:
        return "".join(rng.choice(digits, int(rng.integers(2, 7))))
    if kind == 2:
        word = "".join(rng.choice(letters, int(rng.integers(2, 9))))
        return word if rng.random() < 0.5 else word.capitalize()
    head = "".join(rng.choice(letters, 2))
    tail = "".join(rng.choice(digits, int(rng.integers(2, 5))))
    return f"{head}{tail} {rng.choice(letters)}{rng.choice(digits)}"


def silkscreen_word(rng: np.random.Generator) -> str:
    """Return a reference designator or a short label."""
    if rng.random() < 0.7:
        return f"{rng.choice(list('RCUQLDJ'))}{rng.integers(1, 400)}"
    return marking_word(rng)[:6]


def text_bank(
    count: int, *, rng: np.random.Generator, silkscreen: bool = False
) -> tuple[np.ndarray, np.ndarray]:
    """Draw ``count`` words, each filling the height of its strip.

    Returns
    -------
    strips : ndarray of shape (count, STRIP_HEIGHT_PX, STRIP_WIDTH_PX), uint8
        Coverage, 255 inside the strokes, left-aligned.
    aspect : ndarray of shape (count,), float32
        Width of the word divided by the strip's height.
    """
    strips = np.zeros((count, STRIP_HEIGHT_PX, STRIP_WIDTH_PX), np.uint8)
    aspect = np.zeros(count, np.float32)
    for index in range(count):
        word = silkscreen_word(rng) if silkscreen else marking_word(rng)
        picture = _draw_word(word, rng)
        rows = STRIP_HEIGHT_PX - 2
        width = min(
            STRIP_WIDTH_PX - 2,
            max(4, round(picture.shape[1] * rows / picture.shape[0])),
        )
        small = cv2.resize(picture, (width, rows), interpolation=cv2.INTER_AREA)
        strips[index, 1:-1, 1 : 1 + width] = small
        aspect[index] = (width + 2) / STRIP_HEIGHT_PX
    return strips, aspect


def _draw_word(word: str, rng: np.random.Generator) -> np.ndarray:
    font = HERSHEY[rng.integers(len(HERSHEY))]
    size = 2.0 if font != cv2.FONT_HERSHEY_PLAIN else 4.0
    thickness = int(rng.integers(2, 7))
    canvas = np.zeros((120, 60 * len(word) + 160), np.uint8)
    cv2.putText(canvas, word, (40, 85), font, size, 255, thickness, cv2.LINE_AA)
    rows, cols = np.nonzero(canvas)
    if rows.size == 0:
        return np.zeros((16, 16), np.uint8)
    return canvas[rows.min() : rows.max() + 1, cols.min() : cols.max() + 1]
