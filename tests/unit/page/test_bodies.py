"""What is sent is read within bounds of size and of time."""

from __future__ import annotations

import asyncio
import threading

import pytest

from ui.page import bodies
from ui.page.bodies import incoming_file
from vision.errors import PhotoError


class Sending:
    """A request whose pieces come as a test wants them."""

    def __init__(self, *pieces, headers=None):
        self.pieces = pieces
        self.headers = headers or {}

    async def stream(self):
        for piece in self.pieces:
            if isinstance(piece, float):
                await asyncio.sleep(piece)
            else:
                yield piece


def received(request, place):
    """Read a request in a loop of its own: another test may hold this thread's."""
    outcome = []

    async def read():
        async with incoming_file(request, place) as path:
            return path.read_bytes()

    def run():
        try:
            outcome.append(asyncio.run(read()))
        except PhotoError as error:
            outcome.append(error)

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    return outcome[0]


def test_a_file_is_whole_and_gone_afterwards(tmp_path):
    assert received(Sending(b"one ", b"two"), tmp_path) == b"one two"
    assert list(tmp_path.iterdir()) == []


def test_a_phone_that_falls_asleep_is_not_waited_for(tmp_path, monkeypatch):
    monkeypatch.setattr(bodies, "LONGEST_PAUSE_S", 0.05)
    error = received(Sending(b"half", 30.0, b"rest"), tmp_path)
    assert "nothing was added" in str(error)
    assert list(tmp_path.iterdir()) == []


def test_a_slow_line_that_keeps_on_is_waited_for(tmp_path, monkeypatch):
    monkeypatch.setattr(bodies, "LONGEST_PAUSE_S", 1.0)
    pieces = [part for _ in range(8) for part in (b"x", 0.2)]
    assert received(Sending(*pieces), tmp_path) == b"x" * 8


@pytest.mark.parametrize("said", ["", "-1", "many", "3"])
def test_a_length_that_is_not_true_does_no_harm(tmp_path, said):
    request = Sending(b"abcdef", headers={"content-length": said})
    assert received(request, tmp_path) == b"abcdef"
