"""The worst of several states."""

from __future__ import annotations

import pytest

from vision.results import worst_state


@pytest.mark.parametrize(
    ("states", "worst"),
    [
        (("ok", "ok"), "ok"),
        (("ok", "unsure"), "unsure"),
        (("unsure", "fault", "ok"), "fault"),
        ((), "unsure"),
    ],
)
def test_the_worst_state_counts_and_nothing_measured_is_never_ok(states, worst):
    assert worst_state(states) == worst
    assert worst_state(iter(reversed(states))) == worst
