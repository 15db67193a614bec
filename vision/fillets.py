"""What shows of joints that lie under a body: the solder at its edge."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.joint_sums import TO_NEIGHBOUR, sum_joints
from vision.results import Finding, Joint
from vision.strips import COLS, MIDDLE_COL, PITCH_PX, REACH_PX, ROWS, TOE_ROW

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from vision.strips import GapWindow

    ByteImage = npt.NDArray[np.uint8]

UNDER_BODY = (
    "joints under the body cannot be seen from outside; measure them, or have them "
    "X-rayed"
)
SHOWS = "solder shows beside the body"
SHOWS_NOT = "no solder shows beside the body; look along that side from a low angle"
SHOWED_BEFORE = (
    "solder showed beside the body before and does not now; look along that side from "
    "a low angle"
)
MAY_BE_LEADLESS = 0.05
"""Belief that a package has no leads, above which joints are not called sound."""
INNER, OUTER = -0.85, 0.0
"""Part of a window that is looked at, in reaches from the land's end (0) to the body
(-1)."""
HALF_WIDTH = 0.12
"""Half width in pitches of what is taken for a land's middle, and a gap's."""
SMOOTH_PX, BLACK = 1.5, 16.0
LEAST_SHINE = 0.2
"""Rise of brightness over the gaps on both sides, as a share of theirs, from which an
end shows: so much have 10 % of windows laid beside the lands of 21 labelled chips."""


def ends_seen(windows: Sequence[GapWindow], pictures: ByteImage) -> dict[int, bool]:
    """Tell of each lead whether its end shines beside the body.

    Parameters
    ----------
    windows : sequence of GapWindow
        From ``strips.gap_windows`` of a leadless package.
    pictures : ndarray of shape (n, rows, cols, 3), uint8
        From ``strips.cut_windows``, BGR.

    Returns
    -------
    dict of int to bool
        By lead number; seen in one of its two windows is enough.
    """
    seen: dict[int, bool] = {}
    for window, picture in zip(windows, pictures, strict=True):
        shines = _shines(picture)
        for number, shine in zip((window.first, window.second), shines, strict=True):
            if number is not None:
                seen[number] = seen.get(number, False) or shine >= LEAST_SHINE
    return seen


def end_joints(
    joints: Sequence[Joint],
    now: Mapping[int, bool],
    before: Mapping[int, bool],
) -> tuple[Joint, ...]:
    """Say of joints under a body what shows of them.

    Parameters
    ----------
    joints : sequence of Joint
        As judged by the gaps beside them: one from which solder runs to its neighbour
        stays a fault, nothing else is more than ``unsure``.
    now, before : mapping of int to bool
        Whether the ends show, by lead number; ``before`` is empty without such a photo.

    Returns
    -------
    tuple of Joint
    """
    out = []
    for joint in joints:
        if TO_NEIGHBOUR in joint.findings:
            out.append(joint)
            continue
        said = SHOWS
        if not now[joint.lead]:
            said = SHOWED_BEFORE if before.get(joint.lead) else SHOWS_NOT
        out.append(Joint(lead=joint.lead, state="unsure", findings=(said, UNDER_BODY)))
    return tuple(out)


def sum_ends(joints: Sequence[Joint]) -> Finding:
    """Sum up joints under a body.

    Parameters
    ----------
    joints : sequence of Joint
        From ``end_joints``.

    Returns
    -------
    Finding
        Never ``ok``.
    """
    if any(joint.state == "fault" for joint in joints):
        return sum_joints(joints)
    show = sum(SHOWS in joint.findings for joint in joints)
    lost = tuple(
        f"lead {joint.lead}: {SHOWED_BEFORE}"
        for joint in joints
        if SHOWED_BEFORE in joint.findings
    )
    said = f"{SHOWS} at {show} of {len(joints)} leads"
    return Finding(state="unsure", reasons=(*lost, said, UNDER_BODY))


def outside_only(gaps: Finding) -> Finding:
    """Take what is said of the gaps for what it is: the part outside the body.

    Parameters
    ----------
    gaps : Finding
        From ``joint_sums.sum_gaps``.

    Returns
    -------
    Finding
        Never ``ok``.
    """
    if gaps.state == "fault":
        return gaps
    said = tuple(f"outside the body {r}" for r in gaps.reasons if gaps.state == "ok")
    return Finding(state="unsure", reasons=(*(said or gaps.reasons), UNDER_BODY))


def perhaps_under_body(joints: Finding, leadless_share: float) -> Finding:
    """Take back that joints are sound where they may lie under a body, unseen.

    Parameters
    ----------
    joints : Finding
        Of a package read as one with leads.
    leadless_share : float
        Belief that it is one without, 0..1.

    Returns
    -------
    Finding
    """
    if joints.state != "ok" or leadless_share <= MAY_BE_LEADLESS:
        return joints
    said = (
        f"{leadless_share:.0%} likely to be a package without leads; then its joints "
        "lie under the body, unseen. Name the package, or look at it from the side"
    )
    return Finding(state="unsure", reasons=(said,))


def _shines(picture: ByteImage) -> tuple[float, float]:
    """How far the ends left and right are brighter than the gaps beside them."""
    gray = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY).astype(np.float32)
    gray = np.asarray(cv2.GaussianBlur(gray, (0, 0), SMOOTH_PX), np.float32)
    v = (np.arange(ROWS) - TOE_ROW) / REACH_PX
    u = (np.arange(COLS) - MIDDLE_COL) / PITCH_PX
    band = gray[(v > INNER) & (v < OUTER)]
    middles = (-1.0, -0.5, 0.0, 0.5, 1.0)
    gap_left, left, gap, right, gap_right = (
        float(np.median(band[:, np.abs(u - at) < HALF_WIDTH])) for at in middles
    )
    darkest = max(gap_left, gap), max(gap, gap_right)
    return (
        (left - darkest[0]) / (darkest[0] + BLACK),
        (right - darkest[1]) / (darkest[1] + BLACK),
    )
