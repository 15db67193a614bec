"""What the job commands share: their common options and how they answer."""

from __future__ import annotations

import contextlib
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ui.inputs import named_path
from ui.plain_text import visible
from ui.telling import say as say_beside
from ui.telling import tell
from vision.errors import RecordError, VisionError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ui.record import Entry

EXIT_FAULT, EXIT_UNSURE, EXIT_UNUSABLE = 1, 3, 4


def usual_home() -> Path:
    """Give the folder of all jobs where nobody names another."""
    return Path.home() / "dotward-jobs"


Home = Annotated[
    Path,
    typer.Option(
        "--jobs",
        envvar="DOTWARD_JOBS",
        parser=named_path,
        metavar="FOLDER",
        help="Folder of all jobs.",
        default_factory=usual_home,
    ),
]
Job = Annotated[str, typer.Argument(help="Job number, such as 20260131-k7q2mx.")]
USUAL_ROLE = "by itself the patient before lifting, then the board that gets the chip"
By = Annotated[str, typer.Option("--by", help="Who does this.", envvar="DOTWARD_BY")]


def event_number(text: str) -> int:
    """Read the number of an event, as the commands of a job print it."""
    if not (text.isascii() and text.isdigit() and int(text[:9]) > 0):
        message = (
            f"{text[:40]!r} is no event; write the number that was printed when it was "
            "recorded, such as 3"
        )
        raise typer.BadParameter(message)
    return int(text[:9])


def day(text: str) -> datetime:
    """Read a day, written year, month, day."""
    try:
        return datetime.strptime(text.strip(), "%Y-%m-%d")
    except ValueError:
        message = f"{text[:40]!r} is no day; write it such as 2031-03-02"
        raise typer.BadParameter(message) from None


def existing_home(home: Path) -> Path:
    """Give the folder of all jobs back if there is something to list.

    Parameters
    ----------
    home : Path
        As named; the usual one may still have to be made, and lists nothing.

    Returns
    -------
    Path

    Raises
    ------
    RecordError
        It is not there, or it is a file.
    """
    if home.is_dir() or (home == usual_home() and not home.exists()):
        return home
    seen = "this is a file" if home.exists() else "there is no such folder"
    message = (
        f"{home}: {seen}; the folder of all jobs is needed. Correct --jobs or "
        "DOTWARD_JOBS; the first `dotward job new` makes it."
    )
    raise RecordError(message)


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
