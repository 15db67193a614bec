"""From beliefs to states: what is a bridge, what is only a doubt, what is unseen."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from vision import joints
from vision.fillets import SHOWED_BEFORE, SHOWS, UNDER_BODY, perhaps_under_body
from vision.geometry import body_corners_mm
from vision.joint_beliefs import CLASSES, GapBelief, believe
from vision.joint_cuts import ALONE, PAIR
from vision.joints import judge, read_joints, with_joints
from vision.leads import place_leads
from vision.numbering import number_alike
from vision.packages import visible_joints
from vision.results import Finding, Joint, Package, Pin1, Registration
from vision.strips import gap_windows
from vision.tables import families, variants_of
from vision.tabs import NOT_READ, doubt_tabs

SOIC8 = variants_of("SOIC", 8)[0]
QUAD = body_corners_mm(SOIC8.body_x_mm[1], SOIC8.body_y_mm[1]) * 40 + 200
WINDOWS = gap_windows(QUAD, SOIC8)
SOUND = (0.98, 0.005, 0.005, 0.005, 0.005)


def beliefs(bridged=None, leads=None, square=None):
    bridged, leads, square = bridged or {}, leads or {}, square or {}
    return tuple(
        GapBelief(
            window=w,
            bridged=bridged.get(w.first, 0.01),
            square=square.get(w.first, 0.99),
            left=leads.get(w.first, SOUND),
            right=leads.get(w.second, SOUND),
            at_px=(1.0, 2.0),
        )
        for w in WINDOWS
    )


def share(name, value):
    rest = (1 - value) / (len(CLASSES) - 1)
    return tuple(value if c == name else rest for c in CLASSES)


def package(quad=QUAD, *, pin1="ok", variant=SOIC8, confidence=0.99):
    leads, scale = place_leads(np.asarray(quad, float), variant)
    return Package(
        outline_px=tuple((float(x), float(y)) for x, y in quad),
        confidence=0.9,
        family=variant.family,
        family_confidence=confidence,
        lead_count=variant.lead_count,
        pin1=Pin1(state=pin1, confidence=0.99),
        px_per_mm=scale,
        variant=variant.name,
        leads=leads,
    )


def test_all_sound_is_ok():
    seen = judge(beliefs(), ALONE)
    assert seen.joints_check.state == "ok"
    assert seen.bridges_check.state == "ok"
    assert [j.lead for j in seen.joints] == list(range(1, 9))
    assert seen.bridges == ()


def test_a_gap_that_the_photo_before_does_not_show_is_judged_as_on_one_photo():
    doubted = beliefs(bridged={2: 0.8})
    assert judge(doubted, PAIR).bridges_check.state == "fault"
    assert judge(doubted, PAIR, alone={2}).bridges_check.state == "unsure"
    assert judge(doubted, PAIR, alone={3}).bridges_check.state == "fault"


def test_a_bridge_is_named_with_its_leads_and_stops_both():
    seen = judge(beliefs(bridged={2: 0.99}), ALONE)
    assert seen.bridges_check.state == "fault"
    assert "leads 2 and 3" in seen.bridges_check.reasons[0]
    assert [b.between for b in seen.bridges] == [(2, 3)]
    assert {j.lead for j in seen.joints if j.state == "fault"} == {2, 3}


def test_a_doubtful_gap_is_unsure_and_no_bridge():
    doubt = (ALONE.bridge_doubt + ALONE.bridge_fault) / 2
    seen = judge(beliefs(bridged={6: doubt}), ALONE)
    assert seen.bridges_check.state == "unsure"
    assert "6 and 7" in seen.bridges_check.reasons[0]
    assert seen.bridges == ()


def test_beside_the_photo_before_a_doubtful_gap_is_named_but_stops_nothing():
    seen = judge(beliefs(bridged={6: 0.6}), PAIR)
    assert seen.bridges_check.state == "unsure"
    assert [(b.between, b.confidence) for b in seen.bridges] == [((6, 7), 0.6)]
    assert all(j.state == "ok" for j in seen.joints)


def test_something_new_in_a_gap_is_looked_at_even_if_the_network_sees_no_bridge():
    changed = tuple(replace(b, is_changed=b.window.first == 6) for b in beliefs())
    seen = judge(changed, PAIR)
    assert seen.bridges_check.state == "unsure"
    assert "6 and 7 something is new" in seen.bridges_check.reasons[0]
    assert seen.bridges == ()


def test_a_gap_that_looked_joined_before_is_only_a_doubt_unless_it_changed():
    now, before = beliefs(bridged={6: 0.97}), beliefs(bridged={6: 0.9})
    assert judge(now, PAIR).bridges_check.state == "fault"
    seen = judge(now, PAIR, usual=before)
    assert seen.bridges_check.state == "unsure"
    assert [b.state for b in seen.bridges] == ["unsure"]
    changed = tuple(replace(b, is_changed=b.window.first == 6) for b in now)
    assert judge(changed, PAIR, usual=before).bridges_check.state == "fault"


def test_a_lead_counts_as_it_looks_in_the_window_that_shows_it_worse():
    seen = beliefs()
    sound, lifted = seen[0].right, share("lifted", 0.97)
    one = tuple(replace(b, left=lifted) if b.window.first == 2 else b for b in seen)
    assert sound[0] > PAIR.sound
    assert judge(one, PAIR).joints[1].state == "fault"


def test_a_gap_that_was_not_made_out_is_never_ok():
    seen = judge(beliefs(bridged={5: 0.99}, square={5: 0.02, 6: 0.02}), ALONE)
    assert seen.bridges_check.state == "unsure"
    assert seen.bridges == ()
    assert next(j for j in seen.joints if j.lead == 5).state == "unsure"


@pytest.mark.parametrize("name", ["lifted", "bent", "little"])
def test_a_sure_fault_of_a_lead_is_a_fault(name):
    seen = judge(beliefs(leads={3: share(name, 0.97)}), ALONE)
    assert seen.joints_check.state == "fault"
    assert seen.joints_check.reasons[0].startswith("lead 3:")


def test_a_doubtful_lead_asks_for_a_look_from_a_low_angle():
    seen = judge(beliefs(leads={7: share("lifted", 0.6)}), ALONE)
    assert seen.joints_check.state == "unsure"
    assert "low angle" in seen.joints_check.reasons[0]


def test_a_lead_that_looked_just_as_odd_before_is_in_no_doubt():
    odd = beliefs(leads={7: share("bent", 0.5)})
    seen = judge(odd, PAIR, usual=odd)
    assert seen.joints_check.state == "ok"
    assert seen.joints[6].findings == ("looks as it did before",)
    other = beliefs(leads={7: share("lifted", 0.5)})
    assert judge(odd, PAIR, usual=other).joints_check.state == "unsure"
    grown = beliefs(leads={7: (0.02, 0.46, 0.02, 0.02, 0.48)})
    before = beliefs(leads={7: (0.55, 0.02, 0.01, 0.01, 0.41)})
    assert judge(grown, PAIR, usual=before).joints_check.state == "unsure"
    sure = beliefs(leads={7: share("bent", 0.97)})
    assert judge(sure, PAIR, usual=sure).joints_check.state == "fault"


def test_a_wide_tab_is_never_called_sound():
    (sot,) = (v for v in variants_of("SOT", 4) if v.name.startswith("SOT-223"))
    read = tuple(Joint(lead=n, state="ok") for n in range(1, 5))
    assert [j.state for j in doubt_tabs(read, sot)] == ["ok"] * 3 + ["unsure"]
    assert doubt_tabs(read, SOIC8) == read
    quad = body_corners_mm(sot.body_x_mm[1], sot.body_y_mm[1]) * 40 + 250
    seen = read_joints(np.full((700, 700, 3), 60, np.uint8), package(quad, variant=sot))
    assert seen.joints[3].findings == (NOT_READ,)
    assert any("lead 4: a wide tab" in said for said in seen.joints_check.reasons)


def test_the_row_of_a_tilted_chip_is_named_and_not_called_sound(monkeypatch):
    lifted = beliefs(leads={n: share("lifted", 0.97) for n in (1, 2, 3)})
    read = judge(lifted, ALONE)
    assert read.joints[3].state == "ok"
    monkeypatch.setattr(joints, "_judged", lambda _seen: read)
    found = read_joints(np.full((600, 600, 3), 60, np.uint8), package())
    assert found.joints_check.state == "fault"
    assert "leads 1 to 4 seem to stand high" in found.joints_check.reasons[0]
    assert found.joints[3].state == "unsure"


def test_too_much_solder_is_looked_at_by_eye_and_stops_nothing():
    seen = judge(beliefs(leads={1: share("much", 0.99)}), ALONE)
    assert seen.joints_check.state == "unsure"


def test_no_window_is_no_judgement():
    seen = judge((), ALONE)
    assert seen.joints_check.state == "unsure"
    assert seen.bridges_check.state == "unsure"


def test_every_lead_of_the_largest_part_is_judged():
    largest = max(
        (v for f in families() for v in variants_of(f) if v.lead_style == "gull_wing"),
        key=lambda v: v.lead_count,
    )
    size = max(largest.body_x_mm[1], largest.body_y_mm[1]) + 6
    scale = 14 / largest.pitch_mm
    quad = body_corners_mm(largest.body_x_mm[1], largest.body_y_mm[1]) * scale
    quad += size * scale / 2
    blank = np.full((int(size * scale), int(size * scale), 3), 90, np.uint8)
    seen = read_joints(blank, package(quad, variant=largest))
    assert len(seen.joints) == largest.lead_count


def test_nothing_is_said_of_a_photo_that_is_too_coarse():
    small = package(QUAD / 10)
    seen = read_joints(np.zeros((60, 60, 3), np.uint8), small)
    assert seen.bridges_check.state == "unsure"
    assert "px needed" in seen.bridges_check.reasons[0]
    assert all(j.state == "unsure" for j in seen.joints)


QFN = variants_of("QFN")[0]


def drawn_qfn(*, joined=(), dark=()):
    """Draw bright ends of lands beside a dark body on a green board."""
    scale, middle = 40.0, 200.0
    picture = np.full((400, 400, 3), (40, 90, 30), np.uint8)
    places = visible_joints(QFN)
    for place in places:
        root, toe = (
            np.array(p) * scale + middle for p in (place.root_mm, place.toe_mm)
        )
        if place.number not in dark:
            a, b = (np.round(p).astype(int) for p in (root, toe))
            cv2.line(picture, tuple(a), tuple(b), (205, 215, 220), 9)
    for first, second in joined:
        ends = [
            np.array(places[n - 1].root_mm) * 0.4 + np.array(places[n - 1].toe_mm) * 0.6
            for n in (first, second)
        ]
        a, b = (np.round(p * scale + middle).astype(int) for p in ends)
        cv2.line(picture, tuple(a), tuple(b), (195, 205, 215), 9)
    half = QFN.body_x_mm[1] / 2 * scale
    low, high = int(middle - half), int(middle + half)
    picture[low:high, low:high] = 35
    noise = np.random.default_rng(1).normal(0, 3, picture.shape)
    return cv2.GaussianBlur(
        np.clip(picture + noise, 0, 255).astype(np.uint8), (0, 0), 1
    )


def qfn_package():
    size = QFN.body_x_mm[1], QFN.body_y_mm[1]
    return package(body_corners_mm(*size) * 40 + 200, variant=QFN)


def test_of_leadless_joints_only_what_shows_beside_the_body_is_told():
    picture = drawn_qfn(dark=(3, 20))
    seen = read_joints(picture, qfn_package())
    assert seen.bridges == ()
    assert {j.state for j in seen.joints} == {"unsure"}
    shows = [j.lead for j in seen.joints if SHOWS in j.findings]
    assert shows == [n for n in range(1, 33) if n not in (3, 20)]
    for check in (seen.joints_check, seen.bridges_check):
        assert check.state == "unsure"
        assert UNDER_BODY in check.reasons


def test_joints_that_may_lie_under_a_body_are_not_called_sound():
    sound = Finding(state="ok", reasons=("64 joints look sound",))
    doubt = perhaps_under_body(sound, 0.3)
    assert doubt.state == "unsure"
    assert "30% likely" in doubt.reasons[0]
    assert perhaps_under_body(sound, 0.01) is sound
    fault = Finding(state="fault", reasons=("lead 3",))
    assert perhaps_under_body(fault, 0.3) is fault


def test_solder_beside_a_leadless_body_that_joins_two_leads_is_a_fault():
    before, after = drawn_qfn(), drawn_qfn(joined=[(5, 6)])
    seen = read_joints(after, qfn_package(), before=(before, np.eye(3)))
    assert seen.bridges_check.state == "fault"
    assert [b.between for b in seen.bridges] == [(5, 6)]
    assert [j.lead for j in seen.joints if j.state == "fault"] == [5, 6]


def test_solder_that_showed_beside_a_leadless_body_before_is_missed():
    seen = read_joints(
        drawn_qfn(dark=(7,)), qfn_package(), before=(drawn_qfn(), np.eye(3))
    )
    assert [j.lead for j in seen.joints if SHOWED_BEFORE in j.findings] == [7]
    assert "lead 7" in seen.joints_check.reasons[0]
    assert seen.joints_check.state == "unsure"


@pytest.mark.parametrize(
    ("family", "said"), [("PLCC", "under the body"), ("DIP", "other side of the board")]
)
def test_joints_of_other_leads_are_said_to_be_unseen(family, said):
    variant = variants_of(family)[0]
    quad = body_corners_mm(variant.body_x_mm[1], variant.body_y_mm[1]) * 20 + 300
    seen = read_joints(
        np.zeros((600, 600, 3), np.uint8), package(quad, variant=variant)
    )
    assert seen.joints_check.state == "unsure"
    assert said in seen.joints_check.reasons[0]


def test_a_package_without_a_size_is_left_alone():
    bare = replace(package(), leads=(), variant=None)
    assert with_joints(np.zeros((400, 400, 3), np.uint8), (bare,)) == (bare,)
    assert (
        read_joints(np.zeros((400, 400, 3), np.uint8), bare).joints_check.state
        == "unsure"
    )


def test_packages_beside_the_one_meant_are_judged_while_they_are_few():
    picture = np.full((400, 400, 3), 90, np.uint8)
    many = with_joints(picture, (package(),) * 12)
    judged = [bool(p.joints) for p in many]
    assert judged == [True] * 9 + [False] * 3


def test_the_network_says_nothing_sure_of_an_empty_picture():
    seen = read_joints(np.full((400, 400, 3), 90, np.uint8), package())
    assert seen.bridges == ()
    assert seen.bridges_check.state == "unsure"
    assert believe(np.zeros((9, 9, 3), np.uint8), ()) == ()


def moved_by(px):
    return Registration(
        before_to_after=((1.0, 0.0, px), (0.0, 1.0, px), (0.0, 0.0, 1.0)),
        inliers=200,
        residual_px=0.3,
    )


@pytest.mark.parametrize("turn_deg", [0, 180])
def test_leads_after_are_numbered_from_pin_1_before(turn_deg):
    before = package()
    shuffled = np.roll(QUAD, 2, axis=0) + 3.0
    after = replace(package(shuffled, pin1="unsure"), confidence=0.9)
    _, numbered = number_alike(before, after, moved_by(3.0), turn_deg)
    expected = QUAD[turn_deg // 90 % 4] + 3.0
    assert numbered.outline_px[0] == pytest.approx(tuple(expected))


def test_without_pin_1_before_the_chip_after_keeps_its_own():
    after = package(np.roll(QUAD, 2, axis=0))
    before = package(pin1="unsure")
    assert number_alike(before, after, moved_by(0.0), 0)[1] == after
