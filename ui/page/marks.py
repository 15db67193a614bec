"""What the picture pane draws: an answer's places as plain marks.

The kinds of marks are described in ``static/pane_marks.js``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from vision.results import Package, Point

Mark = dict[str, Any]


def package_marks(
    package: Package, *, style: str = "after", with_leads: bool = True
) -> list[Mark]:
    """Give the marks of a package.

    Parameters
    ----------
    package : Package
        As recorded.
    style : str, optional
        ``before`` draws dashed, ``after`` solid.
    with_leads : bool, optional
        Also number the leads.

    Returns
    -------
    list of dict
    """
    corners = [list(corner) for corner in package.outline_px]
    marks: list[Mark] = [{"kind": "outline", "points": corners, "style": style}]
    if package.pin1.state == "ok":
        text = "pin 1 before" if style == "before" else "pin 1"
        marks.append({"kind": "pin1", "at": corners[0], "style": style, "text": text})
    if with_leads and package.pin1.state == "ok":
        bad = {joint.lead for joint in package.joints if joint.state == "fault"}
        sure = (bridge for bridge in package.bridges if bridge.state == "fault")
        bad |= {lead for bridge in sure for lead in bridge.between}
        marks += [
            {
                "kind": "lead",
                "number": lead.number,
                "at": list(lead.toe_px),
                "away": list(lead.heel_px),
                "text": str(lead.number),
                "flagged": lead.number in bad,
            }
            for lead in package.leads
        ]
    return marks


def spot_mark(at_px: Point, radius_px: float, state: str) -> Mark:
    """Give the mark of a finding.

    Parameters
    ----------
    at_px : (float, float)
        Where it is.
    radius_px : float
        How far it reaches.
    state : str
        ``fault`` or ``unsure``.

    Returns
    -------
    dict
    """
    return {"kind": "spot", "at": list(at_px), "radius_px": radius_px, "state": state}


def moved_package(package: Package, before_to_after: Any) -> Package:
    """Give an after package in the frame of the before photo.

    Parameters
    ----------
    package : Package
        Found in the after photo.
    before_to_after : 3 x 3 numbers
        Takes before pixels to after pixels.

    Returns
    -------
    Package
        With outline, leads and bridges moved.
    """

    def back(point: Point) -> Point:
        x, y = point_back(point, before_to_after)
        return x, y

    a, b, c, d = (back(corner) for corner in package.outline_px)
    leads = tuple(
        replace(lead, toe_px=back(lead.toe_px), heel_px=back(lead.heel_px))
        for lead in package.leads
    )
    bridges = tuple(replace(b_, at_px=back(b_.at_px)) for b_ in package.bridges)
    return replace(package, outline_px=(a, b, c, d), leads=leads, bridges=bridges)


def point_back(point: Point, before_to_after: Any) -> list[float]:
    """Give a point of the after photo in the frame of the before photo.

    Parameters
    ----------
    point : (float, float)
        In after pixels.
    before_to_after : 3 x 3 numbers
        Takes before pixels to after pixels.

    Returns
    -------
    [float, float]
        In before pixels.
    """
    x, y, w = np.linalg.solve(np.array(before_to_after, float), [*point, 1.0])
    return [float(x / w), float(y / w)]
