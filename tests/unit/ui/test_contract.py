"""The JSON against the field lists that other programs rely on."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.unit.ui.reports import (
    leads,
    not_registered,
    package,
    pair_report,
    photo_report,
    soldered,
    sure,
    turned,
    unsure,
)
from ui.contract import (
    error_json,
    pair_error_json,
    pair_report_json,
    photo_report_json,
)
from vision.errors import ModelError, PhotoError
from vision.results import Alignment, Bridge, Joint

PACKAGE_FIELDS = {
    "outline_px",
    "confidence",
    "family",
    "lead_count",
    "pin1",
    "px_per_mm",
    "leads",
    "joints",
    "bridges",
}
PAIR_FIELDS = {
    "format",
    "before",
    "after",
    "registration",
    "orientation",
    "alignment",
    "overhang",
    "bridges",
    "joints",
    "decision",
    "reasons",
}


def plain(data):
    """Write and read as strict JSON: refuses NaN, numpy numbers and tuples as keys."""
    return json.loads(json.dumps(data, allow_nan=False))


def test_a_photo_has_every_field_of_the_contract():
    full = package(
        joints=(Joint(lead=1, state="ok", findings=("wets the toe",)),),
        bridges=(Bridge(between=(3, 4), confidence=0.97, at_px=(240.0, 330.0)),),
    )
    data = plain(photo_report_json(photo_report(full)))
    assert data["format"] == "dotward.look/1"
    assert data["photo"] == {
        "file": "memory.jpg",
        "sha256": f"{90:064d}",
        "width_px": 400,
        "height_px": 400,
    }
    assert data["quality"] == {"state": "ok", "reasons": []}
    found = data["packages"][0]
    assert found.keys() >= PACKAGE_FIELDS
    assert found["outline_px"][0] == [100.0, 300.0]
    assert found["family"] == "SOIC"
    assert found["lead_count"] == 8
    assert found["px_per_mm"] == 41.2
    assert found["pin1"]["state"] == "ok"
    assert found["pin1"]["confidence"] == 0.997
    assert found["pin1"]["evidence"][1] == {
        "kind": "dimple",
        "at_px": [130.0, 270.0],
        "weight": 2.1,
    }
    assert found["leads"][0] == {
        "number": 1,
        "toe_px": [125.0, 340.0],
        "heel_px": [125.0, 300.0],
        "width_px": 9.0,
    }
    assert found["joints"] == [{"lead": 1, "state": "ok", "findings": ["wets the toe"]}]
    assert found["bridges"] == [
        {
            "between": [3, 4],
            "confidence": 0.97,
            "at_px": [240.0, 330.0],
            "state": "fault",
        }
    ]


def test_unknown_is_null_and_an_unknown_family_is_other():
    strange = package(family="BGA", lead_count=None, px_per_mm=None, leads=())
    found = plain(photo_report_json(photo_report(strange)))["packages"][0]
    assert found["family"] == "other"
    assert found["lead_count"] is None
    assert found["px_per_mm"] is None
    assert found["leads"] == []


def test_pin1_unsure_says_why():
    data = plain(photo_report_json(photo_report(package(unsure()))))
    pin1 = data["packages"][0]["pin1"]
    assert pin1["state"] == "unsure"
    assert pin1["reasons"] == [
        "no dimple to be seen; light from one side would show it"
    ]
    assert len(data["packages"][0]["outline_px"]) == 4


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_null(value):
    odd = replace(sure(), confidence=value)
    found = plain(photo_report_json(photo_report(package(odd, px_per_mm=value))))
    assert found["packages"][0]["pin1"]["confidence"] is None
    assert found["packages"][0]["px_per_mm"] is None


def test_numpy_numbers_become_plain():
    numpy_leads = tuple(
        replace(lead, toe_px=tuple(np.float32(lead.toe_px)), width_px=np.float32(9))
        for lead in leads()
    )
    report = photo_report(
        package(
            replace(sure(), confidence=np.float64(0.9)),
            lead_count=np.int64(8),
            leads=numpy_leads,
        )
    )
    found = plain(photo_report_json(report))["packages"][0]
    assert found["lead_count"] == 8
    assert found["leads"][0]["toe_px"] == [125.0, 340.0]


def test_a_pair_has_every_field_of_the_contract():
    data = plain(pair_report_json(soldered(), "0007"))
    assert data["format"] == "dotward.compare/1"
    assert data["pair"] == "0007"
    assert data.keys() >= PAIR_FIELDS
    assert data["before"]["file"] == "before.jpg"
    assert data["after"]["file"] == "after.jpg"
    assert data["registration"]["state"] == "ok"
    assert data["registration"]["before_to_after"] == [[1, 0, 0], [0, 1, 0], [0, 0, 1]]
    assert data["registration"]["inliers"] == 412
    assert data["registration"]["residual_px"] == 0.8
    assert data["orientation"] == {
        "state": "ok",
        "turn_deg": 0,
        "confidence": 0.999,
        "reasons": [],
    }
    assert data["alignment"] == {
        "state": "ok",
        "dx_mm": 0.12,
        "dy_mm": -0.05,
        "skew_deg": 0.3,
        "limit_mm": None,
        "limit_deg": None,
        "u_mm": 0.03,
        "u_deg": 0.2,
        "reasons": [],
    }
    assert data["overhang"] == [
        {
            "lead": 1,
            "side_overhang_frac": 0.12,
            "u_frac": 0.06,
            "limit_frac": 0.5,
            "state": "ok",
        }
    ]
    assert data["bridges"][0]["between"] == [3, 4]
    assert data["joints"] == [{"lead": 1, "state": "ok", "findings": []}]
    assert data["decision"] == "stop"
    assert data["checks"]["lands"]["state"] == "unsure"


def test_a_single_pair_carries_no_name():
    assert "pair" not in pair_report_json(pair_report())


def test_a_turned_pair_is_a_fault():
    turn = plain(pair_report_json(turned()))["orientation"]
    assert (turn["state"], turn["turn_deg"]) == ("fault", 180)


def test_photos_that_cannot_be_laid_over_leave_no_numbers():
    data = plain(pair_report_json(not_registered()))
    assert data["registration"]["state"] == "unsure"
    assert data["registration"]["before_to_after"] is None
    assert data["registration"]["residual_px"] is None
    assert data["registration"]["reasons"] == [
        "too little of the board is in both photos"
    ]
    assert data["orientation"]["turn_deg"] is None
    assert data["alignment"]["dx_mm"] is None
    assert data["decision"] == "retake"


def test_no_package_is_null():
    data = plain(pair_report_json(pair_report(after_package=None)))
    assert data["after_package"] is None
    assert data["before_package"]["family"] == "SOIC"


def test_no_scale_leaves_the_shift_unknown():
    unknown = Alignment(state="unsure", skew_deg=0.2, u_deg=0.3)
    data = plain(pair_report_json(pair_report(alignment=unknown)))["alignment"]
    assert data["dx_mm"] is None
    assert data["skew_deg"] == 0.2


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (PhotoError("empty.jpg: no bytes"), "photo"),
        (ModelError("net.onnx: altered"), "model"),
        (FileNotFoundError(2, "No such file", "x.jpg"), "photo"),
        (ZeroDivisionError("oh"), "internal"),
    ],
)
def test_a_photo_that_cannot_be_judged_has_an_error_and_no_findings(error, code):
    data = plain(error_json(Path("empty.jpg"), error))
    assert data["format"] == "dotward.look/1"
    assert data["photo"]["file"] == "empty.jpg"
    assert data["error"]["code"] == code
    assert data["error"]["message"]
    assert "packages" not in data


def test_the_error_of_a_file_is_told_as_on_the_screen():
    error = error_json("a.jpg", PermissionError(13, "Permission denied", "a.jpg"))
    said = error["error"]["message"]
    assert said.startswith("a.jpg: Permission denied. Check the rights")


def test_a_pair_that_cannot_be_judged_carries_its_name_and_no_decision():
    data = plain(pair_error_json("a.jpg", "b.jpg", PhotoError("b.jpg: cut"), "0003"))
    assert data["pair"] == "0003"
    assert data["error"] == {"code": "photo", "message": "b.jpg: cut"}
    assert "decision" not in data
