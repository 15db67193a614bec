"""Angles: quarter turns, what is left of them, and the turn between two bodies.

Senses are those of ``geometry.py``: counter-clockwise positive as a person sees it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import signed_area_px2

if TYPE_CHECKING:
    import numpy.typing as npt


def wrap_deg(theta_deg: float) -> float:
    """Bring an angle into [-180, 180).

    Parameters
    ----------
    theta_deg : float
        Any angle, degrees.

    Returns
    -------
    float
        The same direction in [-180, 180), degrees.
    """
    wrapped = (float(theta_deg) + 180.0) % 360.0 - 180.0
    return -180.0 if wrapped >= 180.0 else wrapped


def nearest_turn_deg(theta_deg: float) -> int:
    """Round an angle to the nearest quarter turn.

    Parameters
    ----------
    theta_deg : float
        Any angle, degrees, counter-clockwise positive.

    Returns
    -------
    int
        0, 90, 180 or 270, degrees.
    """
    return round(float(theta_deg) / 90.0) * 90 % 360


def skew_deg(theta_deg: float) -> float:
    """Say what is left of an angle when the nearest quarter turn is taken off.

    Parameters
    ----------
    theta_deg : float
        Any angle, degrees, counter-clockwise positive.

    Returns
    -------
    float
        In [-45, 45], degrees.
    """
    return wrap_deg(theta_deg - nearest_turn_deg(theta_deg))


def rotation_between_deg(before: npt.ArrayLike, after: npt.ArrayLike) -> float:
    """Angle by which a quad is turned against another, corner 0 against corner 0.

    Parameters
    ----------
    before, after : array_like of shape (4, 2)
        Corners in the same sense, corner 0 at pin 1 in both, in one image frame.

    Returns
    -------
    float
        After minus before, counter-clockwise positive, in [-180, 180), degrees.

    Raises
    ------
    ValueError
        If one quad is a mirror image of the other, or has no extent.

    Notes
    -----
    Least squares over the corners as complex numbers (Schönemann's orthogonal
    Procrustes problem in the plane).  Exact for similar quads; between oblique views a
    few degrees are perspective, which the quarter turn does not mind.
    """
    first, second = np.asarray(before, float), np.asarray(after, float)
    if signed_area_px2(first) * signed_area_px2(second) <= 0:
        message = "one quad is the mirror image of the other, or one has no area"
        raise ValueError(message)
    first, second = first - first.mean(axis=0), second - second.mean(axis=0)
    here, there = first @ [1, 1j], second @ [1, 1j]
    total = np.sum(there * np.conj(here))
    return wrap_deg(-np.degrees(np.angle(total)))


def turn_between_deg(before: npt.ArrayLike, after: npt.ArrayLike) -> int:
    """Quarter turns from one quad to another, corner 0 against corner 0.

    Parameters
    ----------
    before, after : array_like of shape (4, 2)
        As in :func:`rotation_between_deg`.

    Returns
    -------
    int
        0, 90, 180 or 270, counter-clockwise, after minus before, degrees.

    Raises
    ------
    ValueError
        If one quad is a mirror image of the other, or has no extent.
    """
    return nearest_turn_deg(rotation_between_deg(before, after))
