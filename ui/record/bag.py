"""Packs a job for someone else: a BagIt bag (RFC 8493) without places.

Layout under ``data/``: ``journal.jsonl`` byte for byte, ``photos/`` with copies
that do not say where they were taken, ``photos.csv`` that ties each copy to the
photo the journal names, ``reports/``, and ``originals/`` only where asked for.
"""

from __future__ import annotations

import csv
import hashlib
import io
import logging
import secrets
import shutil
from typing import TYPE_CHECKING

import bagit

from ui.plain_text import csv_cell, visible
from ui.record.events import PhotoAdded
from ui.record.files import PART_PREFIX, sync_folder, told_as_record_error
from ui.record.jobs import load_job
from ui.record.journal import HEAD_NAME, JOURNAL_NAME
from ui.record.privacy import copy_without_place
from ui.record.seal import REPORT_FOLDER
from ui.record.store import PHOTO_FOLDER, file_sha256, photo_path
from ui.record.verify import verify_job
from ui.record.writer import ASIDE_FOLDER
from vision.errors import PhotoError, RecordError

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record.state import JobState

COLUMNS = (
    "event",
    "stage",
    "board",
    "original_sha256",
    "original_place_removed",
    "copy",
    "copy_sha256",
    "name_as_given",
)


def export_bag(folder: Path, target: Path, *, with_originals: bool = False) -> Path:
    """Pack a job into a new bag and check the bag before it gets its name.

    Parameters
    ----------
    folder : Path
        The job folder; it is only read.
    target : Path
        The bag to be made; it must not exist.
    with_originals : bool, optional
        Also pack the untouched photos, places and all.

    Returns
    -------
    Path
        The bag.

    Raises
    ------
    RecordError
        The job is damaged, the target exists, or the disk does not take it.
    """
    if target.exists():
        message = f"{target.name}: there already. Name a new folder for the export."
        raise RecordError(message)
    found = verify_job(folder)
    if found.problems:
        message = (
            f"{folder.name}: the record is damaged: {'; '.join(found.problems)}. "
            "Nothing was exported; restore the folder from a copy."
        )
        raise RecordError(message)
    hidden = target.parent / f"{PART_PREFIX}{secrets.token_hex(6)}"
    try:
        with told_as_record_error(target.name):
            target.parent.mkdir(parents=True, exist_ok=True)
            _fill(folder, hidden, load_job(folder), with_originals=with_originals)
            _make_bag(hidden, folder.name, found.head, found.count)
            hidden.rename(target)
            sync_folder(target.parent)
    finally:
        shutil.rmtree(hidden, ignore_errors=True)
    return target


def check_bag(path: Path) -> None:
    """Check a bag against its own manifests.

    Parameters
    ----------
    path : Path
        A bag.

    Raises
    ------
    RecordError
        It is no bag, or a file in it is missing, altered or too many.
    """
    try:
        bagit.Bag(str(path)).validate(processes=1)
    except bagit.BagError as error:
        message = f"{path.name}: {visible(str(error))}. Export the job again."
        raise RecordError(message) from error


def _fill(folder: Path, bag: Path, state: JobState, *, with_originals: bool) -> None:
    (bag / PHOTO_FOLDER).mkdir(parents=True)
    shutil.copyfile(folder / JOURNAL_NAME, bag / JOURNAL_NAME)
    shutil.copyfile(folder / HEAD_NAME, bag / HEAD_NAME)
    sealed = {name for seal in state.seals for name in seal.event.reports}
    aside = {f"{noted.event.file_sha256}.bin" for noted in state.set_aside}
    _copy_named(folder / REPORT_FOLDER, bag / REPORT_FOLDER, sealed)
    _copy_named(folder / ASIDE_FOLDER, bag / ASIDE_FOLDER, aside)
    if with_originals:
        (bag / "originals").mkdir()
    rows: list[tuple[object, ...]] = []
    for noted in state.history:
        photo = noted.event
        if not isinstance(photo, PhotoAdded):
            continue
        source = photo_path(folder, photo.sha256, photo.suffix)
        name, sha256 = _copy_photo(source, bag / PHOTO_FOLDER)
        rows.append(
            (
                noted.seq,
                photo.stage,
                photo.role,
                photo.sha256,
                "yes" if photo.has_place else "had none",
                name,
                sha256,
                photo.name,
            )
        )
        if with_originals:
            shutil.copyfile(source, bag / "originals" / source.name)
    (bag / "photos.csv").write_text(_table(rows), encoding="utf-8", newline="")


def _copy_photo(source: Path, place: Path) -> tuple[str, str]:
    try:
        content, suffix = copy_without_place(source)
    except PhotoError as error:
        note = place / f"{source.stem}.not-copied.txt"
        note.write_text(f"{error}\n", encoding="utf-8")
        return note.name, file_sha256(note)
    copy = place / f"{source.stem}.copy{suffix}"
    copy.write_bytes(content)
    return copy.name, hashlib.sha256(content).hexdigest()


def _copy_named(source: Path, target: Path, names: set[str]) -> None:
    for name in sorted(names):
        target.mkdir(exist_ok=True)
        shutil.copyfile(source / name, target / name)


def _table(rows: list[tuple[object, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([csv_cell(cell) for cell in row] for row in rows)
    return out.getvalue()


def _make_bag(path: Path, job: str, head: str, count: int) -> None:
    logging.getLogger("bagit").setLevel(logging.ERROR)
    info = {
        "External-Identifier": job,
        "Internal-Sender-Description": f"{count} events, head hash {head}",
    }
    bagit.make_bag(str(path), info, checksums=["sha256"])
    check_bag(path)
