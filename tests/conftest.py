"""Settings for every test."""

from pathlib import Path

import pytest
from hypothesis import settings

# The same cases on every machine, and no failing because a machine is busy.
settings.register_profile("dotward", deadline=None, derandomize=True)
settings.load_profile("dotward")

ONE_AFTER_ANOTHER = ("browser", "photos")
"""Folders whose tests share a server or answers that take long to find."""


def pytest_collection_modifyitems(items):
    """Keep together what one process has to run: a file, or one of those folders."""
    for item in items:
        path = Path(item.path)
        folder = path.parent.name
        group = folder if folder in ONE_AFTER_ANOTHER else str(path)
        item.add_marker(pytest.mark.xdist_group(group))
