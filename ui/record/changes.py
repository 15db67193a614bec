"""Tells the index which jobs to read again: names in a throw-away file.

A word that is lost does no harm: a row of the list is compared with its journal
before it is shown.
"""

from __future__ import annotations

import contextlib
import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

INDEX_FOLDER = ".index"
CHANGES_NAME = "changed"


def announce_change(folder: Path) -> None:
    """Note that a job's journal changes, if there is an index to be told.

    Parameters
    ----------
    folder : Path
        The job folder.
    """
    path = folder.parent / INDEX_FOLDER / CHANGES_NAME
    with contextlib.suppress(OSError):
        handle = os.open(path, os.O_WRONLY | os.O_APPEND)
        try:
            os.write(handle, f"{folder.name}\n".encode())
        finally:
            os.close(handle)


def read_changes(home: Path, offset_bytes: int) -> tuple[set[str], int]:
    """Give the jobs that changed since the file had a given length.

    Parameters
    ----------
    home : Path
        The folder of all jobs.
    offset_bytes : int
        Length that was read before.

    Returns
    -------
    set of str, int
        Job names and the new length.
    """
    path = home / INDEX_FOLDER / CHANGES_NAME
    try:
        with path.open("rb") as file:
            file.seek(offset_bytes)
            added = file.read()
    except OSError:
        return set(), offset_bytes
    whole = added[: added.rfind(b"\n") + 1]
    names = whole.decode("ascii", "replace").split("\n")
    return set(names) - {""}, offset_bytes + len(whole)
