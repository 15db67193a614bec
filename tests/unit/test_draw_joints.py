"""Marks on faulty leads: the right place, a word as well as a colour, no crowd."""

from pathlib import Path

import numpy as np
import pytest

from vision.draw.joints import MOST_WORDS, draw_joints, short_words
from vision.draw.view import render, window
from vision.fillets import SHOWED_BEFORE, SHOWS_NOT, UNDER_BODY
from vision.high_rows import IN_HIGH_ROW
from vision.results import Bridge, Joint, Lead, Photo

LEADS = tuple(
    Lead(number=n, toe_px=(80.0 * n, 300.0), heel_px=(80.0 * n, 260.0), width_px=16.0)
    for n in range(1, 9)
)
PHOTO = Photo(
    path=Path("p.jpg"),
    sha256="0" * 64,
    width_px=720,
    height_px=540,
    pixels=np.full((540, 720, 3), 90, np.uint8),
)
LIFTED = "stands clear of its solder"


def drawn(joints, bridges=()):
    view = window([(0.0, 0.0), (719.0, 539.0)], PHOTO, pixels=400_000, air_frac=0.0)
    canvas = render(PHOTO, view)
    draw_joints(canvas, view, joints, LEADS, bridges)
    return canvas, view


@pytest.mark.parametrize(
    ("state", "said", "words"),
    [
        ("fault", LIFTED, "3: lifted"),
        ("unsure", f"may be: {LIFTED}; a photo would settle it", "3: lifted?"),
        ("fault", "foot bent out of the row", "3: bent"),
        ("fault", "little or no solder", "3: little solder"),
        ("unsure", "the lead was not made out here", "3: cannot tell"),
        ("unsure", IN_HIGH_ROW, "3: high row?"),
        ("fault", f"{LIFTED}; {IN_HIGH_ROW}", "3: lifted"),
    ],
)
def test_a_word_says_what_is_the_matter(state, said, words):
    assert short_words(Joint(lead=3, state=state, findings=(said,))) == words


def test_the_mark_lies_on_the_lead():
    plain, view = drawn([])
    marked, _ = drawn([Joint(lead=4, state="fault", findings=(LIFTED,))])
    assert "4: lifted" in [t.words for t in marked.texts]
    x, y = (int(v) for v in view.at((320.0, 280.0)))
    change = np.abs(marked.finish().astype(int) - plain.finish()).max(axis=2)
    near = np.zeros(change.shape, bool)
    near[y - 16 : y + 16, x - 16 : x + 16] = True
    assert (change[near] > 60).mean() > 0.2


def test_sound_leads_and_leads_of_a_bridge_get_no_mark():
    joints = [Joint(lead=1, state="ok"), Joint(lead=2, state="fault", findings=("x",))]
    bridge = Bridge(between=(2, 3), confidence=0.99, at_px=(200.0, 280.0))
    canvas, _ = drawn(joints, (bridge,))
    assert canvas.texts == []


def test_joints_under_a_body_get_no_mark_unless_solder_showed_before():
    joints = [
        Joint(lead=n, state="unsure", findings=(SHOWS_NOT, UNDER_BODY))
        for n in range(1, 8)
    ]
    assert drawn(joints)[0].texts == []
    gone = Joint(lead=8, state="unsure", findings=(SHOWED_BEFORE, UNDER_BODY))
    canvas, _ = drawn([*joints, gone])
    assert {t.words for t in canvas.texts} == {"?", "8: solder gone?"}


def test_many_unjudged_leads_get_signs_without_words():
    joints = [Joint(lead=n, state="unsure", findings=("x",)) for n in range(1, 9)]
    assert len(joints) > MOST_WORDS
    canvas, _ = drawn(joints)
    plain, _ = drawn([])
    assert {t.words for t in canvas.texts} == {"?"}
    assert (canvas.finish() != plain.finish()).any()
