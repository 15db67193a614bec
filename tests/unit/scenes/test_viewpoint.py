"""Projection and the written answers, against geometry done another way."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from models.scenes.description import Camera, Chip, Pose
from models.scenes.samples import HEADER, samples
from models.scenes.truth import toml_table
from models.scenes.viewpoint import (
    board_homography,
    body_outline_px,
    land_truth,
    lead_truth,
    project,
    px_per_mm,
)
from tests.tolerances import ROUNDING_PX
from tests.unit.scenes.sizes import DUAL, QUAD

OBLIQUE = Camera(
    target_mm=(1.0, -2.0), tilt_deg=35, azimuth_deg=50, roll_deg=20, view_mm=15
)
PHOTOS = samples()


def _is_counter_clockwise(quad: np.ndarray) -> bool:
    x, y = quad.T
    return bool(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0)  # y runs down


def test_looking_straight_down_is_a_plain_scale() -> None:
    camera = Camera(tilt_deg=0, view_mm=16.0, width_px=1600, height_px=1200)
    px = project(camera, np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0)]))
    assert px == pytest.approx(
        np.array([(799.5, 599.5), (899.5, 599.5), (799.5, 699.5)]), abs=ROUNDING_PX
    )
    assert px_per_mm(camera) == 100.0


def test_target_is_in_the_middle() -> None:
    px = project(OBLIQUE, np.array([(1.0, -2.0, 0.0)]))[0]
    assert px == pytest.approx(((1600 - 1) / 2, (1200 - 1) / 2), abs=ROUNDING_PX)


def test_roll_turns_the_picture_clockwise() -> None:
    camera = Camera(tilt_deg=0, roll_deg=90, view_mm=16.0)
    middle, right = project(camera, np.array([(0, 0, 0), (1, 0, 0)]))
    assert right - middle == pytest.approx((0.0, 100.0), abs=ROUNDING_PX)  # downward


def test_leaning_to_the_lower_edge_brings_it_nearer() -> None:
    camera = Camera(tilt_deg=40, azimuth_deg=0)
    px = project(camera, np.array([(0, 3, 0), (1, 3, 0), (0, -3, 0), (1, -3, 0)]))
    near, far = np.linalg.norm(px[1] - px[0]), np.linalg.norm(px[3] - px[2])
    assert near > far
    high = project(camera, np.array([(0, 0, 1.0)]))[0]
    assert high[1] < px[:2, 1].min()
    assert high[1] < (1200 - 1) / 2  # what stands up leans away from the viewer


def test_homography_agrees_with_projection() -> None:
    points = np.random.default_rng(1).uniform(-8, 8, (30, 2))
    h = board_homography(OBLIQUE)
    mapped = np.column_stack([points, np.ones(30)]) @ h.T
    flat = np.column_stack([points, np.zeros(30)])
    assert mapped[:, :2] / mapped[:, 2:] == pytest.approx(
        project(OBLIQUE, flat), abs=ROUNDING_PX
    )


@pytest.mark.parametrize("size", [DUAL, QUAD])
@pytest.mark.parametrize("turn_deg", [0, 90, 180, 270])
def test_outline_starts_at_pin_1_and_runs_counter_clockwise(size, turn_deg) -> None:
    chip = Chip(size=size, home=Pose(x_mm=0.5, angle_deg=12.0), turn_deg=turn_deg)
    quad = body_outline_px(chip, OBLIQUE)
    assert _is_counter_clockwise(quad)
    first_lead = lead_truth(chip, OBLIQUE)[0]["toe_px"]
    assert np.linalg.norm(quad - first_lead, axis=1).argmin() == 0


def test_outline_seen_from_above_is_the_seam() -> None:
    camera = Camera(tilt_deg=0, distance_mm=1000.0, view_mm=16.0)
    quad = body_outline_px(Chip(size=DUAL), camera)
    assert np.ptp(quad[:, 0]) == pytest.approx(DUAL.body_x_mm * 100, rel=2e-3)
    assert np.ptp(quad[:, 1]) == pytest.approx(DUAL.body_y_mm * 100, rel=2e-3)


def test_seated_toes_lie_inside_their_lands() -> None:
    chip = Chip(size=DUAL, home=Pose(angle_deg=90.0))
    camera = Camera(tilt_deg=0, distance_mm=1000.0)
    for lead, land in zip(
        lead_truth(chip, camera), land_truth(chip, camera), strict=True
    ):
        assert (lead["toe_px"] > land.min(axis=0)).all()
        assert (lead["toe_px"] < land.max(axis=0)).all()


def test_demo_tells_the_whole_story() -> None:
    assert {p.name for p in PHOTOS} == {
        "patient_before", "donor_before", "donor_lands", "after_good", "after_turned",
        "after_shifted", "after_bridged", "after_lifted", "side_lifted",
    }  # fmt: skip
    assert len({p.scene.shot_seed for p in PHOTOS}) == len(PHOTOS)


def test_donor_photos_show_one_board() -> None:
    donor = [p.scene for p in PHOTOS if p.name != "patient_before"]
    assert len({scene.seed for scene in donor}) == 1
    assert len({scene.board.traces for scene in donor}) == 1


@pytest.mark.parametrize("photo", PHOTOS, ids=lambda p: p.name)
def test_written_answers_read_back(photo) -> None:
    table = toml_table(photo.name, photo.stage, photo.shows, photo.scene)
    data = tomllib.loads(HEADER + table)
    assert data["invented"] is True
    (row,) = data["photo"]
    assert row["file"] == f"{photo.name}.jpg"
    if photo.scene.chip is None:
        assert "chip" not in row
        return
    quad = np.array(row["chip"]["outline_px"])
    assert _is_counter_clockwise(quad)
    assert (quad >= 0).all()
    assert (quad <= (1599, 1199)).all()
    assert len(row["chip"]["lead_toe_px"]) == row["chip"]["lead_count"] == 8
