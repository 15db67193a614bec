"""Where the camera stood, by lands and by what stands above them."""

from __future__ import annotations

import numpy as np
import pytest

from vision.planes import View
from vision.settled_view import SlopeTold, fused_view, settled_view

NOTHING = SlopeTold(information=np.zeros((2, 2)), weighed=np.zeros(2))
ON_PLACE = np.zeros((2, 2))


def view(slope: float, sd: float, *, is_mirrored: bool = True) -> View:
    return View(
        camera_mm=(100 * slope, 0.0, 100.0),
        tilt_deg=float(np.degrees(np.arctan(slope))),
        focal_px=3000.0,
        mirror_mm=(-120 * slope, 0.0, 120.0) if is_mirrored else None,
        slope_cov=sd**2 * np.eye(2),
    )


def told(x: float, y: float, sd: float) -> SlopeTold:
    information = np.eye(2) / (2 * sd**2)
    return SlopeTold(information=information, weighed=information @ [x, y])


def slope_of(found: View) -> np.ndarray:
    return np.array(found.camera_mm[:2]) / found.camera_mm[2]


@pytest.mark.parametrize("side", [1, -1])
def test_a_clear_word_settles_the_side(side: int) -> None:
    found = settled_view(view(0.3, 0.02), told(0.2 * side, 0.0, 0.05), ON_PLACE)
    assert slope_of(found) == pytest.approx([0.3 * side, 0.0], abs=0.03)
    assert found.slope_cov[0, 0] < 0.04**2
    assert found.mirror_mm is None


def test_without_a_word_both_sides_stay_possible() -> None:
    found = settled_view(view(0.3, 0.02), NOTHING, ON_PLACE)
    assert slope_of(found) == pytest.approx([0, 0], abs=0.01)
    assert np.sqrt(found.slope_cov[0, 0]) == pytest.approx(0.3, abs=0.03)


def test_an_outline_that_fits_one_side_only_settles_it() -> None:
    found = settled_view(view(0.3, 0.02), NOTHING, np.array([[4.0, 0.0], [0.2, 0.0]]))
    assert slope_of(found) == pytest.approx([-0.3, 0.0], abs=0.03)


def test_nearly_square_on_lands_leave_what_lies_between_possible() -> None:
    unsure = view(0.08, 0.08)
    found = settled_view(unsure, told(0.0, 0.0, 0.03), ON_PLACE)
    assert slope_of(found) == pytest.approx([0, 0], abs=0.01)
    assert np.sqrt(found.slope_cov[0, 0]) < 0.05


def test_two_that_tell_alike_weigh_by_their_variances() -> None:
    found = fused_view(view(0.1, 0.06, is_mirrored=False), told(0.0, 0.05, 0.03))
    assert slope_of(found) == pytest.approx([0.1 * 0.2, 0.05 * 0.8])
    assert np.sqrt(found.slope_cov[0, 0]) == pytest.approx(0.03 * np.sqrt(0.8))
    assert np.allclose(slope_of(fused_view(view(0.1, 0.06), NOTHING)), [0.1, 0.0])
