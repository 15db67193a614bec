"""What the worker does: prepares pictures, judges, writes reports, seals."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from ui.checker import tool_checker
from ui.own_limits import own_limits
from ui.page.pictures import picture_folder, save_tiles, save_view, warped
from ui.record import check_job, load_job, seal_job
from ui.record.checking import unanswered
from ui.record.files import told_as_record_error, write_whole
from vision.errors import ModelError
from vision.load import load_photo
from vision.networks import load_networks

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from ui.record import Checker
    from ui.record.checking import ByHand, Rows
    from ui.record.events import Stage

    About = dict[str, Any]


class Tell(Protocol):
    """Says how far the work has come."""

    def __call__(self, stage: str, done: int = 0, of: int = 0) -> None:
        """Name the stage that begins, and how many of all steps are done."""
        ...


def prepare() -> None:
    """Load what every task needs, before the first one comes."""
    _checker()
    # A network that cannot be loaded is told with the photo that needs it.
    with contextlib.suppress(ModelError):
        load_networks()


def view(about: About, tell: Tell) -> None:
    """Make the view of a photo."""
    tell("picture")
    save_view(_folder(about), _pixels(about["photo"]))


def tiles(about: About, tell: Tell) -> None:
    """Make the tiles of a photo."""
    tell("picture")
    save_tiles(_folder(about), _pixels(about["photo"]))
    _pixels.cache_clear()


def pair(about: About, tell: Tell) -> None:
    """Lay an after photo over its before photo, as view and tiles."""
    tell("overlay")
    width_px, height_px = about["size_px"]
    pixels = warped(_pixels(about["photo"]), about["matrix"], (width_px, height_px))
    save_view(_folder(about), pixels)
    save_tiles(_folder(about), pixels)
    _pixels.cache_clear()


def check(about: About, tell: Tell) -> int:
    """Judge every photo and pair of a job that has no answer yet."""
    folder = Path(about["folder"])
    tell("start")
    limits = own_limits(folder.parent)
    changed = 0 if limits is None else limits.stat().st_mtime_ns
    checker = _checker(limits, changed)
    by_limits = bool(about.get("by_limits"))
    in_force = checker.made_with if by_limits else None
    steps = len(unanswered(load_job(folder), limits=in_force))
    telling = _telling(checker, steps, tell)
    return len(check_job(folder, telling, by_limits=by_limits))


def report(about: About, tell: Tell) -> None:
    """Write the report of a job as it stands."""
    # fpdf and its typeface are slow to load and only reports need them.
    from ui.report import make_reports  # noqa: PLC0415

    tell("report")
    folder, out = Path(about["folder"]), Path(about["out"])
    with told_as_record_error(folder.name):
        for suffix, content in make_reports(folder, load_job(folder)).items():
            write_whole(out.with_suffix(suffix), content)


def seal(about: About, tell: Tell) -> int:
    """Write the reports into a job and close it."""
    from ui.report import make_reports  # noqa: PLC0415

    tell("seal")
    folder = Path(about["folder"])
    return seal_job(folder, by=about["by"], make_reports=make_reports).seq


TASKS: dict[str, Callable[[About, Tell], Any]] = {
    "view": view,
    "tiles": tiles,
    "pair": pair,
    "check": check,
    "report": report,
    "seal": seal,
}


@lru_cache(maxsize=1)
def _checker(limits: Path | None = None, changed_ns: int = 0) -> Checker:
    """Give one checker as long as the shop's limits stay as they are."""
    return tool_checker(limits)


def _folder(about: About) -> Path:
    return picture_folder(Path(about["cache"]), about["key"])


@lru_cache(maxsize=1)
def _pixels(path: str) -> np.ndarray:
    return load_photo(path).pixels


def _telling(checker: Checker, steps: int, tell: Tell) -> Checker:
    """Say which photo is looked at while the checker looks at it."""
    begun = count()

    def say(what: str) -> None:
        step = next(begun)  # an answer may make further ones wait
        tell(what, step, max(steps, step + 1))

    def look(
        path: Path,
        *,
        stage: Stage,
        by_hand: ByHand,
        like: str | None,
        leads: tuple[int, ...],
    ) -> About:
        say(f"look {stage}")
        return checker.look(path, stage=stage, by_hand=by_hand, like=like, leads=leads)

    def compare(
        before: Path,
        after: Path,
        *,
        by_hand: tuple[ByHand, ByHand],
        lands: Path | None,
        side: Rows,
    ) -> About:
        say("compare")
        return checker.compare(before, after, by_hand=by_hand, lands=lands, side=side)

    return replace(checker, look=look, compare=compare)
