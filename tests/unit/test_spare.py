"""Work on cores that have nothing to do."""

from __future__ import annotations

import threading

import pytest

from vision import spare
from vision.spare import begin, each, start_aside


@pytest.fixture(autouse=True)
def two_cores(monkeypatch):
    monkeypatch.setattr(spare, "CORES", 2)
    monkeypatch.setattr(spare, "_SPARE", threading.BoundedSemaphore(1))


def test_work_is_done_aside_and_gives_its_result():
    begun = start_aside(pow, 3, 4)
    assert begun is not None
    assert begun.result() == 81


def test_where_every_core_works_nothing_is_started():
    go_on = threading.Event()
    begun = start_aside(go_on.wait, 5)
    assert begun is not None
    assert start_aside(pow, 2, 2) is None
    go_on.set()
    assert begun.result()
    again = start_aside(pow, 2, 2)
    assert again is not None
    assert again.result() == 4


def test_what_fails_aside_fails_where_its_result_is_asked_for_and_leaves_the_core():
    begun = start_aside(pow, 0, -1)
    assert begun is not None
    with pytest.raises(ZeroDivisionError):
        begun.result()
    assert start_aside(pow, 2, 3) is not None


def test_one_core_alone_does_everything_in_turn(monkeypatch):
    monkeypatch.setattr(spare, "CORES", 1)
    assert start_aside(pow, 2, 2) is None


def test_work_that_is_wanted_later_is_done_then_where_no_core_was_free():
    go_on, done = threading.Event(), []
    begun = begin(go_on.wait, 5)
    later = begin(done.append, 1)
    assert done == []
    later()
    assert done == [1]
    go_on.set()
    assert begun()


def test_a_few_things_are_done_side_by_side_and_stay_in_order():
    meet = threading.Barrier(2, timeout=5)

    def square(n: int) -> int:
        if n < 2:
            meet.wait()
        return n * n

    assert each(square, (0, 1, 2, 3)) == [0, 1, 4, 9]
    assert each(square, ()) == []
