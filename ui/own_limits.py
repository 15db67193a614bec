"""A shop's own limits: one file in the folder of its jobs."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

OWN_LIMITS = "limits.toml"


def own_limits(jobs: Path) -> Path | None:
    """Find the shop's own limits in the folder of its jobs, where there are any."""
    file = jobs / OWN_LIMITS
    return file if file.exists() else None
