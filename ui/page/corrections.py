"""What a person sets right on the screen, as an event of the record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ui.hand_outline import outline_doubt
from ui.page.bodies import InputError
from ui.page.pictures import photo_key, picture_info
from ui.record import Corrected
from vision.geometry import signed_area_px2
from vision.package_names import package_names

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record import JobState


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
    doubt = outline_doubt(corners)
    if doubt:
        raise InputError(doubt)
    if signed_area_px2(corners) < 0:
        corners.reverse()
    return corners


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
