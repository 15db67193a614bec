"""What a command says: its exit code, its answer on the screen, its errors."""

from __future__ import annotations

import json
import sys
from enum import IntEnum
from typing import TYPE_CHECKING, Any

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
        print(f"  {visible(line)}")
    print(flush=True)


def tell_error(error: Exception, line: dict[str, Any] | None) -> None:
    """Say what is wrong; ``line`` is the JSON line that stands for the answer."""
    if line is not None:
        print_json(line)
    say(words.error_words(error))


def say(text: str) -> None:
    """Print beside the answers, on stderr."""
    print(visible(text), file=sys.stderr, flush=True)
