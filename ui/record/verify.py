"""Looks at every piece of a job and names what is not as it was recorded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ui.record.events import PhotoAdded
from ui.record.files import PART_PREFIX
from ui.record.journal import Head, Journal, head_problems, read_head, read_journal
from ui.record.pieces import file_problems, photo_problems
from ui.record.rules import refusal
from ui.record.seal import REPORT_FOLDER
from ui.record.state import JobState, derive_state, read_events, state_of
from ui.record.store import PHOTO_FOLDER
from ui.record.writer import ASIDE_FOLDER
from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """What ``verify_job`` found.

    ``problems`` say that the record is not what was written; ``remarks`` are
    worth knowing and do not.
    """

    count: int
    head: str
    problems: tuple[str, ...]
    remarks: tuple[str, ...]


def verify_job(folder: Path, *, expected: Head | None = None) -> Verification:
    """Check journal, photos, reports and set-aside pieces of a job.

    Parameters
    ----------
    folder : Path
        The job folder; it is only read.
    expected : Head, optional
        Count and head hash from a printed report: shows what the folder alone
        cannot, that its end was cut off or all of it was written anew.

    Returns
    -------
    Verification
        Empty ``problems`` if nothing speaks against the record.

    Raises
    ------
    RecordError
        There is no journal to read.
    """
    head = read_head(folder)
    journal = read_journal(folder)
    problems = [*journal.damage, *head_problems(journal, head, "noted")]
    if expected is not None:
        problems += head_problems(journal, expected, "on the report given")
    remarks = list(_journal_remarks(journal))
    try:
        state = derive_state(journal.entries)
    except RecordError as error:
        if not journal.damage:
            problems.append(str(error))
    else:
        problems += _state_problems(folder, journal, state)
        remarks += _unnamed_files(folder, state)
    return Verification(
        count=len(journal.entries),
        head=journal.head,
        problems=tuple(dict.fromkeys(problems)),
        remarks=tuple(remarks),
    )


def _journal_remarks(journal: Journal) -> Iterator[str]:
    if journal.torn:
        yield (
            f"{len(journal.torn)} bytes after the last event are the rest of a write "
            "that was cut off; the next event sets them aside"
        )
    latest = ""
    for entry in journal.entries:
        if entry.at < latest:
            yield (
                f"the clock went back before event {entry.seq} ({entry.at}); the order "
                "of events does not depend on it"
            )
        latest = entry.at


def _state_problems(folder: Path, journal: Journal, state: JobState) -> Iterator[str]:
    if state.job != folder.name:
        yield f"the folder is named {folder.name} but holds the job {state.job}"
    yield from photo_problems(folder, state)
    for seal in state.seals:
        yield from head_problems(
            journal,
            Head(count=seal.event.count, hash=seal.event.head),
            f"in the seal at event {seal.seq}",
        )
        if seal.event.count != seal.seq - 1:
            yield f"the seal at event {seal.seq} does not cover the event before it"
        for name, sha256 in seal.event.reports.items():
            place = folder / REPORT_FOLDER / name.replace("/", "_")
            yield from file_problems(place, sha256, f"the report {name}")
    for aside in state.set_aside:
        place = folder / ASIDE_FOLDER / f"{aside.event.file_sha256}.bin"
        yield from file_problems(
            place, aside.event.file_sha256, f"the piece set aside at event {aside.seq}"
        )
    if not journal.damage:
        yield from _rule_problems(journal)


def _rule_problems(journal: Journal) -> Iterator[str]:
    """Replay the job: an event the rules refuse cannot have been added by this tool."""
    history = read_events(journal.entries)
    for index in range(1, len(history)):
        state = state_of(history[:index], journal.entries[index - 1].hash)
        reason = refusal(state, history[index].event)
        if reason is not None:
            yield f"event {history[index].seq} breaks the rules of a job: {reason}"


def _unnamed_files(folder: Path, state: JobState) -> Iterator[str]:
    named = {
        f"{noted.event.sha256}{noted.event.suffix}"
        for noted in state.history
        if isinstance(noted.event, PhotoAdded)
    }
    named |= {name for seal in state.seals for name in seal.event.reports}
    named |= {f"{aside.event.file_sha256}.bin" for aside in state.set_aside}
    for place in (PHOTO_FOLDER, REPORT_FOLDER, ASIDE_FOLDER):
        if not (folder / place).is_dir():
            continue
        for path in sorted((folder / place).iterdir()):
            if path.name.startswith(PART_PREFIX):
                yield f"{place}/{path.name} is the rest of a write that was cut off"
            elif path.name not in named:
                yield f"{place}/{path.name} is not named by any event"
