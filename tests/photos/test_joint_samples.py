"""Joints of the sample pictures, whose faults are known exactly."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from vision.pipeline import compare_looks, look
from vision.results import SizeScores

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
BRIDGE_PX = 30.0
pytestmark = pytest.mark.photos


@pytest.fixture(scope="module")
def before():
    return look(SAMPLES / "donor_before.jpg")


def compared(before, name):
    return compare_looks(before, look(SAMPLES / name))


def test_good_joints_are_ok_beside_the_photo_before(before):
    report = compared(before, "after_good.jpg")
    assert report.checks["joints"].state == "ok"
    assert report.checks["bridges"].state == "ok"
    assert report.bridges == ()


def test_the_bridge_is_found_at_its_leads_and_place(before):
    report = compared(before, "after_bridged.jpg")
    assert report.decision == "stop"
    assert [b.between for b in report.bridges] == [(2, 3)]
    leads = {lead.number: lead for lead in report.after_package.leads}
    middle = np.mean([leads[2].toe_px, leads[3].toe_px], axis=0)
    assert np.hypot(*np.subtract(report.bridges[0].at_px, middle)) < BRIDGE_PX


def of_unsure_size(report, family="SOIC"):
    """The same photo, of a chip of which another size is as likely."""
    package = report.packages[0]
    size = package.family, package.variant
    other = ("SOIC", "SOIC-16 3.9x9.9 P1.27")
    unsure = replace(
        package,
        family=family,
        family_confidence=0.5,
        variant=None,
        px_per_mm=None,
        leads=(),
        size_scores=SizeScores({size: 0.0, other: -0.1}),
    )
    return replace(report, packages=(unsure,))


@pytest.mark.parametrize("read_as", ["SOIC", "SSOP"])
def test_a_bridge_stops_a_chip_whose_size_is_not_sure(before, read_as):
    after = of_unsure_size(look(SAMPLES / "after_bridged.jpg"), read_as)
    report = compare_looks(of_unsure_size(before), after)
    assert report.decision == "stop"
    assert [(b.between, b.state) for b in report.bridges] == [((2, 3), "fault")]
    assert "the likeliest size" in report.checks["bridges"].reasons[-1]
    assert report.checks["joints"].state == "unsure"


def test_nothing_is_called_sound_where_the_size_is_not_sure(before):
    after = of_unsure_size(look(SAMPLES / "after_good.jpg"))
    report = compare_looks(of_unsure_size(before), after)
    assert report.bridges == report.joints == ()
    assert report.checks["bridges"].state == report.checks["joints"].state == "unsure"


def with_ball(photo, at_px, radius_px):
    """Lay a shaded ball over a photo."""
    y, x = np.mgrid[: photo.height_px, : photo.width_px]
    u, v = (x - at_px[0]) / radius_px, (y - at_px[1]) / radius_px
    height = np.sqrt(np.clip(1 - u**2 - v**2, 0, 1))
    lit = np.clip(0.75 * height - 0.25 * u - 0.4 * v, 0, 1)
    tone = 40 + 150 * lit**1.5 + 800 * np.clip(lit - 0.85, 0, 1)
    ball = np.repeat(tone[..., None].clip(0, 255).astype(np.uint8), 3, axis=2)
    pixels = np.where((u**2 + v**2 < 1)[..., None], ball, photo.pixels)
    return replace(photo, pixels=pixels)


def test_most_balls_that_came_between_leads_are_doubts_that_name_them(before):
    good = look(SAMPLES / "after_good.jpg")
    package = good.packages[0]
    toes = {lead.number: lead.toe_px for lead in package.leads}
    found = 0
    for first in (1, 2, 3, 5, 6, 7):
        between = np.mean([toes[first], toes[first + 1]], axis=0)
        inward = 0.05 * (np.mean(package.outline_px, axis=0) - between)
        photo = with_ball(good.photo, between + inward, 0.15 * package.px_per_mm)
        report = compare_looks(before, replace(good, photo=photo))
        check = report.checks["bridges"]
        if check.state == "ok":
            continue
        assert f"between leads {first} and {first + 1}" in check.reasons[0]
        assert "ball of solder" in check.reasons[0]
        assert report.decision == "check-by-hand"
        found += 1
    assert found >= 4


def test_one_photo_alone_shows_the_bridge_too():
    package = look(SAMPLES / "after_bridged.jpg").packages[0]
    assert [b.between for b in package.bridges] == [(2, 3)]


def test_a_lifted_lead_is_never_passed_as_sound(before):
    report = compared(before, "after_lifted.jpg")
    lead = next(j for j in report.joints if j.lead == 3)
    assert lead.state != "ok"
    assert report.decision in ("stop", "check-by-hand")
