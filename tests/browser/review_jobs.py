"""Jobs for the Review screen: drawn photos, answers made by hand, every text given."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PIL import Image, ImageDraw

from tests.unit.ui import reports
from ui.contract import pair_report_json, photo_report_json
from ui.record import (
    Checker,
    Decided,
    Opened,
    add_event,
    add_photo,
    check_job,
    load_job,
    new_job_name,
    open_job,
)

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record.events import Decision
    from vision.results import PairReport

HOSTILE = (
    "<script>document.body.dataset.hit=1</script>"
    "<img src=x onerror=document.body.dataset.hit=2>"
    "${document.body.setAttribute(/data-hit/.source,3)}{{7*7}}"
    "../../etc/passwd\x00\x1b[31m\u202egnp.exe\u200b=1+1 " + "w" * 300
)


def checker_of(report: PairReport) -> Checker:
    """Answer with a report made by hand, photos named by the job itself."""
    look = photo_report_json(reports.photo_report(reports.package()))
    compare = pair_report_json(report)
    for part in (look["photo"], compare["before"], compare["after"]):
        del part["sha256"]
    return Checker(
        look=lambda *_photo, **_facts: look,
        compare=lambda *_photos, **_facts: compare,
        tool_version="test",
        made_with={},
    )


def draw_photo(path: Path, shade: int) -> Path:
    """Draw a chip where ``reports`` says it is."""
    picture = Image.new("RGB", (400, 400), (20, 90 + shade, 50))
    pen = ImageDraw.Draw(picture)
    for k in range(4):
        x = 125 + 50 * k
        pen.rectangle((x - 8, 60, x + 8, 340), fill=(200, 200, 205))
    pen.rectangle((100, 100, 300, 300), fill=(30, 30, 34))
    pen.ellipse((120, 260, 140, 280), fill=(70, 70, 74))
    picture.save(path)
    return path


def add_job(
    home: Path,
    card: Path,
    report: PairReport,
    decision: Decision,
    *,
    text: str = "",
    technician: str = "Ada",
    part: str = "TIDE-25C",
) -> Path:
    """Open, photograph, judge and decide a job; ``text`` replaces every free text."""
    opening = Opened(
        job=new_job_name(),
        technician=text or technician,
        part=text or part,
        patient=text or "Tide logger 7",
        donor=text,
        asked=text,
    )
    folder = open_job(home, opening)
    for number, stage in enumerate(("before", "after")):
        photo = draw_photo(card / f"{stage}.png", 40 * number)
        name = (text or f"{stage}.png")[:500]
        add_photo(folder, photo, stage=stage, by=text or technician, name=name)
    check_job(folder, checker_of(report))
    event = Decided(
        decision=decision,
        by=text or technician,
        tool_decision=load_job(folder).tool_decision,
        reason=text or "looked under the microscope",
    )
    add_event(folder, event)
    return folder
