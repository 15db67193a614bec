"""Sentences: the answer first, signs as words, never more certain than measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.ui.reports import (
    SQUARE,
    not_registered,
    package,
    pair_report,
    photo_report,
    soldered,
    sure,
    turned,
    unsure,
)
from ui import look_words, pair_steps, pair_words, words
from ui.joint_words import UNNUMBERED
from ui.pair_faults import FAULT_WORDS
from vision.errors import PhotoError
from vision.pinouts import load_pinout
from vision.results import Alignment, Bridge, Finding, Joint, Orientation, Overhang

EVERY_CHECK_OK = {
    name: Finding(state="ok")
    for name in ("quality", "registration", "orientation", "alignment", "bridges")
}


def test_the_answer_comes_first():
    answer = look_words.look_answer(photo_report(package()))
    assert answer.headline == (
        "Pin 1: lower left corner, sure to 99.7 %: dimple, silkscreen"
    )
    assert answer.details == ("Chip: SOIC, 8 leads, 41.2 px/mm",)
    assert answer.state == "ok"
    assert "board's own mark" in answer.next_steps[0]


def test_an_unsure_pin1_says_what_is_missing_and_never_a_corner():
    answer = look_words.look_answer(photo_report(package(unsure())))
    assert answer.state == "unsure"
    assert answer.headline.startswith("Pin 1: cannot tell: no dimple")
    assert "corner" not in answer.headline


def test_joints_that_were_not_judged_are_never_passed_over():
    answer = look_words.look_answer(photo_report(package(joints=())))
    assert answer.state == "unsure"
    assert any(line.startswith("Joints: not judged") for line in answer.details)


def test_where_it_is_not_known_which_chip_is_meant_no_pin_1_leads_the_answer():
    doubt = Finding(state="unsure", reasons=("no package in the middle",))
    report = replace(photo_report(package(joints=())), meant=doubt)
    answer = look_words.look_answer(report)
    assert answer.state == "unsure"
    assert answer.headline == (
        "Which chip is meant: cannot tell: no package in the middle"
    )
    assert not words.names_fit(report, dict.fromkeys(range(1, 9), "x"))
    (best,) = [line for line in answer.details if line.startswith("The one found")]
    assert "of the photo: Pin 1: lower left corner" in best


def test_a_fault_of_another_chip_is_named_and_warned_of():
    bridge = Bridge(between=(1, 2), confidence=0.97, at_px=(1, 1))
    answer = look_words.look_answer(photo_report(package(), package(bridges=(bridge,))))
    assert answer.state == "fault"
    assert any("Another chip" in d and "1 and 2" in d for d in answer.details)
    assert answer.next_steps[0] == look_words.LOOK_AT_FAULT
    assert words.DO_NOT_POWER in answer.cautions


def test_no_chip_asks_for_another_photo():
    answer = look_words.look_answer(photo_report())
    assert answer.state == "unsure"
    assert answer.next_steps == (words.RETAKE,)


@pytest.mark.parametrize(
    ("report", "state"),
    [
        (photo_report(package()), "ok"),
        (photo_report(package(unsure())), "unsure"),
        (photo_report(package(), quality=Finding(state="fault")), "unsure"),
        (photo_report(package(joints=(Joint(lead=2, state="fault"),))), "fault"),
        (photo_report(package(joints=(Joint(lead=2, state="unsure"),))), "unsure"),
        (
            photo_report(
                package(),
                package(
                    bridges=(Bridge(between=(1, 2), confidence=0.9, at_px=(1, 1)),)
                ),
            ),
            "fault",
        ),
    ],
)
def test_a_photo_is_as_good_as_its_worst_finding(report, state):
    assert look_words.look_state(report) == state


@pytest.mark.parametrize(
    ("index", "said"),
    [(0, "lower left"), (1, "lower right"), (2, "upper right"), (3, "upper left")],
)
def test_corners_of_an_upright_chip(index, said):
    assert words.corner_words(SQUARE, index) == f"{said} corner"


def test_corners_of_a_chip_on_its_tip():
    tip = ((0.0, 10.0), (10.0, 0.0), (0.0, -10.0), (-10.0, 0.0))
    said = [words.corner_words(tip, k) for k in range(4)]
    assert said == ["bottom corner", "right corner", "top corner", "left corner"]


@pytest.mark.parametrize("theta_deg", range(0, 360, 7))
def test_no_two_corners_are_called_the_same(theta_deg):
    c, s = np.cos(np.radians(theta_deg)), np.sin(np.radians(theta_deg))
    body = np.array([(-2, 1), (2, 1), (2, -1), (-2, -1)]) @ np.array([[c, s], [-s, c]])
    quad = tuple((float(x), float(y)) for x, y in body)
    assert len({words.corner_words(quad, k) for k in range(4)}) == 4


@pytest.mark.parametrize(
    ("dx_mm", "dy_mm", "said"),
    [
        (0.12, -0.05, "0.12 mm to the right, 0.05 mm up"),
        (-0.3, 0.0, "0.30 mm to the left"),
        (0.0, 0.07, "0.07 mm down"),
        (0.0, 0.0, "not moved"),
    ],
)
def test_signs_become_words(dx_mm, dy_mm, said):
    assert pair_words.shift_words(dx_mm, dy_mm) == said


def test_a_shift_within_its_uncertainty_is_not_called_a_shift():
    said = pair_words.shift_words(0.02, 0.01, 0.03)
    assert said == "no shift beyond the 0.03 mm these photos can tell"
    close = Alignment(state="ok", dx_mm=0.02, dy_mm=0.01, u_mm=0.03)
    assert pair_words.shift_tag(close) == ""


def test_counter_clockwise_is_positive():
    assert pair_words.skew_words(1.2) == "skewed 1.2 degrees counter-clockwise"
    assert pair_words.skew_words(-1.2, 0.2) == (
        "skewed 1.2 degrees clockwise, give or take 0.2"
    )
    assert pair_words.skew_words(0.1, 0.2) == "no skew beyond 0.2 degrees"


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.5, "50 %"), (0.987, "99 %"), (0.997, "99.7 %"), (1.0, "over 99.9 %")],
)
def test_certainty_is_never_claimed(share, said):
    assert words.percent(share) == said


def test_a_turned_chip_stops_and_warns():
    answer = pair_words.pair_answer(turned())
    assert answer.state == "fault"
    assert answer.headline == (
        "Stop: the chip is turned by 180 degrees (half a turn) on its board"
    )
    assert words.DO_NOT_POWER in answer.cautions
    assert pair_words.turn_tag(turned().orientation) == "turned 180 degrees"


def test_a_bridge_is_named_in_the_headline():
    answer = pair_words.pair_answer(soldered())
    assert words.DO_NOT_POWER in answer.cautions
    assert "solder bridge between leads 3 and 4" in answer.headline
    assert answer.headline.startswith("Stop:")


FAULTY = Finding(state="fault", reasons=("x",))


@pytest.mark.parametrize(
    ("check", "said"),
    [
        ("orientation", "set it anew"),
        ("alignment", "set it anew"),
        ("lands", "set it anew"),
        ("side", "stand too high"),
    ],
)
def test_what_mends_a_fault_is_said_of_that_fault(check, said):
    answer = pair_words.pair_answer(
        pair_report(checks={check: FAULTY}, decision="stop")
    )
    assert any(said in step for step in answer.next_steps)
    assert answer.next_steps[-1 - (check == "side")] == pair_steps.ONCE_MORE


def test_a_bridge_or_a_bad_joint_does_not_ask_for_the_chip_to_come_off():
    answer = pair_words.pair_answer(soldered())
    assert not any("set it anew" in step for step in answer.next_steps)
    assert any("between leads 3 and 4" in step for step in answer.next_steps)


@pytest.mark.parametrize("pin1", [sure(), unsure()])
def test_leads_counted_from_any_corner_are_said_to_be_so(pin1):
    chip = package(pin1)
    pair = replace(soldered(), before_package=chip, after_package=chip)
    is_said = UNNUMBERED in pair_words.pair_answer(pair).next_steps
    assert is_said == (pin1.state != "ok")
    odd = package(pin1, joints=(Joint(lead=2, state="fault"),))
    is_said = UNNUMBERED in look_words.look_answer(photo_report(odd)).details
    assert is_said == (pin1.state != "ok")
    sound = photo_report(package(pin1))
    assert UNNUMBERED not in look_words.look_answer(sound).details


def test_another_chip_is_named_in_the_headline():
    other = pair_report(checks={"package": Finding(state="fault")}, decision="stop")
    assert FAULT_WORDS["package"] in pair_words.pair_answer(other).headline


def test_what_was_not_judged_is_said_and_asked_for():
    answer = pair_words.pair_answer(pair_report())
    assert answer.state == "unsure"
    assert answer.headline.startswith("Check by hand:")
    line = "Leads on their lands: cannot tell: not judged by this version"
    assert line in answer.details
    assert "leads on their lands" in answer.next_steps[0]


def test_no_fault_seen_is_not_called_proof():
    answer = pair_words.pair_answer(
        pair_report(checks=EVERY_CHECK_OK, decision="no-fault-seen")
    )
    assert answer.state == "ok"
    assert pair_words.AID_ONLY in answer.cautions


def test_a_pair_in_doubt_is_kept_from_power_before_the_first_one_is_spoken_of():
    by_hand = pair_words.pair_answer(pair_report())
    assert by_hand.headline.startswith("Check by hand:")
    asked = "Do not power the board before a person has looked"
    assert by_hand.cautions[0].startswith(asked)
    again = pair_words.pair_answer(not_registered())
    (only,) = again.cautions
    assert only.startswith(asked)


def test_photos_not_laid_over_ask_for_others():
    answer = pair_words.pair_answer(not_registered())
    assert answer.headline.startswith("Take the photo again:")
    assert any("could not be laid over" in line for line in answer.details)
    assert "Place: cannot tell: not laid over" in answer.details
    assert words.RETAKE in answer.next_steps


def test_an_unsure_turn_names_no_turn():
    doubtful = Orientation(state="unsure", turn_deg=180, confidence=0.6)
    assert pair_words.orientation_words(doubtful) == "Way round: cannot tell"
    assert pair_words.turn_tag(doubtful) == ""


def test_pin_names_are_given_only_where_they_fit():
    names = {number: f"P{number}" for number in range(1, 9)}
    fits = photo_report(package())
    assert words.pin_lines(fits, names, "spi")[0].startswith("Pins by spi: 1 P1, 2 P2")
    more = photo_report(package(lead_count=16))
    assert "8 pins and the chip 16 leads" in words.pin_lines(more, names, "spi")[0]
    blind = photo_report(package(unsure()))
    assert "pin 1 is not known" in words.pin_lines(blind, names, "spi")[0]
    assert not words.names_fit(more, names)
    assert not words.names_fit(blind, names)


def test_every_decision_and_state_has_words():
    assert pair_words.DECISION_WORDS.keys() == pair_words.DECISION_STATE.keys()
    for state in pair_words.DECISION_STATE.values():
        assert state in words.STATE_WORDS


def test_an_error_of_ours_is_said_without_jargon_first():
    assert words.error_words(PhotoError("a.jpg: cut")) == "a.jpg: cut"
    said = words.error_words(ZeroDivisionError("x"))
    assert said.startswith("Something went wrong")
    assert "--debug" in said
    assert words.error_words(FileNotFoundError(2, "No such file", "x.jpg")) == (
        "x.jpg: No such file. Check the rights and the medium, or name another place."
    )


def test_cues_against_the_answer_are_not_named():
    assert words.cue_words(sure()) == ("dimple", "silkscreen")


def test_a_lead_over_the_side_of_its_land_is_not_called_off_it():
    over = tuple(
        Overhang(
            lead=lead, side_overhang_frac=frac, u_frac=0.05, limit_frac=0.5, state=state
        )
        for lead, frac, state in (
            (1, 0.1, "ok"), (2, 0.7, "fault"), (3, 0.8, "fault"), (4, 1.2, "fault"),
        )
    )  # fmt: skip
    assert pair_words.pair_faults(pair_report(overhang=over)) == (
        "lead 4 is off the land",
        "leads 2, 3 are over the land's side beyond the limit",
    )


def test_a_half_turn_says_where_the_supply_lies_where_the_pins_are_known():
    def told(report, pinout):
        return " ".join(pair_words.pair_answer(report, pinout).details)

    memory = load_pinout("24xx")
    assert "reverse supply" in told(turned(), memory)
    assert "reverse supply" not in told(turned(), None)
    assert "reverse supply" not in told(pair_report(), memory)
    wide = replace(pair_report().after_package, lead_count=16)
    other = told(replace(turned(), after_package=wide), memory)
    assert "8 pins and the chip 16" in other
    assert "reverse supply" not in other


BLURRED = Finding(
    state="fault",
    reasons=("focus: edges are blurred over 16.7 px; 6.7 px is needed. Tap to focus.",),
)
NAMED = "named TSSOP-20, but it looks like SOIC-8. Check the name and the chip."


def test_a_photo_of_no_use_does_not_lead_with_a_sure_pin_1():
    answer = look_words.look_answer(photo_report(package(), quality=BLURRED))
    assert answer.headline == (
        "Take the photo again: focus: edges are blurred over 16.7 px; 6.7 px is needed"
    )
    assert answer.next_steps == (words.RETAKE,)
    (pin1,) = [line for line in answer.details if "Pin 1:" in line]
    assert pin1.startswith("As far as it can be made out: Pin 1: lower left corner")


@pytest.mark.parametrize("counts_joints", [True, False])
def test_a_photo_in_which_no_lead_was_read_is_not_right(counts_joints):
    unread = package(leads=(), variant=None, px_per_mm=None, lead_count=None)
    report = photo_report(unread)
    assert look_words.look_state(report, counts_joints=counts_joints) == "unsure"


def test_a_retake_says_what_is_wrong_with_which_photo():
    reason = f"after photo: {BLURRED.reasons[0]}"
    pair = pair_report(
        checks={"quality": Finding(state="fault", reasons=(reason,))},
        decision="retake",
        reasons=(reason, "boards: could not be laid over. Take both from above."),
    )
    assert pair_words.pair_answer(pair).headline == (
        "Take the photo again: after photo: focus: edges are blurred over 16.7 px; 6.7 "
        "px is needed; boards: could not be laid over"
    )


def test_beside_a_fault_a_bad_photo_is_called_so():
    checks = {"quality": BLURRED, "orientation": FAULTY}
    pair = replace(turned(), checks=checks)
    assert pair_words.pair_answer(pair).headline.endswith(
        "; also a photo is not good enough"
    )


@pytest.mark.parametrize("decision", ["stop", "check-by-hand"])
def test_a_name_that_does_not_fit_leads_the_answer_of_a_pair(decision):
    doubt = Finding(state="unsure", reasons=("body as before", NAMED))
    pair = replace(soldered(), checks={"package": doubt}, decision=decision)
    answer = pair_words.pair_answer(pair)
    word = pair_words.DECISION_WORDS[decision]
    assert answer.headline.startswith(
        f"{word}: named TSSOP-20, but it looks like SOIC-8; "
    )
    assert answer.next_steps[0] == pair_steps.CHECK_NAME


def test_no_name_no_doubt_about_it():
    other = Finding(state="fault", reasons=("another size of package than before",))
    pair = pair_report(checks={"package": other}, decision="stop")
    assert pair_words.pair_name_doubt(pair) == ""
    assert pair_steps.CHECK_NAME not in pair_words.pair_answer(pair).next_steps
