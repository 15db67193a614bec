"""Sentences about joints: the same said once, doubt told from certainty."""

from dataclasses import replace

import pytest

from tests.unit.ui.reports import package, photo_report
from ui.joint_words import bridge_words, joint_groups, leads_words
from ui.look_words import look_answer, look_state
from vision.results import Bridge, Joint
from vision.tables import variants_of

UNSEEN = "joints under the body cannot be seen from outside"


@pytest.mark.parametrize(
    ("leads", "words"),
    [
        ([3], "lead 3"),
        ([3, 4], "leads 3, 4"),
        ([1, 2, 3, 4, 7], "leads 1 to 4, 7"),
        (list(range(1, 49)), "leads 1 to 48"),
    ],
)
def test_leads_are_listed_shortly(leads, words):
    assert leads_words(leads) == words


def test_the_same_is_said_of_many_leads_once():
    joints = [Joint(lead=n, state="unsure", findings=(UNSEEN,)) for n in (1, 2, 3)]
    joints += [Joint(lead=4, state="ok"), Joint(lead=5, state="fault", findings=("x",))]
    assert [[j.lead for j in g] for g in joint_groups(joints)] == [[1, 2, 3], [5]]


def test_a_doubtful_bridge_is_said_to_be_one():
    sure = Bridge(between=(2, 3), confidence=0.97, at_px=(0.0, 0.0))
    assert bridge_words(sure) == "solder bridge between leads 2 and 3"
    doubt = replace(sure, state="unsure")
    assert bridge_words(doubt) == "perhaps solder between leads 2 and 3"


def with_joints(*joints):
    return photo_report(package(joints=joints))


def test_joints_that_nobody_can_see_are_said_but_do_not_spoil_pin_1():
    unseen = [Joint(lead=n, state="unsure", findings=(UNSEEN,)) for n in range(1, 9)]
    report = with_joints(*unseen)
    assert look_state(report) == "unsure"  # joints that a better photo would show
    (leadless, *_) = variants_of("SON", 8)
    under = photo_report(
        package(family="SON", variant=leadless.name, joints=tuple(unseen))
    )
    assert look_state(under) == "ok"
    lines = [d for d in look_answer(report).details if UNSEEN in d]
    assert lines == [f"Leads 1 to 8: cannot tell: {UNSEEN}"]


@pytest.mark.parametrize(("state", "told"), [("unsure", "unsure"), ("fault", "fault")])
def test_a_lead_in_doubt_among_sound_ones_counts(state, told):
    report = with_joints(
        Joint(lead=1, state="ok"), Joint(lead=2, state=state, findings=("x",))
    )
    assert look_state(report) == told
