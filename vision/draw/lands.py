"""The bare lands on their photo, each with its name and the sign of its state."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.draw.canvas import AMBER, INK, PAPER, RUST, SKY, Text, band, state_sign
from vision.draw.package import PICTURE_PIXELS, TEXT_PX
from vision.draw.view import render, window

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import Photo, State

    LandMark = tuple[str, State, Sequence[Sequence[float]]]

COLOURS = {"ok": SKY, "unsure": AMBER, "fault": RUST}
AIR_FRAC = 0.35
SIGN_PX = 15.0


def draw_lands(
    photo: Photo,
    marks: Sequence[LandMark],
    *,
    caption: Sequence[str] = (),
    state: State | None = None,
) -> np.ndarray:
    """Draw what was found of the bare lands.

    Parameters
    ----------
    photo : Photo
    marks : sequence of (str, State, corners)
        Name, state and four corners in photo px of each land.
    caption : sequence of str, optional
        Sentences for the band under the picture; the first is the answer.
    state : str, optional
        State whose sign stands before the caption.

    Returns
    -------
    ndarray of shape (rows, cols, 3), uint8 BGR
    """
    points = [(float(x), float(y)) for _, _, corners in marks for x, y in corners]
    view = window(points, photo, pixels=PICTURE_PIXELS, air_frac=AIR_FRAC)
    canvas = render(photo, view)
    centre = np.mean(view.all_at(points), axis=0)
    for name, land_state, corners in marks:
        quad = view.all_at([(float(x), float(y)) for x, y in corners])
        canvas.line(
            quad,
            COLOURS[land_state],
            width=4,
            dashed=land_state == "unsure",
            closed=True,
        )
        middle = np.mean(quad, axis=0)
        away = np.sign(middle - centre) * [0.0, 1.0]
        if abs(middle[0] - centre[0]) > abs(middle[1] - centre[1]):
            away = np.sign(middle - centre) * [1.0, 0.0]
        reach = max(abs(float((np.array(p) - middle) @ away)) for p in quad)
        at = middle + away * (reach + 1.1 * TEXT_PX)
        canvas.write(
            Text(name, (float(at[0]), float(at[1])), TEXT_PX, PAPER, plate=INK)
        )
        if land_state != "ok":
            spot = (float(middle[0]), float(middle[1]))
            state_sign(canvas, land_state, spot, SIGN_PX)
    return band(canvas.finish(), caption, state, TEXT_PX)
