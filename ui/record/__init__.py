"""The record of a job: one folder, photos written once, a chained journal.

Everything else, states, lists, reports and exports, is derived from the two.
"""

from ui.record.bag import check_bag, export_bag
from ui.record.checking import Checker, check_job
from ui.record.comparisons import uncovered_corrections
from ui.record.events import (
    DECISIONS,
    ROLES,
    STAGES,
    Checked,
    Corrected,
    Decided,
    Opened,
    Outcome,
    PhotoAdded,
    Reviewed,
    Sealed,
    SetAside,
    Withdrawn,
)
from ui.record.index import JobRow, forget_index, list_jobs
from ui.record.jobs import (
    add_event,
    add_photo,
    job_folder,
    load_job,
    new_job_name,
    open_job,
)
from ui.record.journal import Entry, Head
from ui.record.seal import seal_job
from ui.record.state import JobState, Noted
from ui.record.store import photo_path
from ui.record.verify import Verification, verify_job

__all__ = [
    "DECISIONS",
    "ROLES",
    "STAGES",
    "Checked",
    "Checker",
    "Corrected",
    "Decided",
    "Entry",
    "Head",
    "JobRow",
    "JobState",
    "Noted",
    "Opened",
    "Outcome",
    "PhotoAdded",
    "Reviewed",
    "Sealed",
    "SetAside",
    "Verification",
    "Withdrawn",
    "add_event",
    "add_photo",
    "check_bag",
    "check_job",
    "export_bag",
    "forget_index",
    "job_folder",
    "list_jobs",
    "load_job",
    "new_job_name",
    "open_job",
    "photo_path",
    "seal_job",
    "uncovered_corrections",
    "verify_job",
]
