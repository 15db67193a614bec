"""Pictures whose trouble is known because the test made it."""

import cv2
import numpy as np
import pytest

from tests.tolerances import FOCUS_SIGMA_SHARE
from vision.quality import assess_quality, edge_blur_px

BODY = np.array([(220, 140), (220, 340), (420, 340), (420, 140)], dtype=float)
PITCH_PX = 50.0


def chip(blur_px=0.6, noise_levels=2.0, texture_levels=6.0, size=1):
    """A dark body with four bright leads a side on a green board, BGR."""
    rng = np.random.default_rng(7)
    picture = np.empty((480, 640, 3), np.float32)
    picture[:] = (60, 110, 50)
    for i in range(4):
        row = 155 + round(i * PITCH_PX)
        picture[row : row + 20, 170:220] = picture[row : row + 20, 420:470] = 200
    picture[140:340, 220:420] = 45
    cv2.circle(picture, (245, 165), 8, (90, 90, 90), -1)
    picture += rng.normal(0, texture_levels, (480, 640, 1)).astype(np.float32)
    picture = cv2.GaussianBlur(picture, (0, 0), blur_px)
    picture += rng.normal(0, noise_levels, picture.shape).astype(np.float32)
    picture = np.clip(picture, 0, 255).astype(np.uint8)
    return cv2.resize(picture, None, fx=size, fy=size, interpolation=cv2.INTER_CUBIC)


def why(finding):
    return [reason.split(":")[0] for reason in finding.reasons]


@pytest.mark.parametrize("noise_levels", [0, 3, 8])
@pytest.mark.parametrize("texture_levels", [0, 10, 25])
def test_a_sharp_chip_passes_whatever_its_texture(noise_levels, texture_levels):
    picture = chip(noise_levels=noise_levels, texture_levels=texture_levels)
    finding = assess_quality(picture, BODY, PITCH_PX)
    assert (finding.state, finding.reasons) == ("ok", ())
    assert assess_quality(picture).state == "ok"


@pytest.mark.parametrize("texture_levels", [0, 25])
@pytest.mark.parametrize(
    ("blur_px", "state"), [(1.5, "ok"), (5.5, "unsure"), (12, "fault"), (20, "fault")]
)
def test_blur_is_judged_against_body_and_pitch(blur_px, state, texture_levels):
    finding = assess_quality(chip(blur_px, texture_levels=texture_levels), BODY)
    assert finding.state == state
    assert why(finding) == ([] if state == "ok" else ["focus"])


def test_a_finer_pitch_needs_a_sharper_photo():
    picture = chip(3.0)
    assert assess_quality(picture, BODY, PITCH_PX).state == "ok"
    assert sorted(why(assess_quality(picture, BODY, 11.0))) == ["focus", "pixels"]


@pytest.mark.parametrize("noise_levels", [0, 5])
@pytest.mark.parametrize("blur_px", [1.0, 1.5, 2.0, 3.0, 4.0])
def test_the_blur_measured_is_the_blur_made(blur_px, noise_levels):
    grey = cv2.cvtColor(chip(blur_px, noise_levels, 0.0), cv2.COLOR_BGR2GRAY)
    assert edge_blur_px(grey) == pytest.approx(blur_px, rel=FOCUS_SIGMA_SHARE)


def test_size_does_not_matter_where_the_blur_grows_with_it():
    small = assess_quality(chip(7.0), BODY)
    large = assess_quality(chip(7.0, size=4), BODY * 4)
    assert why(small) == why(large) == ["focus"]
    assert small.state == large.state


def test_a_picture_without_edges_is_unsure():
    finding = assess_quality(np.full((480, 640, 3), 128, np.uint8))
    assert finding.state == "unsure"
    assert "no clear edge" in finding.reasons[0]


@pytest.mark.parametrize(
    ("side_px", "state"), [(30, "ok"), (75, "unsure"), (130, "fault")]
)
def test_glare_on_the_body(side_px, state):
    picture = chip()
    picture[200 : 200 + side_px, 250 : 250 + side_px] = 255
    finding = assess_quality(picture, BODY)
    assert finding.state == state
    assert why(finding) == ([] if state == "ok" else ["glare"])
    assert all("of the body is burnt out" in reason for reason in finding.reasons)


def test_glare_on_the_leads():
    picture = chip()
    picture[:, 425:] = picture[:, :215] = 255
    finding = assess_quality(picture, BODY)
    assert why(finding) == ["glare"]
    assert "of the leads is burnt out" in finding.reasons[0]


def test_white_paper_beside_the_board_does_no_harm():
    picture = np.full((960, 1280, 3), 255, np.uint8)
    picture[200:680, 200:840] = chip()
    assert assess_quality(picture).state == "ok"


@pytest.mark.parametrize(
    ("gain", "lift", "state"),
    [
        (0.12, 0, "fault"),
        (0.18, 0, "unsure"),
        (0.1, 200, "unsure"),
        (0.02, 240, "fault"),
    ],
)
def test_exposure(gain, lift, state):
    picture = np.clip(chip(noise_levels=0) * gain + lift, 0, 255).astype(np.uint8)
    finding = assess_quality(picture, BODY)
    assert finding.state == state
    assert "exposure" in why(finding)


@pytest.mark.parametrize(
    ("pitch_px", "reasons"), [(40.0, []), (12.0, []), (11.0, ["pixels"])]
)
def test_three_pixels_across_a_lead(pitch_px, reasons):
    finding = assess_quality(chip(0.3), BODY, pitch_px)
    assert why(finding) == reasons
    assert all("3 px needed" in reason for reason in finding.reasons)


def test_every_reason_says_what_was_seen_what_is_needed_and_what_to_do():
    picture = chip(12.0)
    picture[200:300, 250:350] = 255
    bright = assess_quality(cv2.GaussianBlur(picture, (0, 0), 2.0), BODY, 8.0)
    dark = assess_quality((chip(0.6) * 0.12).astype(np.uint8), BODY)
    assert {*why(bright), *why(dark)} == {"focus", "glare", "pixels", "exposure"}
    for reason in (*bright.reasons, *dark.reasons):
        assert "need" in reason
        assert ": " in reason
        assert ". " in reason
        assert reason.endswith(".")


def test_an_outline_outside_the_photo_is_our_mistake():
    with pytest.raises(ValueError, match="outside"):
        assess_quality(chip(), BODY + 5000)


def test_an_outline_over_the_edge_is_judged_by_what_is_there():
    assert assess_quality(chip(), BODY - (250, 160)).state in ("ok", "unsure")
