"""Closes a job: the report names the head hash, the journal names the report."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from ui.record.events import Sealed
from ui.record.files import (
    sweep_parts,
    sync_folder,
    told_as_record_error,
    write_whole,
)
from ui.record.jobs import add_event, check_rules, load_job
from ui.record.writer import open_for_adding, utc_now

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from ui.record.journal import Entry
    from ui.record.state import JobState

    MakeReports = Callable[[Path, JobState], dict[str, bytes]]

REPORT_FOLDER = "reports"


def seal_job(
    folder: Path,
    *,
    by: str,
    make_reports: MakeReports,
    clock: Callable[[], datetime] = utc_now,
) -> Entry:
    """Write the reports and close the job with an event that names them.

    Parameters
    ----------
    folder : Path
        The job folder.
    by : str
        Who seals.
    make_reports : callable
        Takes folder and state, gives the content of each report by suffix
        (``.html``, ``.pdf``).
    clock : callable, optional
        Gives the aware time that the event claims.

    Returns
    -------
    Entry
        The sealing event.

    Raises
    ------
    RecordError
        Nothing has been decided, a photo was changed, something was added meanwhile,
        or the disk does not take it.
    """
    with open_for_adding(folder, clock=clock):
        pass  # what a cut-off write left behind is set aside before the report
    state = load_job(folder)
    check_rules(folder, state, Sealed(head=state.head, count=state.count, by=by))
    named = {}
    with told_as_record_error(folder.name):
        place = folder / REPORT_FOLDER
        place.mkdir(exist_ok=True)
        sync_folder(folder)
        for suffix, content in make_reports(folder, state).items():
            sha256 = hashlib.sha256(content).hexdigest()
            name = f"report-{state.count}-{sha256[:16]}{suffix}"
            write_whole(place / name, content)
            named[name] = sha256
    event = Sealed(head=state.head, count=state.count, by=by, reports=named)
    entry = add_event(folder, event, clock=clock)
    with told_as_record_error(folder.name):
        sweep_parts(place)
        for name in named:
            (place / name).chmod(0o444)
    return entry
