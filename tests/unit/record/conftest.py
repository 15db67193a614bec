"""A folder of jobs and one job in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.unit.record.helpers import open_test_job

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "jobs"


@pytest.fixture
def job(home: Path) -> Path:
    return open_test_job(home)
