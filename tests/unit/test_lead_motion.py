from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.leaning_views import (
    FOOT_MM,
    SHOULDER_MM,
    Pose,
    photograph,
    same_board,
)
from tests.tolerances import LEADS_MM, LEADS_SKEW_DEG
from vision.compare import Comparison, compare_packages
from vision.foot_places import find_feet
from vision.lead_motion import LayerMotion, LeadMotion, measure_leads
from vision.lead_patches import LeadFrame, frame_leads
from vision.results import NotFound

MOVED = Pose(0.21, -0.14, 0.8)
TILTED = Pose(0.21, -0.14, 0.8, lean=(0.18, -0.12), light=0.8)
FROM_THE_LEFT = Pose(lean=(-0.1, 0.05))


def framed(before: Pose, after: Pose) -> LeadFrame:
    (one, package), (two, _) = photograph(before, 1), photograph(after, 2)
    frame = frame_leads(one, package, two, same_board())
    assert isinstance(frame, LeadFrame)
    return frame


def motion(before: Pose, after: Pose) -> LeadMotion:
    lean = np.subtract(after.lean, before.lean) * SHOULDER_MM
    guess = np.array([after.dx_mm - before.dx_mm, after.dy_mm - before.dy_mm]) + lean
    return measure_leads(
        framed(before, after), guess + 0.04, after.skew_deg - before.skew_deg
    )


def compared(before: Pose, after: Pose) -> Comparison:
    (one, first), (two, second) = photograph(before, 1), photograph(after, 2)
    return compare_packages(one, first, two, second, same_board())


@pytest.mark.parametrize("after", [Pose(), MOVED, TILTED])
@pytest.mark.parametrize("before", [Pose(), FROM_THE_LEFT])
def test_shoulders_and_feet_move_by_shift_and_parallax(before, after) -> None:
    found = motion(before, after)
    true = np.array([after.dx_mm - before.dx_mm, after.dy_mm - before.dy_mm])
    lean = np.subtract(after.lean, before.lean)
    for layer, height in ((found.shoulder, SHOULDER_MM), (found.foot, FOOT_MM)):
        assert isinstance(layer, LayerMotion)
        assert layer.shift_mm == pytest.approx(true + lean * height, abs=LEADS_MM)
        assert layer.skew_deg == pytest.approx(after.skew_deg, abs=LEADS_SKEW_DEG)
        assert layer.odd == ()


def test_a_bent_lead_stands_out_and_does_not_pull_the_rest() -> None:
    found = motion(Pose(), dataclasses.replace(MOVED, bent={3: 0.1})).foot
    assert isinstance(found, LayerMotion)
    assert found.odd == (3,)
    assert found.shift_mm == pytest.approx((0.21, -0.14), abs=LEADS_MM)


def test_feet_are_found_beside_their_drawing_in_a_leaning_view() -> None:
    frame = framed(Pose(lean=(0.2, -0.15)), Pose())
    found = find_feet(frame.before, frame.to_before, frame.sites, frame.px_per_mm)
    # The drawing lies on the outline, which stands higher than the feet.
    wanted = np.array([0.2, -0.15]) * (FOOT_MM - SHOULDER_MM)
    assert np.median(found.steps_mm, axis=0) == pytest.approx(wanted, abs=0.03)


@pytest.mark.parametrize("before", [Pose(), FROM_THE_LEFT])
@pytest.mark.parametrize("after", [Pose(), MOVED, TILTED])
def test_the_shift_is_that_on_the_board_however_the_views_lean(before, after) -> None:
    found = compared(before, after).alignment
    error = np.hypot(
        found.dx_mm - (after.dx_mm - before.dx_mm),
        found.dy_mm - (after.dy_mm - before.dy_mm),
    )
    assert error <= found.u_mm
    assert error < 0.06
    assert found.u_mm < 0.1
    assert abs(found.skew_deg - after.skew_deg) <= found.u_deg


def test_without_leads_the_parallax_stays_open_and_is_said() -> None:
    (one, first), (two, second) = photograph(Pose(), 1), photograph(TILTED, 2)
    first = dataclasses.replace(first, leads=())
    found = compare_packages(one, first, two, second, same_board()).alignment
    error = np.hypot(found.dx_mm - TILTED.dx_mm, found.dy_mm - TILTED.dy_mm)
    assert error > 0.1
    assert error <= found.u_mm
    assert found.state == "unsure"
    assert "tilted differently" in found.reasons[-1]


@pytest.mark.parametrize("dx_mm", [0.35, 0.5])
def test_lands_are_not_taken_for_leads_that_cannot_be_seen(dx_mm: float) -> None:
    found = compared(Pose(with_leads=False), Pose(dx_mm, with_leads=False)).alignment
    assert found.state != "ok"


def test_a_lead_that_shows_nothing_is_not_alike() -> None:
    """OpenCV calls a plain piece of picture wholly like any other."""
    frame = framed(Pose(), Pose())
    grey = np.full_like(frame.before.gray, 200)
    plain = dataclasses.replace(frame.before, gray=grey)
    for before, after in ((plain, frame.after), (plain, plain)):
        burnt = dataclasses.replace(frame, before=before, after=after)
        assert not measure_leads(burnt, np.zeros(2), 0.0).shoulder


def test_leads_of_unknown_size_or_too_small_are_not_read() -> None:
    photo, package = photograph(Pose())
    unknown = dataclasses.replace(package, px_per_mm=None, leads=())
    assert isinstance(frame_leads(photo, unknown, photo, same_board()), NotFound)
    small = dataclasses.replace(photo, pixels=photo.pixels[::6, ::6].copy())
    outline = tuple((x / 6, y / 6) for x, y in package.outline_px)
    far = dataclasses.replace(
        package,
        outline_px=outline,
        px_per_mm=package.px_per_mm / 6,
        leads=tuple(
            dataclasses.replace(
                lead,
                toe_px=(lead.toe_px[0] / 6, lead.toe_px[1] / 6),
                heel_px=(lead.heel_px[0] / 6, lead.heel_px[1] / 6),
                width_px=lead.width_px / 6,
            )
            for lead in package.leads
        ),
    )
    found = frame_leads(small, far, small, same_board())
    assert isinstance(found, NotFound)
    assert "Move the camera closer" in found.reason
