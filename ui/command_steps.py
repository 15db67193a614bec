"""What several commands do alike: try, draw, show how far it is."""

from __future__ import annotations

import logging
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn, TypeVar

import typer

from ui.inputs import named_path
from ui.telling import Exit, say, tell_error
from ui.words import error_words
from vision.errors import VisionError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from vision.pinouts import Pinout

T = TypeVar("T")
log = logging.getLogger("dotward")

MANY_PHOTOS = 3

DrawFolder = Annotated[
    Path | None,
    typer.Option(
        "--draw",
        parser=named_path,
        metavar="FOLDER",
        help="Write pictures with the answer drawn into this folder.",
    ),
]


def draw(save: Callable[[], Iterable[Path]]) -> list[Exit]:
    """Write pictures and say where; the exit codes of what could not be written."""
    saved = attempt("picture", save)
    if isinstance(saved, Exception):
        tell_error(saved, None)
        return [Exit.UNUSABLE]
    for path in saved:
        say(f"drawn: {path}")
    return []


def attempt(what: str, work: Callable[[], T]) -> T | Exception:
    """Do the work; give the error instead of raising it, so that the rest goes on."""
    try:
        return work()
    except BrokenPipeError:  # nobody reads the answers any more
        raise
    except (VisionError, OSError) as error:
        return error
    except Exception as error:  # one photo must not stop the others
        log.debug("%s: not foreseen", what, exc_info=error)
        return error


def made_folder(folder: Path | None, option: str = "--draw") -> Path | None:
    """Make the folder that a person named with an option."""
    if folder is None:
        return None
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = (
            f"{folder}: cannot be made: {error.strerror}. Name a folder that is there "
            "or that may be made"
        )
        raise typer.BadParameter(message, param_hint=option) from None
    return folder


def with_progress(items: list[T], doing: str) -> Iterator[T]:
    """Give the items one by one, with a bar on stderr when they are many."""
    if len(items) < MANY_PHOTOS or not sys.stderr.isatty():
        yield from items
        return
    from rich.console import Console
    from rich.progress import track

    yield from track(items, doing, console=Console(stderr=True), transient=True)


def refuse_pinout(json_option: str) -> NoReturn:
    """Refuse names of pins where nothing that is given out would hold them."""
    message = (
        f"it names pins in the answer as text, and {json_option} has no place for "
        "them: leave one of the two out"
    )
    raise typer.BadParameter(message, param_hint="--pinout")


def find_pinout(name: str | None) -> Pinout | None:
    """Find the pin-out that a person named.

    Parameters
    ----------
    name : str or None
        A built-in table or a TOML file.

    Returns
    -------
    Pinout or None
        None where none was named.

    Raises
    ------
    typer.BadParameter
        There is no such table, or it cannot be read or breaks its rules.
    """
    if name is None:
        return None
    from vision.pinouts import load_pinout

    try:
        return load_pinout(name)
    except (VisionError, OSError) as error:
        raise typer.BadParameter(error_words(error), param_hint="--pinout") from None
