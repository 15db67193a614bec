"""What every route and screen of the page works with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from ui.page.worker import Worker


@dataclass(frozen=True, slots=True, kw_only=True)
class PageContext:
    """Where the jobs lie, who looks at photos, and room for what can be made anew.

    ``cache`` holds pictures for showing and files on their way in; it may be
    deleted whenever the page does not run.
    """

    home: Path
    cache: Path
    worker: Worker
    lan: bool = False

    @property
    def incoming(self) -> Path:
        """Folder for files on their way in."""
        return self.cache / "incoming"
