"""Frames and numbering of described scenes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from models.scenes.description import (
    Chip,
    PackageSize,
    Pose,
    lead_poses,
    package_lands,
)
from tests.tolerances import ROUNDING_MM
from tests.unit.scenes.sizes import DUAL, QUAD


def test_pose_turns_counter_clockwise_as_seen() -> None:
    x, y = Pose(angle_deg=90).apply((1.0, 0.0))
    assert (x, y) == pytest.approx((0.0, -1.0), abs=ROUNDING_MM)  # y runs down


def test_pose_invert_undoes_apply() -> None:
    pose = Pose(x_mm=3.0, y_mm=-2.0, angle_deg=37.0)
    assert pose.invert(pose.apply((0.4, 1.7))) == pytest.approx(
        (0.4, 1.7), abs=ROUNDING_MM
    )


def test_pose_then_is_apply_twice() -> None:
    outer = Pose(x_mm=1.0, y_mm=2.0, angle_deg=30.0)
    inner = Pose(x_mm=-0.5, y_mm=0.7, angle_deg=80.0)
    both = outer.then(inner).apply((0.2, 0.3))
    assert both == pytest.approx(outer.apply(inner.apply((0.2, 0.3))), abs=ROUNDING_MM)


@pytest.mark.parametrize("size", [DUAL, QUAD])
def test_leads_run_counter_clockwise_from_the_upper_left(size: PackageSize) -> None:
    poses = lead_poses(
        size, radius_x_mm=size.span_x_mm / 2, radius_y_mm=size.span_y_mm / 2
    )
    assert len(poses) == size.lead_count
    assert poses[0].x_mm < 0
    assert poses[0].y_mm < 0
    angles = np.unwrap([math.atan2(-p.y_mm, p.x_mm) for p in poses])
    assert (np.diff(angles) > 0).all()
    assert angles[-1] - angles[0] < 2 * math.pi


def test_lead_axis_points_away_from_the_body() -> None:
    for pose in lead_poses(QUAD, radius_x_mm=4.5, radius_y_mm=4.5):
        x, y = pose.apply((1.0, 0.0))
        assert math.hypot(x, y) > math.hypot(pose.x_mm, pose.y_mm)


def test_lands_span_what_the_variant_says() -> None:
    lands = package_lands(DUAL)
    outer = [land.pose.apply((land.length_mm / 2, 0.0))[0] for land in lands]
    assert max(outer) - min(outer) == pytest.approx(
        DUAL.land_span_x_mm, abs=ROUNDING_MM
    )
    step = lands[1].pose.y_mm - lands[0].pose.y_mm
    assert step == pytest.approx(DUAL.pitch_mm, abs=ROUNDING_MM)


def test_chip_pose_adds_turn_and_skew() -> None:
    home = Pose(x_mm=1.0, angle_deg=90.0)
    chip = Chip(size=DUAL, home=home, turn_deg=180, skew_deg=1.5, dx_mm=0.2)
    assert chip.pose.angle_deg == pytest.approx(271.5)
    assert chip.pose.x_mm == pytest.approx(1.2)
