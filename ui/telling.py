"""What a command says: its exit code, its answer on the screen, its errors."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from enum import IntEnum
from typing import TYPE_CHECKING, Any, TextIO

from ui import words
from ui.plain_text import visible

if TYPE_CHECKING:
    from collections.abc import Iterable


class Exit(IntEnum):
    """What the exit code says."""

    NOTHING_AGAINST = 0
    FAULT = 1
    USAGE = 2
    UNSURE = 3
    UNUSABLE = 4


STATE_EXIT = {"ok": Exit.NOTHING_AGAINST, "fault": Exit.FAULT, "unsure": Exit.UNSURE}
LEAST_COLUMNS = 20
"""A terminal that says it is narrower does not know its width."""
WORST_FIRST = (Exit.UNUSABLE, Exit.FAULT, Exit.UNSURE, Exit.NOTHING_AGAINST)


def worst(exits: Iterable[Exit]) -> Exit:
    """Choose the exit code of several answers."""
    seen = set(exits)
    return next((code for code in WORST_FIRST if code in seen), Exit.NOTHING_AGAINST)


def print_json(data: dict[str, Any]) -> None:
    """Print plain data on a line of its own."""
    print(json.dumps(data, allow_nan=False), flush=True)


def print_answer(title: str, answer: words.Answer, more: Iterable[str] = ()) -> None:
    """Print an answer under the name of its photo, and further lines in it."""
    told = [
        answer.headline,
        *answer.details,
        *more,
        *(f"Next: {step}" for step in answer.next_steps),
        *(f"Caution: {caution}" for caution in answer.cautions),
    ]
    print(visible(title))
    for line in told:
        tell(f"  {visible(line)}")
    print(flush=True)


def tell_error(error: Exception, line: dict[str, Any] | None) -> None:
    """Say what is wrong; ``line`` is the JSON line that stands for the answer."""
    if line is not None:
        print_json(line)
    say(words.error_words(error))


def say(text: str) -> None:
    """Print beside the answers, on stderr."""
    print(fitted(visible(text), sys.stderr), file=sys.stderr, flush=True)


def tell(text: str) -> None:
    """Print an answer, or a part of one, broken at the width of a terminal."""
    print(fitted(text, sys.stdout), flush=True)


def fitted(text: str, stream: TextIO) -> str:
    """Break lines at the width of the terminal that they go to.

    Parameters
    ----------
    text : str
        One line or several.
    stream : file
        Where it is printed.

    Returns
    -------
    str
        Every part of a line as far in as the line; whole lines where the stream is no
        terminal, so that other programs find each sentence on a line of its own.
    """
    if not stream.isatty():
        return text
    # A line that fills its terminal is followed by an empty one on some of them.
    width = max(shutil.get_terminal_size().columns - 1, LEAST_COLUMNS)
    return "\n".join(_broken(line, width) for line in text.split("\n"))


def _broken(line: str, width: int) -> str:
    parts = textwrap.wrap(
        line,
        width,
        subsequent_indent=line[: len(line) - len(line.lstrip())],
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(parts)
