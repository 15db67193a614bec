"""The shift on the board, held against the exact truth of the demo's photos."""

from __future__ import annotations

import numpy as np
import pytest

from ui.demo_truth import BEFORE, read_truth, sample_folder
from vision.load import load_photo
from vision.pipeline import compare_looks, look

SAMPLES = sample_folder()
PAIRS = {pair.after: pair for pair in read_truth(SAMPLES)[1]}
LEAST_MM = 0.05  # a sixth of what a SOIC may be off
MOST_U_MM = 0.12


@pytest.fixture(scope="module")
def before():
    return look(SAMPLES / BEFORE)


@pytest.fixture(scope="module")
def bare_lands():
    return load_photo(SAMPLES / "donor_lands.jpg")


@pytest.mark.parametrize("after", PAIRS)
def test_the_shift_and_skew_are_those_on_the_board(before, after: str) -> None:
    known = PAIRS[after]
    found = compare_looks(before, look(SAMPLES / after)).alignment
    assert known.dx_mm is not None
    assert found.dx_mm is not None
    for axis in ("dx_mm", "dy_mm"):  # the uncertainty is that of each axis
        error = abs(getattr(found, axis) - getattr(known, axis))
        assert error <= max(found.u_mm, LEAST_MM)
    assert found.u_mm < MOST_U_MM
    assert abs(found.skew_deg - known.skew_deg) <= found.u_deg
    shift = np.hypot(known.dx_mm, known.dy_mm)
    assert found.state != ("ok" if shift > 0.3 else "fault")


def test_leads_on_bare_lands(before, bare_lands) -> None:
    """Which leads lie too near a limit to tell hangs on the processor's rounding."""
    after = look(SAMPLES / "after_good.jpg")
    report = compare_looks(before, after, lands_photo=bare_lands)
    assert report.checks["lands"].state != "fault"
    states = [row.state for row in report.overhang]
    assert states.count("ok") >= 6
    assert states.count("ok") + states.count("unsure") == 8


def test_leads_off_bare_lands(before, bare_lands) -> None:
    after = look(SAMPLES / "after_shifted.jpg")
    report = compare_looks(before, after, lands_photo=bare_lands)
    assert report.checks["lands"].state == "fault"
    states = [row.state for row in report.overhang]
    assert states.count("fault") >= 4  # the light leaves open where the lands lie
    assert states.count("fault") + states.count("unsure") == 8


def test_a_ruler_that_contradicts_the_chip_clears_nothing(before) -> None:
    after = look(SAMPLES / "after_good.jpg")
    assert compare_looks(before, after).alignment.state == "ok"
    ruler = ((100.0, 100.0), (200.0, 100.0), 5.0)  # 20 px/mm; the chip says 87
    found = compare_looks(before, after, ruler=ruler)
    assert found.alignment.state == "unsure"
    assert found.decision != "no-fault-seen"
