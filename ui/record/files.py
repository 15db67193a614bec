"""Files that are whole or absent: the few durable steps a record is built from.

Order of every write: bytes, fsync of the file, rename, fsync of the folder.
After a cut at any point either the old or the new state is found, plus at most
a ``.part-`` file that nobody was told about.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from typing import TYPE_CHECKING

from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

PART_PREFIX = ".part-"
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_READ_ONLY = {errno.EROFS, errno.EACCES, errno.EPERM}
_NO_PLACE = {errno.ENOENT, errno.ENOTDIR, errno.EEXIST, errno.EISDIR}


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable.

    Parameters
    ----------
    folder : Path
        An existing folder.
    """
    if os.name == "nt":  # Windows cannot open a folder; its renames need no sync
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_all(handle: int, data: bytes) -> None:
    """Write every byte to an open file, however the system cuts it up.

    Parameters
    ----------
    handle : int
        File descriptor open for writing.
    data : bytes
        What to write.
    """
    view = memoryview(data)
    while view:
        view = view[os.write(handle, view) :]


def write_part(folder: Path, chunks: Iterable[bytes]) -> Path:
    """Write a temporary file beside its later place and make it durable.

    Parameters
    ----------
    folder : Path
        Where the finished file will lie.
    chunks : iterable of bytes
        Its content in order.

    Returns
    -------
    Path
        The temporary file; rename it to publish it.  It is removed on failure.
    """
    part = folder / f"{PART_PREFIX}{os.getpid()}-{secrets.token_hex(6)}"
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o644)
    try:
        try:
            for chunk in chunks:
                write_all(handle, chunk)
            os.fsync(handle)
        finally:
            os.close(handle)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return part


def write_whole(path: Path, data: bytes) -> None:
    """Put a file in place in one step, replacing what was there.

    Parameters
    ----------
    path : Path
        Final place.
    data : bytes
        Whole content.
    """
    part = write_part(path.parent, (data,))
    try:
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sweep_parts(folder: Path) -> None:
    """Remove temporary files of writers that died; call it under the job's lock.

    Parameters
    ----------
    folder : Path
        A folder that only writers holding the lock put files into.
    """
    if not folder.is_dir():
        return
    for part in folder.glob(f"{PART_PREFIX}*"):
        part.unlink(missing_ok=True)


@contextlib.contextmanager
def told_as_record_error(subject: str) -> Iterator[None]:
    """Turn the system's errors into a sentence that says what to do.

    Parameters
    ----------
    subject : str
        The job or file the sentence starts with.

    Raises
    ------
    RecordError
        In place of any ``OSError``.
    """
    try:
        yield
    except OSError as error:
        raise RecordError(_sentence(subject, error)) from error


def _sentence(subject: str, error: OSError) -> str:
    if error.errno in _FULL:
        return (
            f"{subject}: the disk is full; nothing was added and what was "
            "recorded before is whole. Free some space and do this step again."
        )
    if error.errno in _READ_ONLY:
        return (
            f"{subject}: the folder cannot be written to ({error.strerror}); "
            "nothing was added. Make it writable or copy the job to another disk."
        )
    if error.errno in _NO_PLACE:
        return (
            f"{subject}: {error.strerror}; nothing was added. Name another place: its "
            "folder has to be there, and no file may stand where a folder is meant."
        )
    return (
        f"{subject}: {error.strerror or error}; nothing was added. "
        "Check the disk and do this step again."
    )
