"""What the system tells of processes, for tests that stop and kill."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

WAIT_S = 20


def eventually(look):
    """Wait until something is true, and give it."""
    end = time.monotonic() + WAIT_S
    while not (found := look()):
        assert time.monotonic() < end, "it never came to pass"
        time.sleep(0.05)
    return found


def children_of(number):
    """Name the processes that a process started, by whichever of its threads."""
    threads = list(Path(f"/proc/{number}/task").glob("*/children"))
    if not threads:
        pytest.skip("this system does not tell which processes a process started")
    return [int(n) for path in threads for n in path.read_text().split()]


def is_running(number):
    try:
        state = Path(f"/proc/{number}/stat").read_text()
    except OSError:
        return False
    return state.rsplit(")", 1)[1].split()[0] != "Z"
