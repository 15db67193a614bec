"""Photos of a job: written once, named by their SHA-256, never touched again."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ui.record.claims import SNIFF_BYTES, photo_suffix
from ui.record.files import sweep_parts, sync_folder, told_as_record_error, write_part
from vision.errors import PHOTO_KINDS, PhotoError, RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

PHOTO_FOLDER = "photos"
MAX_PHOTO_BYTES = 200_000_000
_CHUNK_BYTES = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPhoto:
    """A photo in the store; ``suffix`` follows from its content."""

    sha256: str
    suffix: str
    size_bytes: int


def photo_path(folder: Path, sha256: str, suffix: str) -> Path:
    """Say where a stored photo lies.

    Parameters
    ----------
    folder : Path
        The job folder.
    sha256 : str
        Hash of its bytes, 64 hexadecimal digits.
    suffix : str
        File suffix with its dot.

    Returns
    -------
    Path
        The file; it may be missing.

    Raises
    ------
    RecordError
        The hash or the suffix is not one, so it could lead out of the folder.
    """
    plain = len(sha256) == 64 and set(sha256) <= set("0123456789abcdef")
    if not plain or not (suffix[:1] == "." and suffix[1:].isalnum()):
        message = (
            f"{folder.name}: {sha256[:80]!r}{suffix[:20]!r} is not the name of a "
            "stored photo: the record was changed. Restore the folder from a copy."
        )
        raise RecordError(message)
    return folder / PHOTO_FOLDER / f"{sha256}{suffix}"


def store_photo(folder: Path, source: Path) -> StoredPhoto:
    """Copy a photo into a job; call it with the job's lock held.

    Parameters
    ----------
    folder : Path
        The job folder.
    source : Path
        The photo as it came from the camera.

    Returns
    -------
    StoredPhoto
        Safe on the disk.

    Raises
    ------
    PhotoError
        The file is missing, too large or not a photo.
    RecordError
        It could not be stored, or the copy stored before is damaged.
    """
    suffix = _accepted_suffix(source)
    digest = hashlib.sha256()
    size_bytes = 0

    def chunks() -> Iterator[bytes]:
        nonlocal size_bytes
        for chunk in _chunks_of(source):
            digest.update(chunk)
            size_bytes += len(chunk)
            if size_bytes > MAX_PHOTO_BYTES:
                raise PhotoError(_too_large(source, size_bytes))
            yield chunk

    with told_as_record_error(folder.name):
        place = folder / PHOTO_FOLDER
        place.mkdir(exist_ok=True)
        sync_folder(folder)
        sweep_parts(place)
        part = write_part(place, chunks())
        sha256 = digest.hexdigest()
        final = photo_path(folder, sha256, suffix)
        if final.exists():
            part.unlink()
            _refuse_altered(folder, final, sha256)
        else:
            part.chmod(0o444)
            part.rename(final)
            sync_folder(place)
    return StoredPhoto(sha256=sha256, suffix=suffix, size_bytes=size_bytes)


def file_sha256(path: Path) -> str:
    """Hash a file's bytes.

    Parameters
    ----------
    path : Path
        A readable file.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _accepted_suffix(source: Path) -> str:
    try:
        with source.open("rb") as file:
            start = file.read(SNIFF_BYTES)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        message = f"{source.name}: cannot be read ({reason}). Choose another file."
        raise PhotoError(message) from error
    suffix = photo_suffix(start)
    if suffix is None:
        message = (
            f"{source.name}: the content is not a {PHOTO_KINDS} picture, whatever its "
            "name says. Choose the photo itself."
        )
        raise PhotoError(message)
    return suffix


def _chunks_of(source: Path) -> Iterator[bytes]:
    try:
        with source.open("rb") as file:
            while chunk := file.read(_CHUNK_BYTES):
                yield chunk
    except OSError as error:
        message = (
            f"{source.name}: stopped reading ({error.strerror}); nothing was added. "
            "Check the card or cable and add it again."
        )
        raise PhotoError(message) from error


def _too_large(source: Path, size_bytes: int) -> str:
    return (
        f"{source.name}: more than {size_bytes // 1_000_000} MB; at most "
        f"{MAX_PHOTO_BYTES // 1_000_000} MB are taken. Choose a single photo."
    )


def _refuse_altered(folder: Path, final: Path, sha256: str) -> None:
    if file_sha256(final) != sha256:
        message = (
            f"{folder.name}: the stored photo {final.name} was changed since it was "
            "added. Nothing was added; restore the folder from a copy."
        )
        raise RecordError(message)
