"""Points that a person read off a photo and typed: read, and held against the photo."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import typer

from ui.record import photo_path
from ui.record.claims import upright_size_px
from vision.geometry import is_sane_quad, longest_side

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record import JobState, Noted, PhotoAdded

    Points = list[list[float]]

MOST_FROM_BODY_FRAC = 0.5
"""Of the body's long side: a pin-1 corner farther from the body is another chip's."""


def points_typed(text: str) -> Points:
    """Read points, written ``X,Y`` with a space between them.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    list of [float, float]

    Raises
    ------
    typer.BadParameter
        It holds something else.
    """
    try:
        points = [[float(v) for v in pair.split(",")] for pair in text.split()]
    except ValueError:
        points = [[]]
    if any(len(point) != 2 or not all(0 <= v < 1e6 for v in point) for point in points):
        message = f"{text!r}: points are X,Y in pixels, with a space between points."
        raise typer.BadParameter(message)
    return points


def refuse_misplaced(
    points: Points,
    option: str,
    folder: Path,
    state: JobState,
    photo: Noted[PhotoAdded],
) -> None:
    """Refuse points outside their photo, and a pin-1 corner far off the body.

    Parameters
    ----------
    points : list of [float, float]
        Pixels of the upright photo.
    option : str
        ``--pin1`` or ``--outline``.
    folder : Path
        The job folder.
    state : JobState
        The job.
    photo : Noted
        The photo they point into.

    Raises
    ------
    typer.BadParameter
        One does not lie where it can.
    PhotoError
        The stored photo cannot be read.
    """
    if points:
        refuse_outside_photo(points, folder, photo.event, option)
    if option == "--pin1":
        for point in points:
            refuse_far_from_body(point, state, photo)


def refuse_outside_photo(
    points: Points, folder: Path, photo: PhotoAdded, option: str
) -> None:
    """Refuse points that do not lie in a job's photo.

    Parameters
    ----------
    points : list of [float, float]
        Pixels of the upright photo.
    folder : Path
        The job folder.
    photo : PhotoAdded
        The photo they point into.
    option : str
        The option they were given with.

    Raises
    ------
    typer.BadParameter
        One lies outside.
    PhotoError
        The stored photo cannot be read.
    """
    path = photo_path(folder, photo.sha256, photo.suffix)
    width_px, height_px = upright_size_px(path)
    for x, y in points:
        if x > width_px - 0.5 or y > height_px - 0.5:
            message = (
                f"the point {x:g},{y:g} lies outside the {photo.stage} photo, which "
                f"has {width_px} x {height_px} px when upright; read the point off the "
                "upright photo"
            )
            raise typer.BadParameter(message, param_hint=option)


def refuse_far_from_body(
    point: list[float], state: JobState, photo: Noted[PhotoAdded]
) -> None:
    """Refuse a pin-1 corner that cannot be one of the body in a photo.

    Parameters
    ----------
    point : [float, float]
        Pixels of the upright photo.
    state : JobState
        The job; where no outline of the body is known nothing is refused.
    photo : Noted
        The photo the point lies in.

    Raises
    ------
    typer.BadParameter
        It lies farther from the body than half the body's long side.
    """
    outline = _outline_of(state, photo.seq)
    if not outline:
        return
    # OpenCV is slow to load and only a corner needs it.
    import cv2  # noqa: PLC0415

    x, y = point
    body = np.array(outline, np.float32)
    away_px = -cv2.pointPolygonTest(body, (x, y), measureDist=True)
    most_px = MOST_FROM_BODY_FRAC * longest_side(outline)
    if away_px > most_px:
        message = (
            f"{x:g},{y:g} lies {away_px:.0f} px from the chip's body in the "
            f"{photo.event.stage} photo, and a corner of it at most {most_px:.0f} px; "
            "read the point off the upright photo. If the chip is another one, give "
            "its --outline first"
        )
        raise typer.BadParameter(message, param_hint="--pin1")


def _outline_of(state: JobState, photo: int) -> Points:
    """Give the body's corners as set by hand, else as the tool saw them last."""
    by_hand: list[dict[str, Any]] = [
        noted.event.value
        for noted in state.corrections
        if noted.event.photo == photo and noted.event.what == "outline"
    ]
    seen: list[dict[str, Any]] = [
        chips[0]
        for noted in state.answers
        if noted.event.photos == (photo,)
        and (chips := noted.event.answer.get("packages") or [])
    ]
    known = [*seen, *by_hand]
    outline: Points = known[-1].get("outline_px", []) if known else []
    return outline if len(outline) == 4 and is_sane_quad(outline) else []
