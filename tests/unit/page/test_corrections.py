"""What a person sets right on the page, recorded or refused."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest

from tests.unit.page.asking import message, post
from tests.unit.record.helpers import make_photo
from ui.page.corrections import _outline
from ui.page.pictures import photo_key, picture_folder, save_view
from ui.record import add_photo, load_job

TRUTH = Path(__file__).parents[3] / "sample_images" / "truth.toml"


@pytest.fixture
def shown(client, job, tmp_path, context):
    """A photo whose picture was made: 640 by 480 px."""
    path = make_photo(tmp_path / "p.jpg")
    add_photo(job, path, stage="before", by="T")
    key = photo_key(load_job(job).photos[0].event.sha256)
    save_view(picture_folder(context.cache, key), np.zeros((480, 640, 3), np.uint8))
    return client


BODY = [[100, 100], [100, 200], [260, 200], [260, 100]]


def test_a_correction_is_recorded_and_judged_anew(shown, job, context):
    fixes = [
        {"what": "outline", "outline_px": BODY},
        {"what": "pin1", "at_px": [100, 200]},
        {"what": "package", "name": "SOIC-20"},
    ]
    assert (
        post(shown, job, "correct", photo=2, by="Ada", fixes=fixes).status_code == 200
    )
    first, second, third = (noted.event for noted in load_job(job).corrections)
    assert first.value == {"outline_px": [[float(v) for v in p] for p in BODY]}
    assert second.value == {"at_px": [100.0, 200.0]}
    assert third.value == {"name": "SOIC-20"}
    assert first.by == second.by == third.by == "Ada"
    assert context.worker.kinds[-1] == "check"
    words = [
        c["words"]
        for c in shown.get(f"/api/job/{job.name}").json()["photos"]["2"]["corrections"]
    ]
    assert words == [
        "outline set by hand by Ada",
        "pin-1 corner set by hand by Ada",
        "package SOIC-20 set by hand by Ada",
    ]
    assert shown.get(f"/api/job/{job.name}").json()["unjudged"] == 1


def test_a_clockwise_outline_is_turned_round(shown, job):
    fix = {"what": "outline", "outline_px": BODY[::-1]}
    assert (
        post(shown, job, "correct", photo=2, by="Ada", fixes=[fix]).status_code == 200
    )
    assert load_job(job).corrections[0].event.value["outline_px"] == [
        [float(v) for v in p] for p in BODY
    ]


@pytest.mark.parametrize(
    ("fixes", "words"),
    [
        ([], "Nothing was changed"),
        ("outline", "Nothing was changed"),
        ([{"what": "outline", "outline_px": BODY[:3]}], "four corners"),
        ([{"what": "outline", "outline_px": [*BODY[:3], [900, 100]]}], "outside"),
        (
            [{"what": "outline", "outline_px": [*BODY[:3], [float("1e999"), 1]]}],
            "outside",
        ),
        ([{"what": "outline", "outline_px": [BODY[i] for i in (0, 2, 1, 3)]}], "cross"),
        (
            [{"what": "outline", "outline_px": [[9, 9], [9, 50], [90, 50], [14, 9]]}],
            "cross",
        ),
        (
            [{"what": "outline", "outline_px": [[9, 9], [9, 10], [10, 10], [10, 9]]}],
            "cross",
        ),
        (
            [{"what": "outline", "outline_px": [[9, 9], [9, 90], [90, 90], [45, 40]]}],
            "nearly a triangle",
        ),
        (
            [{"what": "outline", "outline_px": [[9, 9], [60, 90], [75, 90], [90, 9]]}],
            "nearly a triangle",
        ),
        ([{"what": "outline", "outline_px": [["a", 1]] * 4}], "two numbers"),
        ([{"what": "outline", "outline_px": [[True, 1]] * 4}], "two numbers"),
        ([{"what": "pin1", "at_px": None}], "two numbers"),
        ([{"what": "lead_count", "value": 8}], "Only the outline, pin 1 and"),
        ([{"what": "package", "name": "SOIC-9"}], "Choose one of the list"),
        ([{"what": "package", "name": ["SOIC-8"]}], "Choose one of the list"),
        ([7], "Load the page again"),
    ],
)
def test_a_correction_that_makes_no_sense_is_refused(shown, job, fixes, words):
    content = json.dumps({"photo": 2, "by": "Ada", "fixes": fixes})
    answer = shown.post(
        f"/api/job/{job.name}/correct",
        content=content,
        headers={"content-type": "application/json"},
    )
    assert answer.status_code == 409
    assert words in message(answer)
    assert load_job(job).corrections == ()


def test_of_two_fixes_with_one_wrong_none_is_recorded(shown, job):
    fixes = [{"what": "pin1", "at_px": [1, 1]}, {"what": "pin1", "at_px": [-9, 1]}]
    assert post(shown, job, "correct", photo=2, by="A", fixes=fixes).status_code == 409
    assert load_job(job).corrections == ()


def seen_from(tilt_deg, turn_deg, long=1.3, away=8.0):
    """Give the corners of a body of 100 px seen from ``away`` of its lengths."""
    turn, tilt = np.radians([turn_deg, tilt_deg])
    body = np.array([(-long, -1), (-long, 1), (long, 1), (long, -1)]) / 2
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    x, y = (body @ spin.T).T
    depth = 1 + y * np.sin(tilt) / away
    return 100 * np.stack([x, y * np.cos(tilt)], axis=1) / depth[:, None] + 200


@pytest.mark.parametrize("long", [1.0, 1.3, 3.0])
@pytest.mark.parametrize("turn_deg", range(0, 91, 15))
@pytest.mark.parametrize("tilt_deg", [0, 30, 45, 60])
def test_a_chip_seen_at_a_slant_keeps_its_outline(tilt_deg, turn_deg, long):
    corners = seen_from(tilt_deg, turn_deg, long).round(2).tolist()
    taken = _outline(corners, (640, 480))
    assert sorted(taken) == sorted(corners)


def test_every_outline_of_the_sample_pictures_is_taken():
    pictures = tomllib.loads(TRUTH.read_text(encoding="utf-8"))["photo"]
    outlines = [row["chip"]["outline_px"] for row in pictures if "chip" in row]
    assert len(outlines) > 3
    for corners in outlines:
        assert len(_outline(corners, (5000, 5000))) == 4
