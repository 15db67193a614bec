"""What a person names on the command line, as a list of photos."""

from __future__ import annotations

import glob
import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from ui.telling import say
from ui.words import CHECK_PLACE
from vision.errors import PhotoError, TableError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from vision.results import LeadRow, Photo, Point

    Row = dict[str, object]

PHOTO_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".bmp"}
)
WILDCARDS = "*?["
PAIR_KEYS = ("pair", "before", "after", "package")
WANTED_PAIR = '{"pair": "1", "before": "a.jpg", "after": "b.jpg"}'
_ROW = re.compile(r"(\d{1,3})-(\d{1,3})", flags=re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPair:
    """Two photos to compare; ``package`` is what their chip is said to be.

    ``pair`` and ``line_no`` are its name and place in a list; None and 0 without one.
    """

    pair: str | None
    line_no: int
    before: Path
    after: Path
    package: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BadPair:
    """A line of a list of pairs that names none, and why; the photos as it says."""

    pair: str
    line_no: int
    before: str
    after: str
    error: TableError


@dataclass(frozen=True, slots=True)
class PhotoSize:
    """How large a photo is when upright."""

    path: Path
    width_px: int
    height_px: int


def named_path(text: str | Path) -> Path:
    """Read the name of a file or folder; an empty one would mean this folder.

    Parameters
    ----------
    text : str
        As typed, or as the shell made it of a variable.

    Returns
    -------
    Path

    Raises
    ------
    typer.BadParameter
        Nothing is named.
    """
    return Path(given_name(str(text)))


def given_name(text: str) -> str:
    """Give a name back unless it is empty; see ``named_path``."""
    if not text.strip():
        message = (
            "the name is empty. Name a file or a folder; a dot stands for this folder"
        )
        raise typer.BadParameter(message)
    return text


def photos_named(names: Iterable[str]) -> Iterator[tuple[str, Path | PhotoError]]:
    """Give the photos that files, folders and patterns stand for, in the order given.

    Parameters
    ----------
    names : iterable of str
        A folder stands for the photos in it, by name, and how much else lies in it is
        said beside the answers; a pattern such as
        ``board*.jpg`` is resolved here because not every shell does it.

    Yields
    ------
    tuple of str and Path or PhotoError
        The name to answer under, and an error where there is no such file, a folder
        holds no photo, a pattern fits no file or the name cannot be looked up.
    """
    for name in names:
        try:
            found, said = _photos_of(name)
        except OSError as error:
            found, said = [], _unreadable(name, error)
        yield from ((str(photo), photo) for photo in found)
        if not found:
            yield name, PhotoError(said)


def read_pairs(path: Path) -> tuple[PhotoPair | BadPair, ...]:
    """Read a list of pairs, one JSON object a line.

    Parameters
    ----------
    path : Path
        Lines of ``{"pair": "...", "before": "...", "after": "..."}``, with
        ``"package": "SOIC-8"`` where that is known.  A photo is looked for from where
        the command runs, then beside the list.

    Returns
    -------
    tuple of PhotoPair or BadPair
        In the order of the list; a line that is no pair does not stop the others.

    Raises
    ------
    TableError
        The list cannot be read, or there is no line in it.
    """
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except OSError as error:
        message = (
            f"{path}: the list of pairs cannot be read: {error.strerror}. {CHECK_PLACE}"
        )
        raise TableError(message) from None
    except UnicodeDecodeError:
        message = f"{path}: not a text file; a list of pairs is JSON lines in UTF-8."
        raise TableError(message) from None
    pairs = tuple(
        _read_pair(path, number, line)
        for number, line in enumerate(lines, 1)
        if line.strip()
    )
    if not pairs:
        message = f"{path}: no pair in this list; one JSON object a line is needed."
        raise TableError(message)
    return pairs


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
    path, _, row = given_name(text).rpartition(":")
    names_a_photo = Path(path).suffix.lower() in PHOTO_SUFFIXES or row[:1].isdigit()
    if Path(text).exists() or not (path and names_a_photo):
        return Path(text), None
    return Path(path), lead_row(row, "--side")


def refuse_outside(
    points: Iterable[Point], photo: Photo | PhotoSize, option: str
) -> None:
    """Refuse places that do not lie in their photo.

    Parameters
    ----------
    points : iterable of (float, float)
        Pixels of the upright photo.
    photo : Photo or PhotoSize
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
                f"{x:g},{y:g} lies outside {photo.path}, which has {width_px} x "
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


def _photos_of(name: str) -> tuple[list[Path], str]:
    """Give the photos that a name stands for, and what to say where there are none."""
    path = Path(name)
    if path.is_dir():
        found = sorted(p for p in path.iterdir() if _is_photo(p))
        _say_passed_over(path, name)
        return found, f"{name}: no photo in this folder; one of {_kinds()} is needed."
    if not path.exists() and any(sign in name for sign in WILDCARDS):
        found = [p for p in map(Path, sorted(glob.glob(name))) if p.is_file()]  # noqa: PTH207 - takes absolute patterns
        return (
            found,
            f"{name}: no file fits this pattern. Look at the folder and the ending.",
        )
    # Said here, as a drawing of this run may come to have the name meanwhile.
    found = [path] if path.exists() else []
    return found, f"{name}: there is no such file. Check the name and the folder."


def _unreadable(name: str, error: OSError) -> str:
    return (
        f"{name}: it cannot be read ({error.strerror}). Check the name, the rights and "
        "the medium."
    )


def _read_pair(path: Path, number: int, line: str) -> PhotoPair | BadPair:
    row = _row_of(line)
    no_row = f"{line.strip()[:60]!r} is not a pair; needed is {WANTED_PAIR}"
    wrong = no_row if row is None else _wrong_in(path, row)
    row = row or {}
    name = str(row.get("pair", number))
    if wrong:
        called = f" (pair {name[:60]!r})" if "pair" in row else ""
        return BadPair(
            pair=name,
            line_no=number,
            before=str(row.get("before", "")),
            after=str(row.get("after", "")),
            error=TableError(f"{path}, line {number}{called}: {wrong}."),
        )
    package = row.get("package")
    return PhotoPair(
        pair=name,
        line_no=number,
        before=_beside(path, Path(str(row["before"]))),
        after=_beside(path, Path(str(row["after"]))),
        package=None if package is None else str(package),
    )


def _row_of(line: str) -> Row | None:
    try:
        row = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return row if isinstance(row, dict) else None


def _wrong_in(path: Path, row: Row) -> str:
    """Say what keeps a row from being a pair; empty where nothing does."""
    unknown = [repr(key[:40]) for key in row if key not in PAIR_KEYS]
    if unknown:
        word = "key" if len(unknown) == 1 else "keys"
        return f"unknown {word} {', '.join(unknown)}; known: {', '.join(PAIR_KEYS)}"
    for key in ("before", "after"):
        photo = row.get(key)
        if not (isinstance(photo, str) and photo.strip()):
            return f"{key} names no photo; needed is {WANTED_PAIR}"
        try:
            _beside(path, Path(photo))
        except OSError as error:
            return _unreadable(photo, error).rstrip(".")
    return ""


def _beside(listed_in: Path, photo: Path) -> Path:
    neighbour = listed_in.parent / photo
    return neighbour if not photo.exists() and neighbour.exists() else photo


def _say_passed_over(folder: Path, name: str) -> None:
    """Say how much of a folder is not looked at; hidden files count for nothing."""
    seen = [path for path in folder.iterdir() if not path.name.startswith(".")]
    folders = sum(path.is_dir() for path in seen)
    files = len(seen) - folders - sum(map(_is_photo, seen))
    if files == 1:
        say(f"{name}: 1 file passed over that is no photo")
    elif files:
        say(f"{name}: {files} files passed over that are no photos")
    if folders:
        say(f"{name}: folders in it that are not looked into: {folders}; name them")


def _is_photo(path: Path) -> bool:
    return path.suffix.lower() in PHOTO_SUFFIXES and path.is_file()


def _kinds() -> str:
    return ", ".join(sorted(suffix.lstrip(".") for suffix in PHOTO_SUFFIXES))
