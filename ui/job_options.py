"""What the job commands share: their common options and how they answer."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ui.plain_text import visible
from ui.telling import say as say_beside
from ui.telling import tell
from vision.errors import VisionError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ui.record import Entry

EXIT_FAULT, EXIT_UNSURE, EXIT_UNUSABLE = 1, 3, 4

Home = Annotated[
    Path,
    typer.Option(
        "--jobs",
        envvar="DOTWARD_JOBS",
        help="Folder of all jobs.",
        default_factory=lambda: Path.home() / "dotward-jobs",
    ),
]
Job = Annotated[str, typer.Argument(help="Job number, such as 20260131-k7q2mx.")]
USUAL_ROLE = "by itself the patient before lifting, then the board that gets the chip"
By = Annotated[str, typer.Option("--by", help="Who does this.", envvar="DOTWARD_BY")]


@contextlib.contextmanager
def told() -> Iterator[None]:
    """Say an error of ours in one line and end with its exit code."""
    try:
        yield
    except VisionError as error:
        say_beside(str(error))
        raise typer.Exit(EXIT_UNUSABLE) from error


def say(text: str) -> None:
    """Print a line with nothing hidden in it."""
    tell(visible(text))


def say_entry(entry: Entry) -> None:
    """Print an event as it was recorded."""
    say(f"event {entry.seq} {entry.kind}, head {entry.hash}")


def one_of(value: str, name: str, known: tuple[str, ...]) -> str:
    """Give the value back if it is known.

    Parameters
    ----------
    value : str
        What was typed.
    name : str
        What it stands for.
    known : tuple of str
        What may be typed.

    Returns
    -------
    str
        The value.

    Raises
    ------
    BadParameter
        It is none of them; names them all.
    """
    if value not in known:
        message = f"{name} is {value[:80]!r}; one of {', '.join(known)} is needed."
        raise typer.BadParameter(message)
    return value
