"""Pictures: labels apart, marks where they belong, one frame for a pair."""

from __future__ import annotations

import io
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from vision.draw import PairWords, blink_picture, draw_package, draw_pair, pair
from vision.draw.canvas import AMBER, SKY, overlap
from vision.draw.labels import lead_labels
from vision.draw.pair import ENLARGEMENTS, enlargement
from vision.draw.view import window
from vision.results import (
    Alignment,
    Cue,
    Finding,
    Lead,
    NotFound,
    Orientation,
    Package,
    PairReport,
    Photo,
    PhotoReport,
    Pin1,
    Registration,
)

WITHIN_PX = 3.0  # half a line's width
COLOUR_NEAR = 40  # anti-aliasing and the JPEG-free canvas leave solid colour this close


def make_photo(pixels):
    rows, cols = pixels.shape[:2]
    return Photo(
        path=Path("p.jpg"),
        sha256="0" * 64,
        width_px=cols,
        height_px=rows,
        pixels=pixels,
    )


def plain_photo(value=90, width=900, height=700):
    return make_photo(np.full((height, width, 3), value, np.uint8))


def turned_points(points, theta_deg, middle):
    c, s = np.cos(np.radians(theta_deg)), np.sin(np.radians(theta_deg))
    return (np.asarray(points, float) @ np.array([[c, -s], [s, c]])) + middle


def make_package(
    per_side=4, *, sides=2, theta_deg=0.0, half=80.0, middle=(450.0, 350.0), pin1="ok"
):
    """Make a body with leads by plain arithmetic, corner 0 lower left at 0 degrees."""
    corners = [(-half, half), (half, half), (half, -half), (-half, -half)]
    frames = [(0, (1, 0), (0, 1)), (1, (0, -1), (1, 0)), (2, (-1, 0), (0, -1))]
    frames.append((3, (0, 1), (-1, 0)))
    used = frames if sides == 4 else [frames[0], frames[2]]
    leads = []
    for corner, along, out in used:
        for k in range(per_side):
            share = 2 * half * (k + 0.5) / per_side
            heel = np.add(corners[corner], np.multiply(along, share))
            toe = heel + np.multiply(out, 30.0)
            heel, toe = turned_points([heel, toe], theta_deg, middle)
            leads.append(
                Lead(
                    number=len(leads) + 1,
                    toe_px=tuple(toe),
                    heel_px=tuple(heel),
                    width_px=5.0,
                )
            )
    outline = turned_points(corners, theta_deg, middle)
    return Package(
        outline_px=tuple(tuple(map(float, c)) for c in outline),
        confidence=0.9,
        family="QFP" if sides == 4 else "SOIC",
        family_confidence=0.9,
        lead_count=len(leads),
        pin1=Pin1(
            state=pin1,
            confidence=0.99,
            evidence=(
                Cue(
                    kind="dimple",
                    at_px=tuple(0.6 * outline[0] + 0.4 * np.asarray(middle)),
                    weight=2.0,
                ),
            ),
        ),
        px_per_mm=40.0,
        leads=tuple(leads),
    )


def make_report(photo, *packages):
    return PhotoReport(photo=photo, quality=Finding(state="ok"), packages=packages)


def near_colour(picture, rgb):
    """Tell for each pixel of a BGR picture whether it has a colour."""
    away = picture.astype(int) - np.array(rgb[::-1])
    return np.abs(away).max(axis=2) < COLOUR_NEAR


@pytest.mark.parametrize("named", [False, True])
@pytest.mark.parametrize("sides", [2, 4])
@settings(max_examples=25, deadline=None)
@given(
    theta_deg=st.floats(-180, 180),
    per_side=st.integers(1, 14),
    size=st.sampled_from([18, 32]),
)
def test_labels_never_overlap(sides, named, theta_deg, per_side, size):
    package = make_package(per_side, sides=sides, theta_deg=theta_deg)
    names = {n: f"NAME{n}" for n in range(1, 1 + len(package.leads))} if named else {}
    view = window(package.outline_px, plain_photo(), pixels=1_000_000, air_frac=0.4)
    boxes = [
        label.text.box for label in lead_labels(package.leads, names, view, size=size)
    ]
    assert len(boxes) == len(package.leads) or not named
    assert not any(overlap(a, b) for a, b in combinations(boxes, 2))


def test_a_label_stands_at_its_own_lead_outside_the_body():
    package = make_package(4)
    view = window(package.outline_px, plain_photo(), pixels=10**6, air_frac=0.4)
    labels = lead_labels(package.leads, {}, view, size=24)
    assert [label.text.words for label in labels] == [str(n) for n in range(1, 9)]
    for label, lead in zip(labels, package.leads, strict=True):
        toe, heel = np.array(view.at(lead.toe_px)), np.array(view.at(lead.heel_px))
        away = np.array(label.text.centre) - toe
        assert away @ (toe - heel) > 0
        assert np.linalg.norm(away) < 3 * 24


def test_of_many_leads_every_fifth_is_numbered():
    package = make_package(25, sides=4)
    view = window(package.outline_px, plain_photo(), pixels=10**6, air_frac=0.4)
    said = [label.text.words for label in lead_labels(package.leads, {}, view, size=20)]
    assert said[:3] == ["1", "5", "10"]
    assert said[-1] == "100"


def test_every_name_has_room_in_the_picture():
    photo = plain_photo()
    names = dict.fromkeys(range(1, 9), "A_RATHER_LONG_NAME")
    wide = draw_package(photo, make_report(photo, make_package()), names)
    bare = draw_package(photo, make_report(photo, make_package()))
    body_wide = near_colour(wide, SKY).any(axis=1).sum() / wide.shape[0]
    body_bare = near_colour(bare, SKY).any(axis=1).sum() / bare.shape[0]
    assert body_wide < body_bare


@pytest.mark.parametrize("theta_deg", [0, 37, 90, 180, 250])
@pytest.mark.parametrize("value", [0, 90, 255])
def test_pin_1_is_marked_at_its_corner_on_any_ground(theta_deg, value):
    photo = plain_photo(value)
    package = make_package(theta_deg=theta_deg)
    picture = draw_package(photo, make_report(photo, package))
    view = window(
        [*package.outline_px, *(lead.toe_px for lead in package.leads)],
        photo,
        pixels=1_400_000,
        air_frac=0.17,
    )
    x, y = (round(v) for v in view.at(package.outline_px[0]))
    assert near_colour(picture, AMBER)[y - 5 : y + 6, x - 5 : x + 6].all()
    for corner in package.outline_px[1:]:
        x, y = (round(v) for v in view.at(corner))
        assert not near_colour(picture, AMBER)[y - 5 : y + 6, x - 5 : x + 6].any()


def test_pin_1_that_is_not_known_is_marked_at_no_corner():
    photo = plain_photo(width=400, height=400)  # too close for an inset
    here = (200.0, 200.0)
    package = make_package(pin1="unsure", middle=here)
    picture = draw_package(photo, make_report(photo, package))
    known = draw_package(photo, make_report(photo, make_package(middle=here)))
    assert near_colour(picture, SKY).sum() < 0.8 * near_colour(known, SKY).sum()
    rows, cols = np.nonzero(near_colour(picture, AMBER))
    middle = np.array(picture.shape[:2]) / 2
    spread = np.abs(np.stack([rows, cols], 1) - middle).max(axis=0)
    assert (spread < 0.2 * middle + 150).all()


def test_a_photo_without_a_chip_is_shown_whole():
    photo = plain_photo(width=640, height=480)
    picture = draw_package(photo, make_report(photo), caption=("No chip found",))
    assert picture.ndim == 3
    assert picture.shape[0] > 400


def test_a_chip_small_in_the_photo_is_enlarged_with_an_inset():
    pixels = np.full((3000, 4000, 3), 200, np.uint8)
    pixels[1000:1200, 2000:2200] = 20
    photo = make_photo(pixels)
    small = make_package(half=100.0, middle=(2100.0, 1100.0))
    picture = draw_package(photo, make_report(photo, small))
    assert (near_colour(picture, (20, 20, 20))).mean() > 0.2
    assert max(picture.shape[:2]) < 1700


def test_a_state_has_a_sign_and_a_caption_a_band():
    photo = plain_photo()
    report = make_report(photo, make_package())
    bare = draw_package(photo, report)
    signs = [
        draw_package(photo, report, caption=("x",), state=state)
        for state in ("ok", "fault", "unsure")
    ]
    assert all(s.shape[0] > bare.shape[0] for s in signs)
    for one, other in combinations(signs, 2):
        grey = [cv2.cvtColor(p, cv2.COLOR_BGR2GRAY).astype(int) for p in (one, other)]
        assert np.abs(grey[0] - grey[1]).max() > 60


def board(seed=3, size=700):
    rng = np.random.default_rng(seed)
    pixels = rng.integers(0, 255, (size // 10, size // 10, 3), dtype=np.uint8)
    return cv2.resize(pixels, (size, size), interpolation=cv2.INTER_CUBIC)


def make_pair(theta_deg=25.0, scale=1.4, turn_deg=0, shift_mm=(0.0, 0.0)):
    """Make a pair whose after photo is the before photo through a known map."""
    before = board()
    c, s = np.cos(np.radians(theta_deg)) * scale, np.sin(np.radians(theta_deg)) * scale
    matrix = np.array([[c, -s, 300.0], [s, c, 60.0], [0, 0, 1.0]])
    after = cv2.warpPerspective(before, matrix, (1400, 1400))
    one = make_package(middle=(350.0, 350.0))
    quad = np.roll(np.asarray(one.outline_px), -turn_deg // 90, axis=0)
    quad += np.asarray(shift_mm) * one.px_per_mm
    seen = np.c_[quad, np.ones(4)] @ matrix.T
    two = replace(one, outline_px=tuple(map(tuple, seen[:, :2])), leads=())
    first, second = make_photo(before), make_photo(after)
    return PairReport(
        before=make_report(first, one),
        after=make_report(second, two),
        before_package=one,
        after_package=two,
        registration=Registration(
            before_to_after=tuple(map(tuple, matrix)), inliers=99, residual_px=0.3
        ),
        orientation=Orientation(
            state="fault" if turn_deg else "ok", turn_deg=turn_deg, confidence=0.99
        ),
        alignment=Alignment(state="ok", dx_mm=shift_mm[0], dy_mm=shift_mm[1]),
    )


def draw(report, **words):
    said = PairWords(**words)
    return draw_pair(report.before.photo, report.after.photo, report, words=said)


def test_before_and_after_lie_in_one_frame():
    report = make_pair()
    frames = Image.open(io.BytesIO(blink_picture(*photos(report), report)))
    assert frames.n_frames == 2
    first = np.asarray(frames.convert("RGB"), float)
    frames.seek(1)
    second = np.asarray(frames.convert("RGB"), float)
    assert first.shape == second.shape
    rows, cols = first.shape[:2]
    centre = np.s_[rows // 3 : 2 * rows // 3, cols // 3 : 2 * cols // 3]
    shift, sure = cv2.phaseCorrelate(
        first[centre].mean(axis=2), second[centre].mean(axis=2)
    )
    assert np.hypot(*shift) < 1.0
    assert sure > 0.5


def photos(report):
    return report.before.photo, report.after.photo


def test_photos_that_cannot_be_laid_over_give_no_blink():
    report = replace(make_pair(), registration=NotFound(reason="too little board"))
    assert blink_picture(*photos(report), report) == NotFound(reason="too little board")
    assert draw(report).ndim == 3


def test_a_turn_is_drawn_and_no_turn_is_not():
    plain = near_colour(draw(make_pair()), AMBER).sum()
    turned = near_colour(draw(make_pair(turn_deg=180), turn="turned"), AMBER).sum()
    assert turned > 1.5 * plain


@pytest.mark.parametrize(
    ("before", "after", "tags"),
    [
        ("ok", "ok", ["pin 1 before", "pin 1 now"]),
        ("ok", "unsure", ["pin 1 before", "pin 1 now"]),
        ("unsure", "ok", ["pin 1 now"]),
        ("unsure", "unsure", []),
    ],
)
def test_a_turn_names_no_corner_pin_1_that_is_not_known(
    monkeypatch, before, after, tags
):
    named = []
    monkeypatch.setattr(pair, "draw_tag", lambda _, words, *rest: named.append(words))
    report = make_pair(turn_deg=180)
    one, two = (
        replace(package, pin1=replace(package.pin1, state=state))
        for package, state in (
            (report.before_package, before),
            (report.after_package, after),
        )
    )
    draw(replace(report, before_package=one, after_package=two), turn="turned")
    assert named == tags


def test_a_shift_arrow_points_the_way_of_the_shift():
    still = draw(make_pair(shift_mm=(0.3, 0.0))).astype(int)
    arrow = draw(make_pair(shift_mm=(0.3, 0.0)), shift="0.30 mm").astype(int)
    changed = np.abs(arrow - still).max(axis=2) > 60
    panel = (still.shape[1] - 8) // 2
    row, middle = still.shape[0] // 2, panel + 8 + panel // 2
    cols = np.nonzero(changed[row - 1 : row + 2].any(axis=0))[0]
    assert cols.max() > middle + 80
    assert cols.min() > middle - 40  # the tail of the arrow


@pytest.mark.parametrize("by_chip", [None, 80.0])
def test_a_shift_is_drawn_by_the_scale_that_it_was_measured_by(by_chip):
    report = make_pair(shift_mm=(0.3, 0.0))
    usual = draw(report, shift="0.30 mm")
    by_ruler = replace(report.alignment, px_per_mm=report.before_package.px_per_mm)
    unsized = replace(report.before_package, px_per_mm=by_chip)
    report = replace(report, before_package=unsized, alignment=by_ruler)
    assert (draw(report, shift="0.30 mm") == usual).all()


@pytest.mark.parametrize(
    ("length_px", "times"), [(120.0, 1), (60.0, 2), (10.0, 10), (1e-3, 50)]
)
def test_a_small_shift_is_enlarged_by_a_round_number(length_px, times):
    assert enlargement(length_px) == times


@given(st.floats(1e-3, 1e4))
def test_an_enlarged_arrow_fits(length_px):
    times = enlargement(length_px)
    assert times in ENLARGEMENTS
    assert times == 1 or length_px * times <= 300


@pytest.mark.parametrize("missing", ["before_package", "after_package"])
def test_a_missing_package_still_gives_a_picture(missing):
    report = replace(make_pair(), **{missing: None})
    assert draw(report, turn="turned", shift="0.1 mm").ndim == 3


@pytest.mark.parametrize(
    ("width", "height", "half", "middle"),
    [
        (1, 1, 0.4, (0.0, 0.0)),
        (60, 40, 12.0, (30.0, 20.0)),
        (4000, 12, 5.0, (3000.0, 6.0)),
        (400, 400, 120.0, (20.0, 390.0)),
        (400, 400, 0.0, (200.0, 200.0)),
    ],
)
def test_odd_photos_and_outlines_still_give_a_picture(width, height, half, middle):
    photo = plain_photo(width=width, height=height)
    package = make_package(half=half, middle=middle)
    names = {n: f"P{n}" for n in range(1, 9)}
    picture = draw_package(photo, make_report(photo, package), names, caption=("x",))
    assert picture.dtype == np.uint8
    assert 100 < max(picture.shape[:2]) < 2500
