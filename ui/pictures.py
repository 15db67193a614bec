"""Answers as picture files: what was found, drawn and named."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import TYPE_CHECKING

import cv2

from ui import look_words, pair_words, words
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
        The picture's file; no file of another photo is written over.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    path = _free(folder, f"{report.photo.path.stem}_look", ".jpg", report.photo.sha256)
    _save_jpeg(path, look_picture(report, pin_names))
    return path


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
    digest = before.sha256[:8] + after.sha256
    still = _free(folder, f"{stem}_compare", ".jpg", digest)
    _save_jpeg(still, pair_picture(report))
    blink = blink_picture(before, after, report)
    if isinstance(blink, NotFound):
        return (still,)
    moving = _free(folder, f"{stem}_blink", ".webp", digest)
    moving.write_bytes(blink)
    return still, moving


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
    path = _free(folder, f"{photo.path.stem}_{kind}", ".jpg", photo.sha256)
    picture = draw_lands(
        photo, marks, caption=(answer.headline, *answer.details[:1]), state=answer.state
    )
    _save_jpeg(path, picture)
    return path


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
    path = _free(folder, f"{photo.path.stem}_pads", ".jpg", photo.sha256)
    caption = (answer.headline, *answer.details)
    _save_jpeg(path, draw_pads(photo, marks, caption=caption))
    return path


_written: dict[Path, str] = {}


def _free(folder: Path, stem: str, suffix: str, digest: str) -> Path:
    """Give a name that no other photo of this run has taken."""
    path = (folder / f"{stem}{suffix}").resolve()
    if _written.setdefault(path, digest) != digest:
        path = path.with_name(f"{stem}_{digest[:8]}{suffix}")
        _written[path] = digest
    return folder / path.name


def _save_jpeg(path: Path, picture: np.ndarray) -> None:
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    if not done:
        message = "the picture could not be coded as JPEG"
        raise OSError(errno.EIO, message, str(path))
    path.write_bytes(data.tobytes())
