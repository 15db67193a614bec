"""Answers as picture files: what was found, drawn and named."""

from __future__ import annotations

import errno
import hashlib
from typing import TYPE_CHECKING

import cv2

from ui import look_words, pair_words, words
from ui.new_file import write_new
from vision.draw import (
    PairWords,
    blink_picture,
    draw_lands,
    draw_package,
    draw_pads,
    draw_pair,
)
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import numpy as np

    from vision.draw import PadMark
    from vision.draw.lands import LandMark
    from vision.results import PairReport, Photo, PhotoReport

JPEG_QUALITY = 88


def look_picture(
    report: PhotoReport, pin_names: Mapping[int, str] | None = None
) -> np.ndarray:
    """Draw the answer for one photo.

    Parameters
    ----------
    report : PhotoReport
    pin_names : mapping of int to str, optional
        Drawn only if they fit the number of leads found.

    Returns
    -------
    ndarray of shape (rows, cols, 3), uint8 BGR
    """
    answer = look_words.look_answer(report)
    names = pin_names if words.names_fit(report, pin_names) else None
    return draw_package(
        report.photo,
        report,
        names,
        caption=(answer.headline, *answer.details[:1]),
        state=answer.state,
    )


def pair_picture(report: PairReport) -> np.ndarray:
    """Draw the answer for one pair, before and after in one frame.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    ndarray of shape (rows, cols, 3), uint8 BGR
    """
    answer = pair_words.pair_answer(report)
    return draw_pair(
        report.before.photo,
        report.after.photo,
        report,
        words=PairWords(
            caption=(answer.headline, pair_words.alignment_words(report.alignment)),
            state=answer.state,
            shift=pair_words.shift_tag(report.alignment),
            turn=pair_words.turn_tag(report.orientation),
        ),
    )


def save_look(
    report: PhotoReport, folder: Path, pin_names: Mapping[int, str] | None = None
) -> Path:
    """Draw the answer for one photo into a folder.

    Parameters
    ----------
    report : PhotoReport
    folder : Path
    pin_names : mapping of int to str, optional

    Returns
    -------
    Path
        The picture's file; no other file is written over.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    path = folder / f"{report.photo.path.stem}_look.jpg"
    return _save_jpeg(path, look_picture(report, pin_names), report.photo.sha256)


def save_pair(report: PairReport, folder: Path) -> tuple[Path, ...]:
    """Draw the answer for one pair into a folder, with a blink picture if it can be.

    Parameters
    ----------
    report : PairReport
    folder : Path

    Returns
    -------
    tuple of Path

    Raises
    ------
    OSError
        A file cannot be written.
    """
    before, after = report.before.photo, report.after.photo
    stem = f"{before.path.stem}_to_{after.path.stem}"
    digest = hashlib.sha256((before.sha256 + after.sha256).encode()).hexdigest()
    still = _save_jpeg(folder / f"{stem}_compare.jpg", pair_picture(report), digest)
    blink = blink_picture(before, after, report)
    if isinstance(blink, NotFound):
        return (still,)
    return still, write_new(folder / f"{stem}_blink.webp", blink, digest)


def save_lands(
    photo: Photo,
    marks: Sequence[LandMark],
    answer: words.Answer,
    folder: Path,
    *,
    kind: str = "lands",
) -> Path:
    """Draw the answer for one photo of bare lands, or of feet, into a folder.

    Parameters
    ----------
    photo : Photo
    marks : sequence of (str, State, corners)
        Name, state and corners of each land, photo px.
    answer : Answer
    folder : Path
    kind : str
        What the file's name ends with.

    Returns
    -------
    Path

    Raises
    ------
    OSError
        The file cannot be written.
    """
    picture = draw_lands(
        photo, marks, caption=(answer.headline, *answer.details[:1]), state=answer.state
    )
    return _save_jpeg(folder / f"{photo.path.stem}_{kind}.jpg", picture, photo.sha256)


def save_pads(
    photo: Photo, marks: Sequence[PadMark], answer: words.Answer, folder: Path
) -> Path:
    """Draw the answer for marked contact pads into a folder.

    Parameters
    ----------
    photo : Photo
    marks : sequence of PadMark
    answer : Answer
    folder : Path

    Returns
    -------
    Path

    Raises
    ------
    OSError
        The file cannot be written.
    """
    caption = (answer.headline, *answer.details)
    picture = draw_pads(photo, marks, caption=caption)
    return _save_jpeg(folder / f"{photo.path.stem}_pads.jpg", picture, photo.sha256)


def _save_jpeg(path: Path, picture: np.ndarray, digest: str) -> Path:
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    if not done:
        message = "the picture could not be coded as JPEG"
        raise OSError(errno.EIO, message, str(path))
    return write_new(path, data.tobytes(), digest)
