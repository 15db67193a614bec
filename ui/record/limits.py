"""By which limits a job was compared, and by which it would be now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.own_limits import own_limits
from ui.record.comparisons import is_pair_answer
from ui.record.store import file_sha256
from vision.errors import RecordError
from vision.limits import LIMITS_FILE

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record.events import Checked
    from ui.record.state import JobState

LIMITS = ("limits", "own limits")
"""Names in ``made_with`` of what a comparison was judged by."""


def limits_in_force(jobs: Path) -> dict[str, str]:
    """Give the limits that a comparison would be judged by now.

    Parameters
    ----------
    jobs : Path
        The folder of all jobs, where a shop's own limits may lie.

    Returns
    -------
    dict
        SHA-256 by the names that an answer records; empty for a file that cannot be
        read.
    """
    own = own_limits(jobs)
    files = {"limits": LIMITS_FILE} | ({} if own is None else {"own limits": own})
    return {name: _sha256(path) for name, path in files.items()}


def is_by_other_limits(checked: Checked, limits: dict[str, str]) -> bool:
    """Tell whether photos were compared by other limits than those given.

    Parameters
    ----------
    checked : Checked
        An answer; about one photo alone it rests on no limits of a shop.
    limits : dict
        The SHA-256 of limits by name; other names are passed over.

    Returns
    -------
    bool
        False where the answer does not say by which limits it was given.
    """
    by = {name: checked.made_with[name] for name in LIMITS if name in checked.made_with}
    now = {name: limits[name] for name in LIMITS if name in limits}
    return is_pair_answer(checked) and bool(by) and by != now


def refuse_other_limits(folder: Path, state: JobState) -> None:
    """Refuse to let a board go by limits that have changed since it was judged.

    Parameters
    ----------
    folder : Path
        The job folder, in the folder of all jobs.
    state : JobState
        The job; what is sealed stays as it was judged.

    Raises
    ------
    RecordError
        A comparison that counts was judged by other limits than those in force.
    """
    if state.seals:
        return
    now = limits_in_force(folder.parent)
    for pair in state.answer_pairs:
        if is_by_other_limits(pair.event, now):
            message = (
                f"{folder.name}: the comparison at event {pair.seq} was judged by "
                "other limits than those now in force, so no-fault-seen cannot rest on "
                f"it. Run `dotward job check {folder.name}` first."
            )
            raise RecordError(message)


def _sha256(path: Path) -> str:
    try:
        return file_sha256(path)
    except OSError:
        return ""
