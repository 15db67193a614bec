"""Jobs for the Review screen: drawn photos, answers made by hand, every text given."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PIL import Image, ImageDraw

from tests.unit.review.helpers import add_as_once
from tests.unit.ui import reports
from ui.contract import pair_report_json, photo_report_json
from ui.record import (
    Checker,
    Corrected,
    Decided,
    Opened,
    Outcome,
    Reviewed,
    add_event,
    add_photo,
    check_job,
    load_job,
    new_job_name,
    open_job,
)
from vision.results import Alignment, Finding, Joint

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


def hostile_text(field: str) -> str:
    """Give a text that does harm wherever it is not shown as text."""
    return f"{field} {HOSTILE}"[:500]


def hostile_report() -> PairReport:
    """Answer with a hostile text wherever an answer has one."""
    return replace(
        reports.soldered(),
        alignment=Alignment(state="unsure", reasons=(hostile_text("place"),)),
        joints=(Joint(lead=1, state="fault", findings=(hostile_text("joint"),)),),
        checks={"lands": Finding(state="unsure", reasons=(hostile_text("check"),))},
        reasons=(hostile_text("reason"),),
    )


def add_job(
    home: Path,
    card: Path,
    report: PairReport,
    decision: Decision,
    **texts: str,
) -> Path:
    """Open, photograph, judge and decide a job.

    ``texts`` stands for the fields of the opening, ``name`` of the photos and ``why``
    of the decision.
    """
    given = {"technician": "Ada", "part": "TIDE-25C", "patient": "Tide logger 7"}
    given |= texts
    name, why = given.pop("name", ""), given.pop("why", "seen under the microscope")
    folder = open_job(home, Opened(job=new_job_name(), **given))
    by = given["technician"]
    for number, stage in enumerate(("before", "after")):
        photo = draw_photo(card / f"{stage}.png", 40 * number)
        add_photo(folder, photo, stage=stage, by=by, name=name or photo.name)
    check_job(folder, checker_of(report))
    tool = load_job(folder).tool_decision
    event = Decided(decision=decision, by=by, tool_decision=tool, reason=why)
    add_event(folder, event)
    return folder


def add_unseen_job(home: Path, card: Path) -> Path:
    """Let a board go of which there is a photo before lifting alone."""
    opened = Opened(job=new_job_name(), technician="Ada", part="LEVEL", patient="Mud 4")
    folder = open_job(home, opened)
    photo = draw_photo(card / "alone.png", 20)
    add_photo(folder, photo, stage="before", by="Ada", name=photo.name)
    event = Decided(
        decision="no-fault-seen",
        by="Ada",
        tool_decision=load_job(folder).tool_decision,
        reason="looked fine",
    )
    add_as_once(folder, event)
    return folder


def add_hostile_job(home: Path, card: Path) -> Path:
    """Give a job that holds a hostile text in every field there is."""
    fields = ("technician", "part", "patient", "donor", "asked", "name", "why")
    texts = {field: hostile_text(field) for field in fields}
    folder = add_job(home, card, hostile_report(), "stop", **texts)
    fix = Corrected(
        photo=2,
        what="pin1",
        value={"at_px": [110, 290]},
        by=hostile_text("corrector"),
        reason=hostile_text("correction"),
    )
    add_event(folder, fix)
    check_job(folder, checker_of(hostile_report()))
    state = load_job(folder)
    event = Decided(
        decision="stop",
        by=hostile_text("decider"),
        tool_decision=state.tool_decision,
        reason=hostile_text("why"),
    )
    decided = add_event(folder, event).seq
    review = Reviewed(
        verdict="overruled",
        by=hostile_text("reviewer"),
        decided=decided,
        decision="check-by-hand",
        reason=hostile_text("overruled"),
    )
    add_event(folder, review)
    outcome = Outcome(
        worked=False, by=hostile_text("tester"), text=hostile_text("outcome")
    )
    add_event(folder, outcome)
    return folder
