"""Jobs made for these tests alone.  Answers are test data, not measurements."""

from __future__ import annotations

from pathlib import Path

from PIL import Image
from PIL.ExifTags import IFD, Base

from ui.record import (
    Checker,
    Decided,
    Entry,
    Opened,
    add_event,
    load_job,
    new_job_name,
    open_job,
)
from ui.record.store import file_sha256
from vision.limits import LIMITS_FILE

PLACE = {1: "N", 2: (53.0, 33.0, 12.0), 3: "E", 4: (9.0, 58.0, 1.0)}


def make_photo(path: Path, shade: int = 120, *, with_place: bool = True) -> Path:
    """Write a small JPEG with camera claims and a place."""
    picture = Image.effect_noise((64, 48), 40).convert("RGB")
    picture.paste((shade, shade // 2, 255 - shade), (8, 8, 40, 30))
    exif = Image.Exif()
    exif[Base.Make] = "Test camera works"
    exif[Base.Orientation] = 6
    exif.get_ifd(IFD.Exif)[Base.DateTimeOriginal] = "2031:01:02 03:04:05"
    if with_place:
        exif.get_ifd(IFD.GPSInfo).update(PLACE)
    picture.save(path, "JPEG", quality=90, exif=exif)
    return path


def look_answer() -> dict:
    """Test data in the form of `dotward look`."""
    return {
        "format": "dotward.look/1",
        "photo": {"file": "elsewhere.jpg", "width_px": 64, "height_px": 48},
        "quality": {"state": "ok", "reasons": []},
        "packages": [],
    }


def compare_answer(decision: str = "no-fault-seen") -> dict:
    """Test data in the form of `dotward compare`."""
    return {
        "format": "dotward.compare/1",
        "before": {"file": "a.jpg"},
        "after": {"file": "b.jpg"},
        "orientation": {"state": "ok", "turn_deg": 0, "confidence": 0.99},
        "decision": decision,
        "reasons": [],
    }


def fake_checker(decision: str = "no-fault-seen") -> Checker:
    """Answers without looking, so that the record can be tested by itself."""
    return Checker(
        look=lambda _path, **_: look_answer(),
        compare=lambda _before, _after, **_: compare_answer(decision),
        tool_version="test",
        made_with={"limits": file_sha256(LIMITS_FILE)},
    )


def open_test_job(home: Path) -> Path:
    """Open a job with plain texts."""
    opening = Opened(
        job=new_job_name(),
        technician="Test technician",
        part="24-series memory",
        patient="tide logger main board",
        donor="tide logger spare board",
    )
    return open_job(home, opening)


def decide(job: Path, decision: str, reason: str = "") -> Entry:
    tool = load_job(job).tool_decision
    event = Decided(decision=decision, by="Tester", tool_decision=tool, reason=reason)
    return add_event(job, event)
