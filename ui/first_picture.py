"""Says of files that hold several pictures that only the first was looked at."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

from PIL import Image

if TYPE_CHECKING:
    from pathlib import Path

OF_PAGES_OR_FRAMES = ("TIFF", "GIF", "WEBP", "PNG")
"""Other kinds hold copies and maps of brightness beside the one picture."""


def first_only(*paths: Path) -> tuple[str, ...]:
    """Say which files hold more pictures than the one that was looked at.

    Parameters
    ----------
    *paths : Path
        Photos that were read.

    Returns
    -------
    tuple of str
        A line for each such file.
    """
    counts = {path: _count(path) for path in paths}
    return tuple(_line(path, count) for path, count in counts.items() if count > 1)


def _line(path: Path, count: int) -> str:
    return (
        f"{path.name}: the first of {count} pictures in this file was looked at; save "
        "another one as a file of its own to have it judged"
    )


def _count(path: Path) -> int:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path, formats=OF_PAGES_OR_FRAMES) as picture:
                return int(getattr(picture, "n_frames", 1))
    except Exception:  # another kind of file, or a hostile header
        return 1
