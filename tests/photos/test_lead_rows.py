"""Rows whose windows lie beside their gaps are found again, or said to be lost."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from vision.geometry import apply_homography
from vision.joints import read_joints
from vision.lead_rows import moved_leads, see_gaps
from vision.pipeline import look
from vision.strips import MIDDLE_COL, TOE_ROW, gap_windows
from vision.tables import variant_named

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
NEAR_PITCHES = 0.2
pytestmark = pytest.mark.photos


@pytest.fixture(scope="module")
def good():
    report = look(SAMPLES / "after_good.jpg", reads_joints=False)
    return report.photo.pixels, report.packages[0]


def size_of(package):
    return variant_named(package.family, package.variant)


def middles(windows):
    at = [[MIDDLE_COL, TOE_ROW]]
    return np.array([apply_homography(w.to_photo, at)[0] for w in windows])


def along(package):
    """One pitch along the first row, in the photo."""
    toes = {lead.number: np.array(lead.toe_px) for lead in package.leads}
    return (toes[4] - toes[1]) / 3


def moved(package, step_px):
    corners = tuple((x + step_px[0], y + step_px[1]) for x, y in package.outline_px)
    return replace(package, outline_px=corners)


@pytest.mark.parametrize("pitches", [-0.5, -0.4, 0.4, 0.5])
def test_rows_beside_their_gaps_are_moved_onto_them(good, pitches):
    pixels, package = good
    step = pitches * along(package)
    true = gap_windows(package.outline_px, size_of(package))
    off = gap_windows(moved(package, step).outline_px, size_of(package))
    seen = see_gaps(pixels, off)
    left = np.linalg.norm(middles(seen.windows) - middles(true), axis=1)
    assert left.max() < NEAR_PITCHES * np.linalg.norm(along(package))
    assert min(b.square for b in seen.beliefs) > 0.5


def test_rows_that_are_made_out_stay_where_they_are(good):
    pixels, package = good
    windows = gap_windows(package.outline_px, size_of(package))
    seen = see_gaps(pixels, windows)
    assert seen.moves == ()
    assert all(a is b for a, b in zip(seen.windows, windows, strict=True))


def test_where_there_are_no_leads_nothing_moves_and_nothing_is_passed(good):
    pixels, package = good
    empty = np.full_like(pixels, 90)
    windows = gap_windows(package.outline_px, size_of(package))
    assert see_gaps(empty, windows).moves == ()
    assert read_joints(empty, package).bridges_check.state == "unsure"


def test_a_bridge_is_found_from_an_outline_that_is_off():
    report = look(SAMPLES / "after_bridged.jpg", reads_joints=False)
    package = report.packages[0]
    off = moved(package, 0.4 * along(package))
    seen = read_joints(report.photo.pixels, off)
    assert [b.between for b in seen.bridges] == [(2, 3)]


def test_leads_move_with_their_windows_and_others_stay(good):
    pixels, package = good
    step = 0.4 * along(package)
    drawn = [
        replace(
            lead,
            toe_px=tuple(np.add(lead.toe_px, step)),
            heel_px=tuple(np.add(lead.heel_px, step)),
        )
        for lead in package.leads
    ]
    moves = read_joints(pixels, moved(package, step)).moves
    found = moved_leads(drawn, moves)
    for lead, true in zip(found, package.leads, strict=True):
        apart = np.subtract(lead.toe_px, true.toe_px)
        assert np.linalg.norm(apart) < NEAR_PITCHES * np.linalg.norm(along(package))
        assert np.subtract(lead.heel_px, lead.toe_px) == pytest.approx(
            np.subtract(true.heel_px, true.toe_px)
        )
    assert moved_leads(package.leads, moves) == package.leads
