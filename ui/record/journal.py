"""The append-only journal of a job: one JSON line an event, chained by SHA-256.

A line is the canonical JSON of ``seq at kind data prev hash``.  ``hash`` is the
SHA-256 of the same JSON without ``hash``; ``prev`` is the hash of the line before
(64 zeros for the first).  Order is ``seq``; ``at`` is what the clock claimed.

A chain makes later edits visible; it cannot show that the newest lines were cut
off or that someone rebuilt all of it.  For that the head hash and the count are
kept beside the journal and printed on the report (Crosby and Wallach 2009,
"Efficient data structures for tamper-evident logging", as summarised elsewhere).
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from vision.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

JOURNAL_NAME = "journal.jsonl"
HEAD_NAME = "head.json"
GENESIS = "0" * 64
_FIELDS = frozenset({"seq", "at", "kind", "data", "prev", "hash"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the journal.  ``data`` is the event's JSON object."""

    seq: int
    at: str
    kind: str
    data: dict[str, Any]
    prev: str
    hash: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """What a journal file holds.

    ``damage`` names every line that is not what was written; ``torn`` is what
    follows the last whole line: the rest of a write that was cut off.
    ``whole_bytes`` is the length of the file without it.
    """

    entries: tuple[Entry, ...]
    torn: bytes
    whole_bytes: int
    damage: tuple[str, ...]

    @property
    def head(self) -> str:
        """The hash of the newest entry."""
        return self.entries[-1].hash if self.entries else GENESIS


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """How many events a journal had at some time and the hash of the last."""

    count: int
    hash: str


def canonical(value: object) -> bytes:
    """Give the one way a JSON value is written here: sorted, ASCII, one line.

    Parameters
    ----------
    value : object
        JSON value without NaN or infinity.

    Returns
    -------
    bytes
        ASCII; lone surrogates and line separators are escaped.

    Raises
    ------
    RecordError
        The value holds something JSON has no word for.
    """
    try:
        text = json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)
    except (TypeError, ValueError) as error:
        message = f"event: {error}; only plain JSON can be recorded. Report this fault."
        raise RecordError(message) from error
    return text.encode("ascii")


def next_entry(head: Head, kind: str, data: dict[str, Any], at: str) -> Entry:
    """Chain a new event to the newest one.

    Parameters
    ----------
    head : Head
        Count and hash of the journal as it stands.
    kind : str
        Event kind.
    data : dict
        Event fields as JSON values.
    at : str
        Time claimed by the clock, ISO 8601 UTC.

    Returns
    -------
    Entry
        With its own hash filled in.
    """
    bare = Entry(
        seq=head.count + 1, at=at, kind=kind, data=data, prev=head.hash, hash=""
    )
    return replace(bare, hash=content_hash(bare))


def line_of(entry: Entry) -> bytes:
    """Give the bytes of an entry's line, line feed included.

    Parameters
    ----------
    entry : Entry
        A chained entry.

    Returns
    -------
    bytes
        One line.
    """
    return canonical({**_body(entry), "hash": entry.hash}) + b"\n"


def read_journal(folder: Path) -> Journal:
    """Read a job's journal and check the chain line by line.

    Parameters
    ----------
    folder : Path
        The job folder.

    Returns
    -------
    Journal
        Every readable entry, and what is wrong with the others.

    Raises
    ------
    RecordError
        There is no journal or it cannot be read at all.
    """
    path = folder / JOURNAL_NAME
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        message = (
            f"{folder.name}: no {JOURNAL_NAME} in this folder, so it is not a job. "
            "Check the job number, or restore the folder from a copy."
        )
        raise RecordError(message) from None
    except OSError as error:
        message = (
            f"{folder.name}: the journal cannot be read ({error.strerror}). "
            "Check the disk and the folder's permissions."
        )
        raise RecordError(message) from error
    return parse_journal(content)


def parse_journal(content: bytes) -> Journal:
    """Read the bytes of a journal; see ``read_journal``.

    Parameters
    ----------
    content : bytes
        The whole file.

    Returns
    -------
    Journal
        Entries, torn end and damage.
    """
    whole, torn = _split_torn(content)
    entries: list[Entry] = []
    damage: list[str] = []
    for line_no, line in enumerate(whole.split(b"\n")[:-1], start=1):
        entry = _parse_line(line)
        try:
            is_whole = entry is not None and (
                content_hash(entry) == entry.hash and line_of(entry)[:-1] == line
            )
        except RecordError:  # holds NaN
            entry = None
        if entry is None:
            damage.append(f"line {line_no} is not an event: it was changed")
            continue
        if not is_whole:
            damage.append(
                f"event {entry.seq} (line {line_no}) was changed: "
                "its hash does not fit its content"
            )
        entries.append(entry)
    damage.extend(_sequence_damage(entries))
    return Journal(
        entries=tuple(entries),
        torn=torn,
        whole_bytes=len(whole),
        damage=tuple(damage),
    )


def content_hash(entry: Entry) -> str:
    """Compute the hash an entry's content asks for.

    Parameters
    ----------
    entry : Entry
        Any entry.

    Returns
    -------
    str
        SHA-256, 64 hexadecimal digits.
    """
    return hashlib.sha256(canonical(_body(entry))).hexdigest()


def read_head(folder: Path) -> Head | None:
    """Read the count and hash that are kept beside the journal.

    Parameters
    ----------
    folder : Path
        The job folder.

    Returns
    -------
    Head or None
        None where the file is missing or unreadable.
    """
    try:
        value = json.loads((folder / HEAD_NAME).read_bytes())
        return Head(count=int(value["count"]), hash=str(value["hash"]))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def head_problems(journal: Journal, head: Head | None, where: str) -> Iterator[str]:
    """Hold a journal against a count and hash that were noted elsewhere.

    Parameters
    ----------
    journal : Journal
        The journal as it stands.
    head : Head or None
        What was noted; read it before the journal, which may grow meanwhile.
    where : str
        Where it was noted, for the sentence.

    Yields
    ------
    str
        A sentence for each thing that does not fit.
    """
    if head is None:
        yield f"{HEAD_NAME} is missing or unreadable: it would show a cut-off end"
        return
    by_seq = {entry.seq: entry.hash for entry in journal.entries}
    last = max(by_seq, default=0)
    if head.count > last:
        yield (
            f"the end was cut off: {head.count} events {where}, the last one in the "
            f"journal is event {last}"
        )
    elif by_seq.get(head.count) != head.hash:
        yield (
            f"the journal was written anew: event {head.count} does not have the head "
            f"hash {where}"
        )


def _body(entry: Entry) -> dict[str, Any]:
    return {
        "seq": entry.seq,
        "at": entry.at,
        "kind": entry.kind,
        "data": entry.data,
        "prev": entry.prev,
    }


def _split_torn(content: bytes) -> tuple[bytes, bytes]:
    """Part the whole lines from the rest of a write that was cut off.

    A line that ends in a line feed but holds zero bytes is torn as well: after a
    power cut a file may have its new length before it has its new content.
    """
    end = content.rfind(b"\n") + 1
    whole, torn = content[:end], content[end:]
    last = whole.rfind(b"\n", 0, max(end - 1, 0)) + 1
    if not torn and b"\x00" in whole[last:]:
        return whole[:last], whole[last:]
    return whole, torn


def _parse_line(line: bytes) -> Entry | None:
    try:
        value = json.loads(line)
    except (ValueError, RecursionError):
        return None
    if not isinstance(value, dict) or value.keys() != _FIELDS:
        return None
    texts = (value["at"], value["kind"], value["prev"], value["hash"])
    if not all(isinstance(text, str) for text in texts):
        return None
    if type(value["seq"]) is not int or not isinstance(value["data"], dict):
        return None
    return Entry(**value)


def _sequence_damage(entries: list[Entry]) -> list[str]:
    numbers = [entry.seq for entry in entries]
    damage = [
        f"event {seq} is missing"
        for seq in sorted(set(range(1, max(numbers, default=0) + 1)) - set(numbers))
    ]
    damage += [
        f"event {seq} is there more than once"
        for seq in sorted({seq for seq in numbers if numbers.count(seq) > 1})
    ]
    before = Entry(seq=0, at="", kind="", data={}, prev="", hash=GENESIS)
    for entry in entries:
        if entry.seq <= before.seq:
            damage.append(
                f"event {entry.seq} was moved: it stands after event {before.seq}"
            )
        elif entry.seq == before.seq + 1 and entry.prev != before.hash:
            damage.append(
                f"event {entry.seq} does not follow from event {before.seq}: "
                "one of the two was replaced"
            )
        before = entry
    return damage
