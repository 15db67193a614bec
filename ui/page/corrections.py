"""What a person sets right on the screen, as an event of the record."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from ui.page.bodies import InputError
from ui.page.pictures import photo_key, picture_info
from ui.record import Corrected
from vision.geometry import is_sane_quad, signed_area_px2
from vision.package_names import package_names

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record import JobState

MIN_BODY_PX = 12.0
CORNER_DEG = (30.0, 150.0)
"""Corners of a body set by hand.  Seen from afar at a tilt, a right angle shows as
2 atan(1 / cos tilt) at most: 127 degrees at 60, 151 at 75, where no lead can be told
from its neighbour.  A corner dragged onto the line between two others shows as more."""
MAX_RATIO = 3.0
"""Facing sides of a body set by hand: the nearer looks larger, but hardly twice as
large from where a chip can be photographed."""


def correction_of(
    state: JobState,
    cache: Path,
    photo: int,
    fix: Any,
    *,
    by: str,
    reason: str = "",
) -> Corrected:
    """Check what was set on the screen and give it the form of the record.

    Parameters
    ----------
    state : JobState
        The job.
    cache : Path
        Where pictures for the screen lie; they tell the size of the photo.
    photo : int
        Event of the photo that was corrected.
    fix : dict
        ``{"what": "outline", "outline_px": 4 points}``,
        ``{"what": "pin1", "at_px": point}``, pixels of the upright photo, or
        ``{"what": "package", "name": such as "SOIC-8"}``.
    by : str
        Who did it.
    reason : str, optional
        Why.

    Returns
    -------
    Corrected
        ``value`` is ``{"outline_px": ...}``, ``{"at_px": ...}`` or ``{"name": ...}``.

    Raises
    ------
    InputError
        The photo does not count, the points are none or make no body, or the
        package is in no table.
    """
    noted = next((n for n in state.photos if n.seq == photo), None)
    info = None
    if noted is not None:
        info = picture_info(cache, photo_key(noted.event.sha256))
    if noted is None or info is None or not isinstance(fix, dict):
        message = "That photo does not count any more. Load the page again."
        raise InputError(message)
    size_px = (info.width_px, info.height_px)
    value: dict[str, Any]
    if fix.get("what") == "outline":
        value = {"outline_px": _outline(fix.get("outline_px"), size_px)}
    elif fix.get("what") == "pin1":
        value = {"at_px": _point(fix.get("at_px"), size_px)}
    elif fix.get("what") == "package":
        value = {"name": _name(fix.get("name"))}
    else:
        message = "Only the outline, pin 1 and the package can be set by hand."
        raise InputError(message)
    return Corrected(
        photo=photo, what=str(fix["what"]), value=value, by=by, reason=reason
    )


def _outline(points: Any, size_px: tuple[int, int]) -> list[list[float]]:
    if not isinstance(points, list) or len(points) != 4:
        message = "An outline has four corners. Load the page again."
        raise InputError(message)
    corners = [_point(point, size_px) for point in points]
    sides = [math.dist(a, b) for a, b in pairwise([*corners, corners[0]])]
    if not is_sane_quad(corners) or min(sides) < MIN_BODY_PX:
        message = (
            "The four corners cross or lie on a line, so they are not the body of a "
            "chip. Drag each to its own corner of the body."
        )
        raise InputError(message)
    _refuse_collapsed(corners, sides)
    if signed_area_px2(corners) < 0:
        corners.reverse()
    return corners


def _refuse_collapsed(corners: list[list[float]], sides: list[float]) -> None:
    """Refuse what no chip looks like from anywhere: a triangle, or nearly one."""
    low_deg, high_deg = CORNER_DEG
    angles_deg = _corner_angles_deg(corners)
    a, b, c, d = sides
    ratio = max(a / c, c / a, b / d, d / b)
    if (
        low_deg <= min(angles_deg)
        and max(angles_deg) <= high_deg
        and ratio <= MAX_RATIO
    ):
        return
    message = (
        f"The outline is nearly a triangle: its corners are {min(angles_deg):.0f} to "
        f"{max(angles_deg):.0f} degrees wide ({low_deg:.0f} to {high_deg:.0f} are "
        f"taken) and facing sides differ {ratio:.1f}-fold (at most {MAX_RATIO:.0f}). "
        "Drag each corner to its own corner of the body."
    )
    raise InputError(message)


def _corner_angles_deg(corners: list[list[float]]) -> list[float]:
    """Give the angle at each corner of a quad that bends one way."""
    found = []
    for k, (x, y) in enumerate(corners):
        (x0, y0), (x1, y1) = corners[k - 1], corners[(k + 1) % len(corners)]
        between = math.atan2(y1 - y, x1 - x) - math.atan2(y0 - y, x0 - x)
        turn_deg = math.degrees(between) % 360
        found.append(min(turn_deg, 360 - turn_deg))
    return found


def _name(name: Any) -> str:
    if name not in package_names():
        message = "That package is in no table. Choose one of the list."
        raise InputError(message)
    return str(name)


def _point(point: Any, size_px: tuple[int, int]) -> list[float]:
    is_pair = isinstance(point, list) and len(point) == 2
    if not is_pair or not all(type(v) in (int, float) for v in point):
        message = "A point needs two numbers. Load the page again."
        raise InputError(message)
    x, y = (round(float(v), 2) for v in point)
    if not (-0.5 <= x <= size_px[0] - 0.5 and -0.5 <= y <= size_px[1] - 0.5):
        message = "A corner lies outside the photo. Drag it back in."
        raise InputError(message)
    return [x, y]
