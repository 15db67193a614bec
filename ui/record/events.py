"""What can happen to a job, each kind of event a frozen record.

A journal line's ``kind`` names the class, its ``data`` holds the fields.  Text
fields hold what was typed, untouched; see ``ui.plain_text`` for showing them.
"""

from __future__ import annotations

import types
from dataclasses import MISSING, asdict, dataclass, field, fields
from functools import cache
from typing import Any, ClassVar, Literal, Union, get_args, get_origin, get_type_hints

from ui.record.journal import canonical
from vision.errors import RecordError

FORMAT = "dotward.job/1"
MAX_NAME_CHARS = 500
MAX_TEXT_CHARS = 10_000
MAX_ANSWER_BYTES = 8_000_000

Stage = Literal["before", "lands", "after", "side"]
Role = Literal["patient", "donor"]
Decision = Literal["no-fault-seen", "stop", "check-by-hand", "retake"]
Verdict = Literal["accepted", "overruled"]
STAGES: tuple[Stage, ...] = get_args(Stage)
ROLES: tuple[Role, ...] = get_args(Role)
STAGES_BESIDE: tuple[Stage, ...] = ("lands", "side")
"""What they show is judged by the package seen from above, before or after."""
DECISIONS: tuple[Decision, ...] = get_args(Decision)

_LONG_TEXTS = frozenset({"asked", "reason", "text"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Base of every event: checks lengths, types and allowed words."""

    KIND: ClassVar[str]

    def __post_init__(self) -> None:
        hints = _hints(self.KIND)
        for item in fields(self):
            value = getattr(self, item.name)
            if not _fits(value, hints[item.name]):
                message = (
                    f"{self.KIND}: {item.name} is {_short(value)}; "
                    f"{_wanted(hints[item.name])} is needed. Correct it and repeat."
                )
                raise RecordError(message)
            if isinstance(value, str):
                _refuse_long(self.KIND, item.name, value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened(Event):
    """The job was opened.

    ``patient`` is the failed board that the chip is lifted from, ``donor`` the
    matching board that gets it, empty where it goes back on its own; ``asked`` says
    in words what is to be done.
    """

    KIND: ClassVar[str] = "opened"
    job: str
    technician: str
    part: str
    patient: str
    donor: str = ""
    asked: str = ""
    format: str = FORMAT


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoAdded(Event):
    """A photo came in.  ``replaces`` is the ``seq`` of the photo it stands for.

    ``claims`` is what the camera wrote into the file: a claim, not proof.  It
    never holds the place; ``has_place`` says whether the original does.  ``leads``
    is the first and the last lead of the row that a side photo shows, as the person
    who gave the photo named it; empty where nobody did.
    """

    KIND: ClassVar[str] = "photo-added"
    stage: Stage
    sha256: str
    suffix: str
    size_bytes: int
    name: str
    by: str
    role: Role = "patient"
    claims: dict[str, str] = field(default_factory=dict)
    has_place: bool = False
    replaces: int | None = None
    leads: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked(Event):
    """The tool gave an answer about photos of this job.

    ``answer`` is the object that ``dotward look`` or ``dotward compare`` prints;
    ``photos`` and ``corrections`` are the ``seq`` of the events it rests on;
    ``made_with`` holds the SHA-256 of models and limits by name.
    """

    KIND: ClassVar[str] = "checked"
    photos: tuple[int, ...]
    answer: dict[str, Any]
    tool_version: str
    made_with: dict[str, str] = field(default_factory=dict)
    corrections: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected(Event):
    """Someone put right by hand what the tool had seen in a photo.

    ``what`` is ``outline``, ``pin1`` or another name of the answer's fields;
    ``value`` is what replaces it, in the answer's form.
    """

    KIND: ClassVar[str] = "corrected"
    photo: int
    what: str
    value: dict[str, Any]
    by: str
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided(Event):
    """The technician decided.  ``tool_decision`` is what the tool said then."""

    KIND: ClassVar[str] = "decided"
    decision: Decision
    by: str
    tool_decision: Decision
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reviewed(Event):
    """A second person looked at the decision at event ``decided``."""

    KIND: ClassVar[str] = "reviewed"
    verdict: Verdict
    by: str
    decided: int
    decision: Decision
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn(Event):
    """A correction, decision or review was taken back; the event itself stays."""

    KIND: ClassVar[str] = "withdrawn"
    event: int
    by: str
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed(Event):
    """The job was closed with ``count`` events, the last of them ``head``.

    ``reports`` maps the file name of each report to its SHA-256.
    """

    KIND: ClassVar[str] = "sealed"
    head: str
    count: int
    by: str
    reports: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome(Event):
    """What happened when the board was powered."""

    KIND: ClassVar[str] = "outcome"
    worked: bool
    by: str
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside(Event):
    """A write that had been cut off was moved into a file of its own."""

    KIND: ClassVar[str] = "set-aside"
    file_sha256: str
    size_bytes: int


KINDS: dict[str, type[Event]] = {
    kind.KIND: kind
    for kind in (
        Opened,
        PhotoAdded,
        Checked,
        Corrected,
        Decided,
        Reviewed,
        Withdrawn,
        Sealed,
        Outcome,
        SetAside,
    )
}


def data_of(event: Event) -> dict[str, Any]:
    """Give an event's fields as JSON values.

    Parameters
    ----------
    event : Event
        Any event.

    Returns
    -------
    dict
        The ``data`` of its journal line.

    Raises
    ------
    RecordError
        The event is too large to be recorded.
    """
    data = {
        name: list(value) if isinstance(value, tuple) else value
        for name, value in asdict(event).items()
    }
    if len(canonical(data)) > MAX_ANSWER_BYTES:
        message = (
            f"{event.KIND}: more than {MAX_ANSWER_BYTES / 1e6:.0f} MB; nothing was "
            "added. Record it in smaller pieces."
        )
        raise RecordError(message)
    return data


def event_of(kind: str, data: dict[str, Any]) -> Event:
    """Read an event back.

    Parameters
    ----------
    kind : str
        Kind named by the journal line.
    data : dict
        Fields of the journal line.

    Returns
    -------
    Event
        The record of that kind.

    Raises
    ------
    RecordError
        The kind or a field is unknown (a newer version wrote it), a field is
        missing, or a value does not fit.
    """
    event_type = KINDS.get(kind)
    if event_type is None:
        message = (
            f"event kind {_short(kind)} is not known here: a newer version wrote it. "
            "Open the job with that version."
        )
        raise RecordError(message)
    known = {item.name: item for item in fields(event_type)}
    unknown = sorted(data.keys() - known.keys())
    missing = sorted(
        name
        for name, item in known.items()
        if name not in data
        and item.default is MISSING
        and item.default_factory is MISSING
    )
    if unknown or missing:
        message = (
            f"{kind}: unknown fields {unknown}, missing fields {missing}. "
            "Open the job with the version that wrote it."
        )
        raise RecordError(message)
    values = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in data.items()
    }
    return event_type(**values)


@cache
def _hints(kind: str) -> dict[str, Any]:
    return get_type_hints(KINDS[kind])


def _fits(value: object, hint: Any) -> bool:
    origin, args = get_origin(hint), get_args(hint)
    if origin is Literal:
        return isinstance(value, str) and value in args
    if origin in (Union, types.UnionType):
        return any(_fits(value, arg) for arg in args)
    if origin is tuple:
        return isinstance(value, tuple) and all(_fits(v, args[0]) for v in value)
    if origin is dict:
        return isinstance(value, dict) and all(
            isinstance(k, str) and _fits(v, args[1]) for k, v in value.items()
        )
    return hint is Any or type(value) is hint


def _refuse_long(kind: str, name: str, value: str) -> None:
    limit = MAX_TEXT_CHARS if name in _LONG_TEXTS else MAX_NAME_CHARS
    if len(value) > limit:
        message = (
            f"{kind}: {name} has {len(value)} characters; at most {limit} are kept. "
            "Shorten it and repeat."
        )
        raise RecordError(message)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _wanted(hint: Any) -> str:
    if get_origin(hint) is Literal:
        return "one of " + ", ".join(get_args(hint))
    return "a value of the type " + getattr(hint, "__name__", str(hint))
