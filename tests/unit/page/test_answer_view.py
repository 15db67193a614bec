"""Answers as the screens see them: words, findings with places, marks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.ui.reports import (
    not_registered,
    package,
    pair_report,
    photo_report,
    soldered,
    turned,
    unsure,
)
from ui.contract import (
    error_json,
    pair_error_json,
    pair_report_json,
    photo_report_json,
)
from ui.page.answer_view import pair_view, photo_view
from ui.page.marks import moved_package, package_marks, point_back
from ui.pair_steps import CHECK_NAME
from vision.errors import PhotoError
from vision.results import BY_HAND, Bridge, Finding, Joint, Pin1

SHIFT = ((1.0, 0.0, 10.0), (0.0, 1.0, -20.0), (0.0, 0.0, 1.0))


def kinds(view):
    return [mark["kind"] for mark in view["marks"]]


def test_a_photo_says_quality_first_and_where_pin_1_is():
    view = photo_view(photo_report_json(photo_report(package())))
    assert view["state"] == "ok"
    assert view["headline"].startswith("Pin 1: lower left corner, sure to")
    assert [row["text"][:6] for row in view["findings"]] == ["Photo:", "Pin 1:"]
    assert view["findings"][1]["at"] == [100.0, 300.0]
    assert kinds(view) == ["outline", "pin1"] + ["lead"] * 8


def test_a_bad_photo_is_named_before_what_is_right():
    bad = Finding(state="unsure", reasons=("too blurred: rest the phone.",))
    view = photo_view(photo_report_json(photo_report(package(), quality=bad)))
    assert view["findings"][0]["text"] == "Photo: too blurred: rest the phone."
    assert view["state"] == "unsure"


def test_without_pin_1_no_lead_is_numbered():
    view = photo_view(photo_report_json(photo_report(package(pin1=unsure()))))
    assert kinds(view) == ["outline"]
    assert not view["pin1_known"]
    assert view["state"] == "unsure"


def test_pin_1_by_hand_claims_no_measured_confidence():
    by_hand = Pin1(state="ok", confidence=1.0, reasons=(BY_HAND,))
    view = photo_view(photo_report_json(photo_report(package(pin1=by_hand))))
    assert view["headline"] == "Pin 1: lower left corner, set by hand"


def test_a_joint_one_photo_cannot_judge_does_not_hide_pin_1():
    joints = (Joint(lead=3, state="unsure", findings=("glare",)),)
    view = photo_view(photo_report_json(photo_report(package(joints=joints))))
    assert view["state"] == "ok"
    assert [r for r in view["findings"] if r["text"].startswith("Lead 3: cannot tell")]
    faulty = (Joint(lead=3, state="fault", findings=("no fillet",)),)
    view = photo_view(photo_report_json(photo_report(package(joints=faulty))))
    assert view["state"] == "fault"
    assert view["findings"][0]["state"] == "fault"


def test_no_chip_is_no_answer():
    view = photo_view(photo_report_json(photo_report()))
    assert view["state"] == "unsure"
    assert view["marks"] == []
    assert view["outline_px"] is None


@pytest.mark.parametrize("view_of", [photo_view, pair_view])
@pytest.mark.parametrize(
    "answer",
    [
        error_json("x.jpg", PhotoError("x.jpg: <b>too dark</b>\u202e")),
        {},
        {"format": "dotward.look/1", "packages": "none"},
    ],
)
def test_what_cannot_be_read_is_an_error_and_never_ok(view_of, answer):
    view = view_of(answer)
    assert view["state"] == "fault"
    assert view["error"]
    assert "\u202e" not in view["error"]


def test_a_turned_chip_is_a_fault_with_its_place():
    view = pair_view(pair_report_json(turned()))
    assert view["decision"] == "stop"
    assert view["findings"][0]["state"] == "fault"
    assert "180 degrees" in view["findings"][0]["text"]
    assert view["findings"][0]["at"] is not None


def test_marks_of_a_pair_lie_in_the_frame_of_the_before_photo():
    report = pair_report()
    moved = replace(
        report, registration=replace(report.registration, before_to_after=SHIFT)
    )
    view = pair_view(pair_report_json(moved))
    styles = [m["style"] for m in view["marks"] if m["kind"] == "outline"]
    assert styles == ["before", "after"]
    after = next(m for m in view["marks"] if m.get("style") == "after")
    wanted = np.array(report.after_package.outline_px) - (10.0, -20.0)
    assert np.allclose(after["points"], wanted)


def test_a_bridge_is_marked_and_can_be_shown():
    view = pair_view(pair_report_json(soldered()))
    spots = [mark for mark in view["marks"] if mark["kind"] == "spot"]
    named = [row for row in view["findings"] if "bridge between" in row["text"]]
    assert len(spots) == len(named) >= 1
    assert named[0]["at"] is not None
    assert [m for m in view["marks"] if m.get("flagged")]


def test_without_registration_nothing_of_the_after_photo_is_drawn():
    view = pair_view(pair_report_json(not_registered()))
    assert all(mark.get("style") != "after" for mark in view["marks"])


def test_points_go_back_through_the_homography():
    h = np.array([[1.1, 0.2, 5], [-0.1, 0.9, 7], [1e-4, -2e-4, 1]])
    x, y, w = h @ (120.0, 80.0, 1.0)
    assert point_back((x / w, y / w), h) == pytest.approx([120.0, 80.0])


def test_everything_of_a_package_moves_together():
    chip = package(
        bridges=(Bridge(between=(1, 2), confidence=0.9, at_px=(50.0, 60.0)),)
    )
    moved = moved_package(chip, SHIFT)
    assert moved.bridges[0].at_px == pytest.approx((40.0, 80.0))
    assert moved.leads[0].toe_px == pytest.approx(
        np.array(chip.leads[0].toe_px) - (10, -20)
    )
    assert {m["text"] for m in package_marks(chip) if m.get("flagged")} == {"1", "2"}


def test_the_name_in_the_store_is_not_shown():
    view = photo_view(
        error_json("x", PhotoError(f"{'a' * 64}.jpg: too dark; light it."))
    )
    assert view["error"] == "This photo: too dark; light it."


def test_of_a_pair_the_photo_that_failed_is_named():
    line = pair_error_json("x", "y", PhotoError(f"{'b' * 64}.jpg: too dark; light it."))
    line["before"]["sha256"], line["after"]["sha256"] = "a" * 64, "b" * 64
    view = pair_view(line)
    assert view["error"] == "Photo after reflow: too dark; light it."
    assert view["headline"] == "The two photos cannot be compared"


def test_a_note_is_shown_at_the_chip_and_changes_no_decision():
    plain = pair_report()
    said = "12 % of the board beside the chip is darker than before"
    view = pair_view(pair_report_json(replace(plain, notes=(said,))))
    (row,) = [r for r in view["findings"] if r["text"] == f"Note: {said}"]
    assert row["at"] is not None
    assert view["decision"] == plain.decision


def test_the_page_knows_of_a_half_turn_to_tell_of_the_supply():
    assert pair_view(pair_report_json(turned()))["is_half_turned"]
    assert not pair_view(pair_report_json(pair_report()))["is_half_turned"]


NAMED = "named TSSOP-20, but it looks like SOIC-8. Check the name and the chip."


def test_a_name_that_does_not_fit_leads_the_answer_of_a_photo():
    answer = photo_report_json(photo_report(package()))
    answer["named"] = {"state": "unsure", "reasons": [NAMED]}
    view = photo_view(answer)
    assert view["headline"] == "Named TSSOP-20, but it looks like SOIC-8"
    assert (view["state"], view["findings"][0]["state"]) == ("unsure", "unsure")
    assert view["findings"][0]["text"].startswith("Named TSSOP-20, but")
    assert view["next"][0] == CHECK_NAME
    assert any(line.startswith("Pin 1: lower left") for line in view["details"])


@pytest.mark.parametrize(
    "named", [None, "x", {}, {"reasons": "x"}, {"state": "ok", "reasons": []}]
)
def test_a_name_that_fits_or_was_not_read_changes_nothing(named):
    answer = photo_report_json(photo_report(package()))
    plain = photo_view(answer)
    assert photo_view(answer | {"named": named}) == plain


def test_a_name_that_does_not_fit_comes_before_the_faults_of_a_pair():
    doubt = Finding(state="unsure", reasons=(NAMED,))
    pair = replace(soldered(), checks={"package": doubt})
    first, *others = pair_view(pair_report_json(pair))["findings"]
    assert "named TSSOP-20" in first["text"]
    assert others[0]["state"] == "fault"


def test_nothing_is_set_right_from_a_chip_that_may_be_another():
    doubt = Finding(state="unsure", reasons=("any of 3 may be meant",))
    view = photo_view(photo_report_json(replace(photo_report(package()), meant=doubt)))
    assert (view["outline_px"], view["lead_count"]) == (None, None)
    assert not view["pin1_known"]
    (row,) = [r for r in view["findings"] if "Pin 1:" in r["text"]]
    assert row["text"].startswith("The chip found best, which may be another:")


def test_a_photo_in_which_no_lead_was_read_does_not_look_right():
    unread = package(leads=(), joints=(), lead_count=None, px_per_mm=None)
    view = photo_view(photo_report_json(photo_report(unread)))
    assert view["state"] == "unsure"
    assert view["findings"][0]["text"].startswith("Leads: cannot tell")


def test_a_photo_of_no_use_says_so_first():
    bad = Finding(state="fault", reasons=("too blurred: rest the phone.",))
    view = photo_view(photo_report_json(photo_report(package(), quality=bad)))
    assert view["headline"] == "Take the photo again: too blurred: rest the phone"
    assert view["state"] == "unsure"
