"""Joints of the sample pictures, whose faults are known exactly."""

from pathlib import Path

import numpy as np
import pytest

from vision.pipeline import compare_looks, look

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


def test_one_photo_alone_shows_the_bridge_too():
    package = look(SAMPLES / "after_bridged.jpg").packages[0]
    assert [b.between for b in package.bridges] == [(2, 3)]


def test_a_lifted_lead_is_never_passed_as_sound(before):
    report = compared(before, "after_lifted.jpg")
    lead = next(j for j in report.joints if j.lead == 3)
    assert lead.state != "ok"
    assert report.decision in ("stop", "check-by-hand")
