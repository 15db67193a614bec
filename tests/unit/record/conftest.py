"""A folder of jobs and one job in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.unit.record.helpers import make_photo, open_test_job
from ui.record import add_photo

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "jobs"


@pytest.fixture
def job(home: Path) -> Path:
    return open_test_job(home)


@pytest.fixture
def pair(job: Path, tmp_path: Path) -> Path:
    """Give a job with a before and an after photo (events 2 and 3)."""
    for shade, stage in ((40, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        add_photo(job, photo, stage=stage, by="Tester")
    return job
