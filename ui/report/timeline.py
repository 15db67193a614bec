"""Every event of a job in one line each."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import singledispatch
from typing import TYPE_CHECKING

from ui.plain_text import visible
from ui.record.events import (
    Checked,
    Corrected,
    Decided,
    Event,
    PhotoAdded,
    Reviewed,
    Sealed,
    SetAside,
    Withdrawn,
)
from ui.report.model import Section, Table

if TYPE_CHECKING:
    from ui.record.state import JobState

KIND_WORDS = {
    "opened": "Job opened",
    "photo-added": "Photo added",
    "checked": "Judged by the tool",
    "corrected": "Corrected by hand",
    "decided": "Decided",
    "reviewed": "Reviewed",
    "withdrawn": "Taken back",
    "sealed": "Sealed",
    "outcome": "Outcome noted",
    "set-aside": "Cut-off write set aside",
}


def timeline_section(state: JobState) -> Section:
    """List all events in their order.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    Section
        One table.
    """
    rows = tuple(
        (
            str(noted.seq),
            KIND_WORDS[noted.event.KIND],
            _detail(noted.event),
            visible(str(getattr(noted.event, "by", ""))) or "\u2013",
            time_words(noted.at),
        )
        for noted in state.history
    )
    columns = ("Event", "What", "Detail", "By", "Time (claimed)")
    table = Table(caption="All events in their order", columns=columns, rows=rows)
    return Section(heading="Course of the job", tables=(table,))


def time_words(at: str) -> str:
    """Give a claimed time to the second, as a person writes it.

    Parameters
    ----------
    at : str
        ISO 8601 as the journal holds it.

    Returns
    -------
    str
        Such as ``2031-05-01 12:00:00 UTC``; anything else as it stands.
    """
    try:
        moment = datetime.fromisoformat(at).astimezone(UTC)
    except (ValueError, OverflowError):
        return visible(at)
    return f"{moment:%Y-%m-%d %H:%M:%S} UTC"


@singledispatch
def _detail(event: Event) -> str:
    del event
    return "\u2013"


@_detail.register(PhotoAdded)
def _(event: PhotoAdded) -> str:
    replaced = "" if event.replaces is None else f", replaces event {event.replaces}"
    return f"{event.stage}, {event.role} board{replaced}"


@_detail.register(Checked)
def _(event: Checked) -> str:
    photos = ", ".join(str(seq) for seq in event.photos)
    return f"photos of events {photos}"


@_detail.register(Corrected)
def _(event: Corrected) -> str:
    return f"{visible(event.what)}, photo of event {event.photo}"


@_detail.register(Decided)
def _(event: Decided) -> str:
    return event.decision


@_detail.register(Reviewed)
def _(event: Reviewed) -> str:
    return f"{event.verdict}, {event.decision}"


@_detail.register(Withdrawn)
def _(event: Withdrawn) -> str:
    return f"event {event.event}: {visible(event.reason) or 'no reason given'}"


@_detail.register(Sealed)
def _(event: Sealed) -> str:
    return f"{event.count} events, head {visible(event.head[:16])}\u2026"


@_detail.register(SetAside)
def _(event: SetAside) -> str:
    return f"{event.size_bytes} bytes, kept apart"
