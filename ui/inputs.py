"""What a person names on the command line, as a list of photos."""

from __future__ import annotations

import glob
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from vision.errors import PhotoError, TableError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from vision.results import LeadRow, Photo, Point

PHOTO_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".bmp"}
)
WILDCARDS = "*?["
_ROW = re.compile(r"(\d{1,3})-(\d{1,3})", flags=re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPair:
    """One line of a list of pairs; ``package`` is what its chip is said to be."""

    pair: str
    before: Path
    after: Path
    package: str | None = None


def photos_named(names: Iterable[str]) -> Iterator[tuple[str, Path | PhotoError]]:
    """Give the photos that files, folders and patterns stand for, in the order given.

    Parameters
    ----------
    names : iterable of str
        A folder stands for the photos in it, by name; a pattern such as
        ``board*.jpg`` is resolved here because not every shell does it.

    Yields
    ------
    tuple of str and Path or PhotoError
        The name to answer under, and an error where a folder holds no photo or a
        pattern fits no file; a file that does not exist is given as it is, for the
        reader to say so.
    """
    for name in names:
        path = Path(name)
        if path.is_dir():
            found = sorted(p for p in path.iterdir() if _is_photo(p))
            said = f"{name}: no photo in this folder; one of {_kinds()} is needed."
        elif not path.exists() and any(sign in name for sign in WILDCARDS):
            found = [p for p in map(Path, sorted(glob.glob(name))) if p.is_file()]  # noqa: PTH207 - takes absolute patterns
            said = (
                f"{name}: no file fits this pattern. Look at the folder and the ending."
            )
        else:
            found, said = [path], ""
        yield from ((str(photo), photo) for photo in found)
        if not found:
            yield name, PhotoError(said)


def read_pairs(path: Path) -> tuple[PhotoPair, ...]:
    """Read a list of pairs, one JSON object a line.

    Parameters
    ----------
    path : Path
        Lines of ``{"pair": "...", "before": "...", "after": "..."}``, with
        ``"package": "SOIC-8"`` where that is known.  A photo is looked for from where
        the command runs, then beside the list.

    Returns
    -------
    tuple of PhotoPair

    Raises
    ------
    TableError
        The list cannot be read or a line lacks a field.
    """
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except OSError as error:
        message = f"{path}: the list of pairs cannot be read: {error.strerror}."
        raise TableError(message) from None
    except UnicodeDecodeError:
        message = f"{path}: not a text file; a list of pairs is JSON lines in UTF-8."
        raise TableError(message) from None
    pairs = []
    for number, line in enumerate(lines, 1):
        if line.strip():
            pairs.append(_read_pair(path, number, line))
    if not pairs:
        message = f"{path}: no pair in this list; one JSON object a line is needed."
        raise TableError(message)
    return tuple(pairs)


def side_photo(text: str) -> tuple[Path, LeadRow | None]:
    """Read a photo of a row of feet, with the row if it was named.

    Parameters
    ----------
    text : str
        ``side.jpg``, or ``side.jpg:1-4`` for the row of leads 1 to 4.

    Returns
    -------
    (Path, (int, int) or None)

    Raises
    ------
    typer.BadParameter
        What follows the last colon is no row.
    """
    path, colon, row = text.rpartition(":")
    looks_like_a_row = colon and path and row[:1].isdigit()
    if Path(text).exists() or not looks_like_a_row:
        return Path(text), None
    return Path(path), lead_row(row, "--side")


def refuse_outside(points: Iterable[Point], photo: Photo, option: str) -> None:
    """Refuse places that do not lie in their photo.

    Parameters
    ----------
    points : iterable of (float, float)
        Pixels of the upright photo.
    photo : Photo
        The photo they point into.
    option : str
        The option they were given with.

    Raises
    ------
    typer.BadParameter
        One lies outside.
    """
    width_px, height_px = photo.width_px, photo.height_px
    for x, y in points:
        if not (0 <= x <= width_px and 0 <= y <= height_px):
            message = (
                f"{x:g},{y:g} lies outside {photo.path.name}, which has {width_px} x "
                f"{height_px} px when upright; read the place off the upright photo"
            )
            raise typer.BadParameter(message, param_hint=option)


def lead_row(text: str, option: str) -> LeadRow:
    """Read a row of leads, written FIRST-LAST.

    Parameters
    ----------
    text : str
        Such as ``1-4``.
    option : str
        The option it was given with.

    Returns
    -------
    (int, int)

    Raises
    ------
    typer.BadParameter
        It is no row.
    """
    found = _ROW.fullmatch(text.strip())
    first, last = (int(found[1]), int(found[2])) if found else (0, 0)
    if not 1 <= first < last:
        message = (
            f"{text[:40]!r} is no row of leads; write the first and the last, such as "
            "1-4"
        )
        raise typer.BadParameter(message, param_hint=option)
    return first, last


def _read_pair(path: Path, number: int, line: str) -> PhotoPair:
    try:
        row = json.loads(line)
        before, after = Path(row["before"]), Path(row["after"])
        name, package = str(row.get("pair", number)), row.get("package")
    except (ValueError, TypeError, KeyError, AttributeError):
        message = (
            f"{path}, line {number}: {line.strip()[:60]!r} is not a pair; needed is "
            '{"pair": "1", "before": "a.jpg", "after": "b.jpg"}.'
        )
        raise TableError(message) from None
    return PhotoPair(
        pair=name,
        before=_beside(path, before),
        after=_beside(path, after),
        package=None if package is None else str(package),
    )


def _beside(listed_in: Path, photo: Path) -> Path:
    neighbour = listed_in.parent / photo
    return neighbour if not photo.exists() and neighbour.exists() else photo


def _is_photo(path: Path) -> bool:
    return path.suffix.lower() in PHOTO_SUFFIXES and path.is_file()


def _kinds() -> str:
    return ", ".join(sorted(suffix.lstrip(".") for suffix in PHOTO_SUFFIXES))
