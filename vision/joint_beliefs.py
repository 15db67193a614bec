"""What the network believes of each gap and of the leads beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vision.geometry import apply_homography
from vision.networks import registry, run
from vision.strips import (
    COLS,
    LEFT_COL,
    MIDDLE_COL,
    RIGHT_COL,
    ROWS,
    TOE_ROW,
    cut_windows,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.strips import GapWindow

    ByteImage = npt.NDArray[np.uint8]
    FloatArray = npt.NDArray[np.float64]

CLASSES = ("sound", "lifted", "bent", "little", "much")
"""What a lead may be; the order of the network's answers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapBelief:
    """What the network believes of one window.

    ``is_changed`` says that something is new in the gap since the photo before.
    """

    window: GapWindow
    bridged: float
    square: float
    left: tuple[float, ...]
    right: tuple[float, ...]
    at_px: tuple[float, float]
    is_changed: bool = False


def believe(pixels: ByteImage, windows: Sequence[GapWindow]) -> tuple[GapBelief, ...]:
    """Let the network look at windows in one photo.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The photo in which the windows were placed.
    windows : sequence of GapWindow
        From ``strips.gap_windows``.

    Returns
    -------
    tuple of GapBelief
        Calibrated beliefs, 0..1.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    return believe_pictures(windows, cut_windows(pixels, windows))


def believe_pictures(
    windows: Sequence[GapWindow], pictures: ByteImage, before: ByteImage | None = None
) -> tuple[GapBelief, ...]:
    """Let the network look at windows that were cut already.

    Parameters
    ----------
    windows : sequence of GapWindow
        From ``strips.gap_windows``.
    pictures, before : ndarray of shape (n, rows, cols, 3), uint8
        From ``strips.cut_windows``; None where there is no photo before.

    Returns
    -------
    tuple of GapBelief
        Calibrated beliefs, 0..1.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    if not windows:
        return ()
    said, cover = run("joints", stacked(pictures, before))
    kind = "alone" if before is None else "pair"
    scale, shift = registry()["joints"]["calibration"][kind]
    bridged = _logistic(scale * said[:, 0] + shift)
    square = _logistic(said[:, 1])
    n = len(CLASSES)
    left, right = _shares(said[:, 2 : 2 + n]), _shares(said[:, 2 + n : 2 + 2 * n])
    return tuple(
        GapBelief(
            window=w,
            bridged=float(bridged[k]),
            square=float(square[k]),
            left=tuple(left[k].tolist()),
            right=tuple(right[k].tolist()),
            at_px=_place(w, cover[k, 0]),
        )
        for k, w in enumerate(windows)
    )


def stacked(pictures: ByteImage, before: ByteImage | None) -> ByteImage:
    """Lay windows of both photos on one another, as the networks want them.

    Parameters
    ----------
    pictures, before : ndarray of shape (n, rows, cols, 3), uint8
        From ``strips.cut_windows``; None where there is no photo before.

    Returns
    -------
    ndarray of shape (n, rows, cols, 7), uint8
        Whether there is a photo before, that photo, this photo.
    """
    stack = np.zeros((len(pictures), ROWS, COLS, 7), np.uint8)
    stack[..., 4:] = pictures
    if before is not None:
        stack[..., 1:4] = before
        stack[..., 0] = 255
    return stack


def _place(window: GapWindow, cover: npt.NDArray[np.float32]) -> tuple[float, float]:
    """Where the solder of a bridge lies in the photo: the middle of its cover."""
    share = _logistic(cover.astype(np.float64))
    step = ROWS / share.shape[0]
    rows, cols = np.indices(share.shape)
    x, y = (cols + 0.5) * step - 0.5, (rows + 0.5) * step - 0.5
    weight = np.where((x > LEFT_COL) & (x < RIGHT_COL), share, 0.0) ** 2
    at = np.array([MIDDLE_COL, TOE_ROW - 8])
    if float(weight.max()) > 0.05:
        at = np.array([np.average(x, weights=weight), np.average(y, weights=weight)])
    px = apply_homography(window.to_photo, at[None])[0]
    return float(px[0]), float(px[1])


def _logistic(x: npt.NDArray[np.floating]) -> FloatArray:
    clipped = np.clip(np.asarray(x, np.float64), -40, 40)
    return np.asarray(1 / (1 + np.exp(-clipped)))


def _shares(logits: npt.NDArray[np.float32]) -> FloatArray:
    shifted = np.exp(logits.astype(np.float64) - logits.max(axis=1, keepdims=True))
    return np.asarray(shifted / shifted.sum(axis=1, keepdims=True))
