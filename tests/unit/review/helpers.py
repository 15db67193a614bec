"""Jobs in every state of review.  Answers are test data, not measurements."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from PIL import Image
from PIL.ExifTags import Base

from tests.unit.record.helpers import compare_answer, look_answer
from ui.record import (
    Checker,
    Corrected,
    Decided,
    Opened,
    Outcome,
    add_event,
    add_photo,
    check_job,
    load_job,
    open_job,
)
from ui.record.events import data_of
from ui.record.writer import open_for_adding

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record.events import Decision, Event, Stage


def checker_that_says(decision: str) -> Checker:
    """Answer without looking."""
    return Checker(
        look=lambda *_photo, **_facts: look_answer(),
        compare=lambda *_photos, **_facts: compare_answer(decision),
        tool_version="test",
        made_with={},
    )


def draw_photo(path: Path, shade: int) -> Path:
    """Draw a photo of 320 x 240 px that is upright when turned by a quarter."""
    exif = Image.Exif()
    exif[Base.Orientation] = 6
    Image.new("RGB", (320, 240), (shade, 90, 60)).save(path, "JPEG", exif=exif)
    return path


def add_as_once(folder: Path, event: Event) -> None:
    """Record what would be refused now; journals from before the rule hold it."""
    with open_for_adding(folder) as writer:
        writer.append(event.KIND, data_of(event))


class Jobs:
    """Makes jobs, one a day from 2031-03-01 on."""

    def __init__(self, home: Path, card: Path) -> None:
        self.home = home
        self.card = card
        self.number = 0

    def add(
        self,
        *,
        tool: Decision | None = "no-fault-seen",
        decision: Decision | None = None,
        technician: str = "Ada",
        part: str = "24-series",
        patient: str = "tide logger",
        donor: str = "",
        stages: tuple[Stage, ...] = ("before", "after"),
        corrected: bool = False,
        worked: bool | None = None,
    ) -> Path:
        self.number += 1
        day = datetime(2031, 3, self.number, 12, tzinfo=UTC)
        letters = "abcdefghijklmnopqrstuvwxyz"[self.number]
        opening = Opened(
            job=f"203103{self.number:02}-aaaaa{letters}",
            technician=technician,
            part=part,
            patient=patient,
            donor=donor,
        )
        folder = open_job(self.home, opening, clock=lambda: day)
        for shade, stage in zip((10, 90), stages, strict=False):
            path = self.card / f"{self.number}-{stage}.jpg"
            photo = draw_photo(path, shade + self.number)
            add_photo(folder, photo, stage=stage, by=technician)
        if tool is not None:
            check_job(folder, checker_that_says(tool))
        if corrected:
            fix = Corrected(photo=2, what="pin1", value={"corner": 1}, by=technician)
            add_event(folder, fix)
        if decision is not None:
            said = load_job(folder).tool_decision
            event = Decided(
                decision=decision, by=technician, tool_decision=said, reason="seen"
            )
            is_seen = tool is not None and "after" in stages
            (add_event if is_seen else add_as_once)(folder, event)
        if worked is not None:
            add_event(folder, Outcome(worked=worked, by=technician))
        return folder
