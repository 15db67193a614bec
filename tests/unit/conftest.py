"""What several unit tests share."""

from __future__ import annotations

import pytest

from tests.unit.side_marks import look_at_marks
from vision import networks


@pytest.fixture
def by_marks(monkeypatch):
    """Let marks in a photo stand for what the network says of a row from the side."""
    monkeypatch.setattr(networks, "run", look_at_marks)
