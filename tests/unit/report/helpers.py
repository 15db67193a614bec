"""A job with everything a report can show.  Answers are test data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.unit.record.helpers import make_photo
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
    new_job_name,
    open_job,
)

if TYPE_CHECKING:
    from pathlib import Path

HOSTILE = (
    "<script>alert(1)</script>${7*7}{{7*7}}../../\x00\x1b[31m\u202egnp.exe\u200b"
    "\ud800 漢字 \u05d0\u05d1"
)


def package(state: str = "ok") -> dict:
    return {
        "outline_px": [[12, 10], [12, 38], [36, 38], [36, 10]],
        "confidence": 0.97,
        "family": "SOIC",
        "lead_count": 8,
        "pin1": {"state": state, "confidence": 0.9, "evidence": [], "reasons": []},
        "leads": [{"number": 3, "toe_px": [8, 30], "heel_px": [12, 30], "width_px": 2}],
        "joints": [],
        "bridges": [],
    }


def look(_path: Path, **_) -> dict:
    return {
        "format": "dotward.look/1",
        "photo": {},
        "quality": {"state": "ok", "reasons": []},
        "packages": [package()],
    }


def compare(_before: Path, _after: Path, **_) -> dict:
    return {
        "format": "dotward.compare/1",
        "registration": {"state": "ok", "inliers": 412, "residual_px": 0.8},
        "orientation": {"state": "ok", "turn_deg": 0, "confidence": 0.999},
        "alignment": {
            "state": "ok",
            "dx_mm": 0.04,
            "dy_mm": -0.02,
            "skew_deg": 0.3,
            "u_mm": 0.03,
            "u_deg": 0.2,
        },
        "overhang": [
            {
                "lead": 1,
                "side_overhang_frac": 0.12,
                "u_frac": 0.06,
                "limit_frac": 0.5,
                "state": "ok",
            }
        ],
        "bridges": [{"between": [3, 4], "confidence": 0.97, "at_px": [10, 33]}],
        "joints": [
            {"lead": 3, "state": "fault", "findings": ["solder beyond the land"]},
            {"lead": 5, "state": "unsure", "findings": ["glare on the foot"]},
        ],
        "checks": {
            "lands": {"state": "unsure", "reasons": ["no photo of the bare lands"]}
        },
        "before_package": package(),
        "after_package": package(),
        "decision": "stop",
        "reasons": ["Solder bridges leads 3 and 4."],
        "notes": ["the board beside the chip got browner"],
    }


CHECKER = Checker(
    look=look,
    compare=compare,
    tool_version="0.0 test",
    made_with={"limits": "a" * 64, "models": "b" * 64},
)


def full_job(home: Path, card: Path, text: str = "plain text") -> Path:
    """Give a job with photos, answers, a correction, a decision and an outcome."""
    opening = Opened(
        job=new_job_name(),
        technician=text,
        part=text,
        patient=text,
        donor=text,
        asked=f"Move the calibration memory.\n{text}",
    )
    folder = open_job(home, opening)
    for shade, stage in ((40, "before"), (90, "after")):
        photo = make_photo(card / f"{stage}.jpg", shade)
        add_photo(folder, photo, stage=stage, by=text, name=text)
    check_job(folder, CHECKER)
    add_event(
        folder,
        Corrected(photo=3, what=text, value={text: [1, 2]}, by=text, reason=text),
    )
    tool = load_job(folder).tool_decision
    add_event(
        folder, Decided(decision="stop", by=text, tool_decision=tool, reason=text)
    )
    add_event(folder, Outcome(worked=False, by=text, text=text))
    return folder
