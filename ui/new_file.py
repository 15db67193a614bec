"""Writes files beside those of a person, and never over one of them."""

from __future__ import annotations

import errno
import hashlib
import os
from itertools import accumulate
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

TAG_LETTERS = 8


def write_new(path: Path, data: bytes, *digests: str) -> Path:
    """Write a file under a name that no other file has.

    Parameters
    ----------
    path : Path
        The name wanted.
    data : bytes
        What it shall hold.
    *digests : str
        What tells it from others, in hex; put after its name one by one, and last that
        of ``data``, as long as the name is taken.

    Returns
    -------
    Path
        Where it is; a file that holds the same already is left as it is.

    Raises
    ------
    OSError
        It cannot be written.
    """
    tags = (tag[:TAG_LETTERS] for tag in (*digests, hashlib.sha256(data).hexdigest()))
    for stem in accumulate((path.stem, *tags), "{}_{}".format):
        target = path.with_name(f"{stem}{path.suffix}")
        if _is_written(target, data) or _holds(target, data):
            return target
    raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))


def _is_written(target: Path, data: bytes) -> bool:
    """Write a whole file where there is none; False where something is there."""
    try:
        file = target.open("xb")
    except FileExistsError:
        return False
    try:
        with file:
            file.write(data)
    except OSError:
        target.unlink(missing_ok=True)
        raise
    return True


def _holds(target: Path, data: bytes) -> bool:
    try:
        same_size = target.is_file() and target.stat().st_size == len(data)
        return same_size and target.read_bytes() == data
    except OSError:  # it may not be read, so it is somebody else's
        return False
