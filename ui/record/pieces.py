"""The files that a job's events name: each there, and as it was recorded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.record.events import PhotoAdded
from ui.record.store import file_sha256, photo_path
from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from ui.record.state import JobState


def refuse_changed_photos(folder: Path, state: JobState) -> None:
    """Refuse to go on with a job whose photos are not those that were added.

    Parameters
    ----------
    folder : Path
        The job folder; its photos are read whole.
    state : JobState
        The job.

    Raises
    ------
    RecordError
        A photo is missing or was changed; names each.
    """
    problems = tuple(photo_problems(folder, state))
    if problems:
        message = (
            f"{folder.name}: {'; '.join(problems)}. A job with a photo that is missing "
            "or was changed is neither judged, cleared nor sealed; nothing was added. "
            "Restore the folder from a copy, or open a new job that names this one."
        )
        raise RecordError(message)


def photo_problems(folder: Path, state: JobState) -> Iterator[str]:
    """Name the photos that are not as they were added, those replaced included.

    Parameters
    ----------
    folder : Path
        The job folder.
    state : JobState
        The job.

    Yields
    ------
    str
        One a photo.
    """
    for noted in state.history:
        if isinstance(noted.event, PhotoAdded):
            yield from photo_problem(folder, noted.seq, noted.event)


def photo_problem(folder: Path, seq: int, photo: PhotoAdded) -> Iterator[str]:
    """Say what is wrong with a photo, if it is not as it was added.

    Parameters
    ----------
    folder : Path
        The job folder.
    seq : int
        Event of the photo.
    photo : PhotoAdded
        The photo.

    Yields
    ------
    str
        At most one.
    """
    try:
        path = photo_path(folder, photo.sha256, photo.suffix)
    except RecordError as error:
        yield str(error)
    else:
        what = f"the {photo.stage} photo of event {seq}"
        yield from file_problems(path, photo.sha256, what)


def file_problems(path: Path, sha256: str, what: str) -> Iterator[str]:
    """Say what is wrong with a file, if anything is.

    Parameters
    ----------
    path : Path
        Where it should lie.
    sha256 : str
        Hash of its bytes as recorded.
    what : str
        What it is, for the sentence.

    Yields
    ------
    str
        At most one.
    """
    if not path.is_file():
        yield f"{what} is missing ({path.parent.name}/{path.name})"
        return
    try:
        found = file_sha256(path)
    except OSError as error:
        yield f"{what} cannot be read: {error.strerror} ({path.name})"
        return
    if found != sha256:
        yield f"{what} was changed ({path.parent.name}/{path.name})"
