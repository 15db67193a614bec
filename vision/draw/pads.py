"""Marked contact pads on their photo: the mark, the stain within it, and its share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.draw.canvas import AMBER, INK, PAPER, SKY, Text, band
from vision.draw.package import PICTURE_PIXELS, TEXT_PX
from vision.draw.view import render, window

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import Photo, Point

AIR_FRAC = 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class PadMark:
    """A marked pad to draw; ``stain`` and ``corner_px`` are None where not measured."""

    mark_px: tuple[float, float, float, float]
    label: str
    stain: np.ndarray | None = None
    corner_px: tuple[int, int] | None = None


def draw_pads(
    photo: Photo, marks: Sequence[PadMark], *, caption: Sequence[str] = ()
) -> np.ndarray:
    """Draw marked pads and the outline of what is stained in them.

    Parameters
    ----------
    photo : Photo
    marks : sequence of PadMark
    caption : sequence of str, optional
        Sentences for the band under the picture.

    Returns
    -------
    ndarray of shape (rows, cols, 3), uint8 BGR

    Notes
    -----
    A mark is dashed where nothing was measured; stains are outlined, so that they are
    told from the mark without colour.
    """
    points = [corner for mark in marks for corner in _corners(mark)]
    view = window(points, photo, pixels=PICTURE_PIXELS, air_frac=AIR_FRAC)
    canvas = render(photo, view)
    for mark in marks:
        quad = view.all_at(_corners(mark))
        is_read = mark.stain is not None
        canvas.line(quad, SKY, width=4, dashed=not is_read, closed=True)
        for edge in _stain_edges(mark):
            canvas.line(view.all_at(edge), AMBER, width=2, closed=True)
        x, y = np.mean(quad, axis=0)[0], max(point[1] for point in quad)
        place = (float(x), float(y) + 1.1 * TEXT_PX)
        canvas.write(Text(mark.label, place, TEXT_PX, PAPER, plate=INK))
    return band(canvas.finish(), caption, None, TEXT_PX)


def _corners(mark: PadMark) -> list[Point]:
    x0, y0, x1, y1 = mark.mark_px
    return [(x0, y0), (x0, y1), (x1, y1), (x1, y0)]


def _stain_edges(mark: PadMark) -> list[list[Point]]:
    """Give the outlines of the stain in photo px; single pixels are left out."""
    if mark.stain is None or mark.corner_px is None:
        return []
    found, _ = cv2.findContours(
        mark.stain.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE
    )
    left, top = mark.corner_px
    return [
        [(float(x) + left, float(y) + top) for x, y in edge[:, 0]]
        for edge in found
        if len(edge) > 3
    ]
