"""A folder of jobs for the review tests."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "jobs"
