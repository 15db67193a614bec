from __future__ import annotations

import dataclasses

import cv2
import numpy as np
import pytest

from tests.leaning_views import PX_PER_MM, SOIC8, Pose, photograph, same_board
from vision.compare import compare_packages
from vision.lead_motion import LeadMotion
from vision.leads import place_leads
from vision.photo_scale import ScaleAids, scale_of, shown_otherwise, tags_near
from vision.results import NotFound, Photo
from vision.tags import SIDE_MM, tag_modules
from vision.uncertainty import combined

PHOTO, PACKAGE = photograph(Pose())
NO_LEADS = NotFound(reason="not looked for")


def with_tag(role: str, stage: str, scale: float = PX_PER_MM) -> Photo:
    """The chip's photo with a printed tag laid beside it, at some scale."""
    side = round(SIDE_MM * scale)
    rows, cols = PHOTO.pixels.shape[:2]
    wide = np.full((rows + 80, cols + side + 120, 3), 235, np.uint8)
    wide[:rows, :cols] = PHOTO.pixels
    tag = np.kron(tag_modules(role, stage), np.ones((12, 12))) * 255
    tag = cv2.resize(
        tag.astype(np.uint8), (side, side), interpolation=cv2.INTER_NEAREST
    )
    wide[20 : 20 + side, cols + 60 : cols + 60 + side] = tag[:, :, None]
    soft = cv2.GaussianBlur(wide, (0, 0), 0.8)
    return dataclasses.replace(
        PHOTO, pixels=soft, width_px=soft.shape[1], height_px=soft.shape[0]
    )


def test_a_tag_gives_the_scale_before_all_else() -> None:
    tags = tags_near(with_tag("donor", "before"), PACKAGE)
    assert [(tag.role, tag.stage) for tag in tags] == [("donor", "before")]
    scale, agreed = scale_of(ScaleAids(tags=tags), PACKAGE, NO_LEADS)
    assert scale is not None
    assert scale.source == "tag"
    assert agreed.state == "ok"
    assert abs(scale.px_per_mm - PX_PER_MM) < 2 * combined(scale.budget)


def test_a_tag_that_disagrees_with_the_chip_is_said() -> None:
    tags = tags_near(with_tag("donor", "before", PX_PER_MM * 0.85), PACKAGE)
    scale, agreed = scale_of(ScaleAids(tags=tags), PACKAGE, NO_LEADS)
    assert scale is not None
    assert agreed.state == "unsure"
    assert "the tag gives" in agreed.reasons[0]
    assert "the outline gives" in agreed.reasons[0]


def test_the_pitch_of_the_feet_comes_before_the_outline() -> None:
    leads = LeadMotion(shoulder=NO_LEADS, foot=NO_LEADS, pitch=(1.004, 0.008))
    scale, agreed = scale_of(ScaleAids(), PACKAGE, leads)
    assert scale is not None
    assert scale.source == "pitch"
    assert scale.px_per_mm == pytest.approx(1.004 * PACKAGE.px_per_mm)
    assert agreed.state == "ok"


def test_the_pitch_is_measured_on_the_photo() -> None:
    corners = np.asarray(PACKAGE.outline_px)
    grown = corners.mean(axis=0) + 1.03 * (corners - corners.mean(axis=0))
    leads, scale = place_leads(grown, SOIC8)
    a, b, c, d = (tuple(map(float, corner)) for corner in grown)
    large = dataclasses.replace(
        PACKAGE, outline_px=(a, b, c, d), leads=leads, px_per_mm=scale
    )
    (one, _), (two, second) = photograph(Pose(), 1), photograph(Pose(0.2), 2)
    found = compare_packages(one, large, two, second, same_board())
    table = next(b for b in found.budgets if b.quantity.startswith("scale"))
    assert table.quantity == "scale from pitch"
    assert abs(table.value - PX_PER_MM) < 2 * combined(table)


def test_a_ruler_serves_where_nothing_else_does() -> None:
    unknown = dataclasses.replace(PACKAGE, px_per_mm=None, variant=None, leads=())
    none, doubt = scale_of(ScaleAids(), unknown, NO_LEADS)
    assert none is None
    assert doubt.state == "unsure"
    ruler = ((10.0, 10.0), (10.0 + 5 * PX_PER_MM, 10.0), 5.0)
    (one, _), (two, second) = photograph(Pose(), 1), photograph(Pose(0.4), 2)
    found = compare_packages(
        one, unknown, two, second, same_board(), aids=ScaleAids(ruler=ruler)
    ).alignment
    assert found.dx_mm is not None
    assert abs(found.dx_mm - 0.4) <= found.u_mm


def test_a_tag_of_another_stage_is_said() -> None:
    tags = tags_near(with_tag("patient", "after"), PACKAGE)
    assert shown_otherwise(tags, "after") == ""
    assert "its tag says patient, after" in shown_otherwise(tags, "before")
    assert shown_otherwise((), "before") == ""
