"""The answer about bare lands as the screens see it."""

from __future__ import annotations

import copy

import pytest

from ui.page.answer_view import photo_view

ANSWER = {
    "format": "dotward.lands/1",
    "photo": {"file": "x.jpg"},
    "state": "fault",
    "reasons": ["land L2 is torn off"],
    "package": "SOIC-8",
    "lands": [
        {
            "number": 1,
            "state": "ok",
            "findings": [],
            "corners_px": [[0, 0], [0, 20], [10, 20], [10, 0]],
        },
        {
            "number": 2,
            "state": "fault",
            "findings": ["<b>torn</b>\u202e"],
            "corners_px": [[30, 0], [30, 20], [40, 20], [40, 0]],
        },
        {"number": 3, "state": "unsure", "findings": ["glare"], "corners_px": None},
    ],
}


def test_each_land_that_is_not_right_is_a_finding_with_its_place():
    view = photo_view(ANSWER)
    assert view["headline"] == "Lands: fault"
    assert [row["text"] for row in view["findings"]] == [
        "Lands: land L2 is torn off",
        "Land L2: fault; <b>torn</b>[U+202E]",
        "Land L3: cannot tell; glare",
    ]
    assert view["findings"][1]["at"] == [35.0, 10.0]
    assert [mark["text"] for mark in view["marks"]] == ["L1", "L2"]
    assert view["cautions"]
    assert "do not say where pin 1 goes" in view["next"][0]


def test_lands_that_were_not_found_ask_for_another_photo():
    none = {**ANSWER, "state": "unsure", "reasons": ["no pattern"], "lands": []}
    view = photo_view(none)
    assert view["state"] == "unsure"
    assert "straight above" in view["next"][0]


@pytest.mark.parametrize("name", ["state", "reasons", "lands"])
@pytest.mark.parametrize("value", [None, "x", 7, [None], [{"number": "x"}]])
def test_a_damaged_answer_is_never_right(name, value):
    broken = copy.deepcopy(ANSWER)
    broken[name] = value
    view = photo_view(broken)
    assert view["error"] or view["state"] != "ok"
