from __future__ import annotations

import dataclasses

import cv2
import numpy as np
import pytest

from tests.leaning_views import SOIC8, Pose, flat_map, photograph
from vision.bare_lands import BareLands, read_bare_lands
from vision.geometry import apply_homography
from vision.lands import corners_mm, strips_of
from vision.results import NotFound
from vision.tables import land_positions, variants_of

BARE = photograph(Pose(with_leads=False, with_body=False), 3)[0]
CORNERS_MM = np.array([(x, y) for x in (-2.5, 2.5) for y in (-1.9, 1.9)])


def warped(matrix: np.ndarray):
    size = (760, 700)
    pixels = cv2.warpPerspective(
        BARE.pixels, matrix, size, flags=cv2.INTER_AREA, borderValue=(70, 110, 40)
    )
    return dataclasses.replace(BARE, pixels=pixels, width_px=760, height_px=700)


@pytest.mark.parametrize(("turn", "zoom"), [(-4, 1.0), (62, 0.8)])
def test_the_lands_are_found_at_any_turn_and_size(turn: float, zoom: float) -> None:
    c, s = np.cos(np.radians(turn)) * zoom, np.sin(np.radians(turn)) * zoom
    view = np.array([[c, s, 0], [-s, c, 0], [2e-5, 3e-5, 1.0]])
    middle = apply_homography(view, [[260.0, 260.0]])[0]
    view = (
        np.array([[1, 0, 380 - middle[0]], [0, 1, 350 - middle[1]], [0, 0, 1]]) @ view
    )
    found = read_bare_lands(warped(view), [SOIC8])
    assert isinstance(found, BareLands)
    assert found.report.finding.state == "ok"
    placed = apply_homography(found.to_photo, CORNERS_MM)
    true = apply_homography(view @ flat_map(), CORNERS_MM)
    off = min(np.abs(placed - true).max(), np.abs(placed[::-1] - true).max())
    assert off < 0.08 * found.px_per_mm


def drawn_lands(variant, turn_deg: float):
    """Draw bare lands of a package, turned, in the middle of a picture."""
    side, scale = 700, 70.0
    c, s = np.cos(np.radians(turn_deg)) * scale, np.sin(np.radians(turn_deg)) * scale
    pixels = np.full((side, side, 3), (60, 110, 40), np.uint8)
    for land in strips_of(land_positions(variant)):
        quad = corners_mm(land) @ np.array([[c, -s], [s, c]]) + side / 2
        cv2.fillConvexPoly(pixels, np.round(quad).astype(int), (205, 210, 212))
    soft = cv2.GaussianBlur(pixels, (0, 0), 1.2)
    noisy = soft + np.random.default_rng(0).normal(0, 2, soft.shape)
    return dataclasses.replace(
        BARE,
        pixels=np.clip(noisy, 0, 255).astype(np.uint8),
        width_px=side,
        height_px=side,
    )


@pytest.mark.parametrize("turn_deg", [3, 93, 183, 273])
@pytest.mark.parametrize("lead_count", [3, 5, 8])
def test_lands_are_whole_whichever_way_the_photo_was_held(
    lead_count: int, turn_deg: float
) -> None:
    variant = SOIC8 if lead_count == 8 else variants_of("SOT", lead_count)[0]
    found = read_bare_lands(drawn_lands(variant, turn_deg), [variant])
    assert isinstance(found, BareLands)
    assert found.report.finding.state == "ok"
    assert len(found.lands) == lead_count


def test_a_place_known_from_another_photo_is_read_at_once() -> None:
    guess = flat_map() @ np.array([[1.01, 0.03, 0.2], [-0.03, 1.01, -0.2], [0, 0, 1]])
    found = read_bare_lands(BARE, [SOIC8], guess=guess)
    assert isinstance(found, BareLands)
    assert apply_homography(found.to_photo, CORNERS_MM) == pytest.approx(
        apply_homography(flat_map(), CORNERS_MM), abs=2.0
    )


def test_a_missing_land_is_named() -> None:
    pixels = BARE.pixels.copy()
    low, high = apply_homography(flat_map(), [[-3.6, 0.25], [-1.4, 1.0]])
    pixels[int(low[1]) : int(high[1]), int(low[0]) : int(high[0])] = (70, 110, 40)
    found = read_bare_lands(
        dataclasses.replace(BARE, pixels=pixels), [SOIC8], guess=flat_map()
    )
    assert isinstance(found, BareLands)
    assert found.report.finding.state == "fault"
    assert "land L3 is missing" in found.report.finding.reasons[0]
    assert len(found.lands) == 7


def test_a_land_that_the_photo_cuts_off_is_neither_torn_nor_sound() -> None:
    places = {s.number: corners_mm(s) for s in strips_of(land_positions(SOIC8))}
    right = apply_homography(flat_map(), places[5])[:, 0].max()
    width = int(right) - 12
    pixels = np.ascontiguousarray(BARE.pixels[:, :width])
    cut = dataclasses.replace(BARE, pixels=pixels, width_px=width)
    found = read_bare_lands(cut, [SOIC8], guess=flat_map())
    assert isinstance(found, BareLands)
    states = {land.number: land.state for land in found.report.lands}
    assert [states[n] for n in (1, 2, 3, 4)] == ["ok"] * 4
    assert [states[n] for n in (5, 6, 7, 8)] == ["unsure"] * 4
    assert found.report.finding.state == "unsure"
    assert "L5 is cut off by the edge" in found.report.finding.reasons[0]


def test_the_wider_of_two_packages_is_told_from_the_narrower() -> None:
    found = read_bare_lands(BARE, variants_of("SOIC", 8))
    assert isinstance(found, BareLands)
    assert found.variant == SOIC8


def test_a_board_without_them_and_a_chip_still_on_are_not_guessed() -> None:
    plain = np.full_like(BARE.pixels, (70, 110, 40))
    noise = np.random.default_rng(2).normal(0, 4, plain.shape)
    empty = dataclasses.replace(
        BARE, pixels=np.clip(plain + noise, 0, 255).astype(np.uint8)
    )
    assert isinstance(read_bare_lands(empty, [SOIC8]), NotFound)
    chip_on = photograph(Pose(0.2, 0.3), 4)[0]
    found = read_bare_lands(chip_on, [SOIC8], guess=flat_map())
    assert isinstance(found, NotFound)
