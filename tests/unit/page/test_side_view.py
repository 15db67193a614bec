"""The answer about a row of feet as the screens see it."""

from __future__ import annotations

import copy
from dataclasses import replace

import pytest

from tests.unit.test_side_check import LEVEL, UNREAD, judge_side, pair, seen, view
from ui.contract import pair_report_json, side_seen_json
from ui.page.answer_view import pair_view, photo_view
from ui.record.checking import OLDER
from ui.side_words import OLDER_PHOTO


def answer(found, leads=None):
    return {"format": "dotward.side/1", **side_seen_json(seen(found, leads))}


def texts(shown):
    return [row["text"] for row in shown["findings"]]


def test_each_foot_of_a_named_row_is_a_finding_with_its_lead_and_place():
    shown = photo_view(answer(view("ok", "ok", "fault", "ok"), (5, 8)))
    assert shown["state"] == "fault"
    assert shown["headline"].startswith("Feet of leads 5 to 8: fault: lifted: lead 7")
    assert "Lead 7: +0.23 ± 0.03 mm, shop limit 0.10 mm" in texts(shown)
    (lifted,) = (row for row in shown["findings"] if row["state"] == "fault")
    assert lifted["at"][0] == 300.0
    assert [mark["text"] for mark in shown["marks"]] == ["5", "6", "7", "8"]
    assert shown["findings"][0] == lifted
    assert any("named it" in text for text in shown["next"])


def test_a_row_without_a_name_says_that_it_clears_nothing():
    shown = photo_view(answer(LEVEL))
    assert shown["state"] == "ok"
    assert any("clears no doubt" in text for text in shown["next"])
    assert shown["marks"][0]["text"] == "no. 1"


def test_a_row_that_was_not_read_asks_for_its_photo():
    shown = photo_view(answer(UNREAD, (1, 4)))
    assert (shown["state"], shown["word"]) == ("unsure", "not read")
    assert "15 to 30 degrees" in shown["next"][0]
    assert shown["marks"] == []


def test_an_answer_of_an_earlier_version_was_not_read():
    old = {
        "format": "dotward.side/1",
        "photo": {"file": "photos/a.jpg", "width_px": 4, "height_px": 3},
        "state": "ok",
        "reasons": ["kept, not judged\u202e"],
    }
    shown = photo_view(old)
    assert shown["state"] == "unsure"
    assert "not judged[U+202E]" in shown["headline"]


@pytest.mark.parametrize("name", ["state", "feet", "limit_mm", "leads", "photo"])
@pytest.mark.parametrize(
    "value", [None, "x", 7, [None], [{"state": "ok"}], float("nan")]
)
def test_a_damaged_answer_is_never_right(name, value):
    broken = copy.deepcopy(answer(view("ok", "ok", "fault", "ok"), (1, 4)))
    broken[name] = value
    shown = photo_view(broken)
    assert shown["error"] or shown["state"] != "ok"


def test_a_pair_names_the_feet_and_the_rows_that_were_not_read():
    rows = (seen(view("ok", "ok", "fault", "ok"), (1, 4)), seen(UNREAD, (5, 8)))
    shown = pair_view(pair_report_json(judge_side(pair(), rows)))
    assert shown["decision"] == "stop"
    said = "\n".join(texts(shown))
    assert "Feet from the side: fault: lead 3 stands +0.23" in said
    assert "Side photo (leads 5 to 8) not read, so it counts neither way" in said


def older(*rows):
    """Give a comparison whose rows from the side came before its photo after."""
    shown = judge_side(pair(), [seen(found) for found in rows])
    return replace(shown, side=tuple(replace(row, note=OLDER) for row in shown.side))


def test_a_fault_that_is_older_than_the_photo_after_is_said_to_be_so():
    high = view("ok", "ok", "fault", "ok")
    shown = pair_view(pair_report_json(older(high)))
    assert f"a foot stood above the limit in {OLDER_PHOTO}" in shown["headline"]
    assert any("Side photo older than the photo after" in t for t in texts(shown))
    assert any("row from the side anew" in step for step in shown["next"])
    mixed = older(high, high)
    mixed = replace(mixed, side=(mixed.side[0], replace(mixed.side[1], note="")))
    shown = pair_view(pair_report_json(mixed))
    assert "a foot stands above the limit" in shown["headline"]
    assert any("solder anew the leads" in step for step in shown["next"])
