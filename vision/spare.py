"""Work for processor cores that have nothing to do."""

from __future__ import annotations

import os
import threading
from concurrent.futures import ThreadPoolExecutor
from functools import cache, partial
from typing import TYPE_CHECKING, ParamSpec, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from concurrent.futures import Future

Args = ParamSpec("Args")
Made = TypeVar("Made")
Given = TypeVar("Given")

CORES = min(4, os.cpu_count() or 1)
"""More gain little, and the bench computer has other work."""
_SPARE = threading.BoundedSemaphore(max(CORES - 1, 1))


@cache
def _threads() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(CORES)


def start_aside(
    work: Callable[Args, Made], *args: Args.args, **kwargs: Args.kwargs
) -> Future[Made] | None:
    """Start work on a core that has nothing to do.

    Parameters
    ----------
    work : callable
    *args, **kwargs
        What it is called with.

    Returns
    -------
    Future or None
        None where every core is at work already: do it here, or later.
    """
    if CORES == 1 or not _SPARE.acquire(blocking=False):
        return None

    def work_and_leave() -> Made:
        try:
            return work(*args, **kwargs)
        finally:
            _SPARE.release()

    return _threads().submit(work_and_leave)


def begin(
    work: Callable[Args, Made], *args: Args.args, **kwargs: Args.kwargs
) -> Callable[[], Made]:
    """Begin work that is wanted later.

    Parameters
    ----------
    work : callable
    *args, **kwargs
        What it is called with.

    Returns
    -------
    callable
        Gives what came of it; where every core was at work it does it only then.
    """
    begun = start_aside(work, *args, **kwargs)
    return begun.result if begun else partial(work, *args, **kwargs)


def each(work: Callable[[Given], Made], given: Sequence[Given]) -> list[Made]:
    """Do the same work for each of a few things, side by side where cores are free.

    Parameters
    ----------
    work : callable
    given : sequence

    Returns
    -------
    list
        What came of each, in order.
    """
    others = [begin(work, one) for one in given[1:]]
    return [*map(work, given[:1]), *(ready() for ready in others)]
