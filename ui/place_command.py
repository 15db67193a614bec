"""``dotward place``: one line a picture while a chip is set on its lands."""

from __future__ import annotations

import time
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ui import words
from ui.inputs import PHOTO_SUFFIXES
from ui.place_words import MOST_U_MM, is_in_place, place_line
from ui.plain_text import visible
from ui.telling import say
from vision.errors import PhotoError
from vision.results import NotFound, WrongWay

if TYPE_CHECKING:
    from collections.abc import Iterator

    from vision.place import Move

LOOK_EVERY_S = 0.05
IN_PLACE, TO_MOVE, UNSURE, UNUSABLE = 0, 1, 3, 4


def command(
    before: Annotated[
        Path, typer.Argument(metavar="BEFORE", help="Photo of the chip before lifting.")
    ],
    live: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="LIVE", help="Pictures of the chip being set, in order."
        ),
    ] = None,
    *,
    watch: Annotated[
        Path | None,
        typer.Option("--watch", help="Wait for pictures that appear in this folder."),
    ] = None,
    frames: Annotated[
        int | None,
        typer.Option("--frames", help="Stop after so many pictures.", min=1),
    ] = None,
) -> None:
    """Say picture by picture which way and how far to move the chip."""
    if (watch is None) == (not live):
        message = "give LIVE pictures, or --watch FOLDER and none"
        raise typer.BadParameter(message)
    if watch is not None and not watch.is_dir():
        message = (
            f"{watch}: not a folder. Make it, then let the pictures be saved there"
        )
        raise typer.BadParameter(message)
    pictures = iter(live or ()) if watch is None else watched(watch)
    raise typer.Exit(_place(before, pictures, frames))


def watched(folder: Path) -> Iterator[Path]:
    """Give the newest picture of a folder, then every new one once it is complete.

    Parameters
    ----------
    folder : Path
        Where a microscope or phone saves its pictures.

    Yields
    ------
    Path
        Without end; a picture that is still being written is waited for, and one
        that changes is given again, such as one saved under the same name.
    """
    present = sorted(_pictures(folder).items(), key=lambda item: item[1])
    seen = dict(present[:-1])
    before: dict[Path, tuple[int, int]] = {}
    while True:
        fresh = {p: s for p, s in _pictures(folder).items() if seen.get(p) != s}
        done = [p for p, s in fresh.items() if before.get(p) == s]
        for path in sorted(done, key=lambda p: fresh[p]):
            seen[path] = fresh[path]
            yield path
        before = fresh
        if not done:
            time.sleep(LOOK_EVERY_S)


def _pictures(folder: Path) -> dict[Path, tuple[int, int]]:
    """Time and size of every picture of a folder."""
    found = {}
    try:
        present = list(folder.iterdir())
    except OSError as error:
        message = f"{folder}: cannot be read any more. Make it anew and start again"
        raise typer.BadParameter(message, param_hint="--watch") from error
    for path in present:
        if path.suffix.lower() not in PHOTO_SUFFIXES:
            continue
        try:
            stat = path.stat()
        except OSError:  # gone again
            continue
        if stat.st_size:
            found[path] = (stat.st_mtime_ns, stat.st_size)
    return found


def _place(before: Path, pictures: Iterator[Path], most: int | None) -> int:
    from vision.placing import begin_placing, place_frame

    try:
        state = begin_placing(before)
    except PhotoError as error:
        say(words.error_words(error))
        return UNUSABLE
    last = UNSURE
    for path in islice(pictures, most):
        try:
            move = place_frame(state, path)
        except PhotoError as error:
            say(words.error_words(error))
            last = UNUSABLE
        else:
            typer.echo(f"{visible(path.name)}: {place_line(move)}")
            last = _exit_of(move)
    return last


def _exit_of(move: Move | WrongWay | NotFound) -> int:
    if isinstance(move, WrongWay):
        return TO_MOVE
    if isinstance(move, NotFound) or move.u_mm > MOST_U_MM:
        return UNSURE
    return IN_PLACE if is_in_place(move) else TO_MOVE
