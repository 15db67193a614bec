from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.leaning_views import Pose, photograph, same_board
from tests.synthetic_pairs import (
    PX_PER_MM,
    Chip,
    board,
    leads,
    package,
    photo,
    place,
    view,
)
from tests.tolerances import ALIGNMENT_MM, ALIGNMENT_RIM_MM
from vision.compare import Comparison, compare_packages, same_package
from vision.geometry import apply_homography, roll
from vision.limits import shop_limits
from vision.match import match_packages
from vision.photo_scale import ScaleAids
from vision.results import NotFound, Package
from vision.tables import variants_of

AT = view(100, 0.8, 0.1)
NO_AIDS = ScaleAids()
OTHER = ("NX25V", "4410", "EE7")


def run(
    chip: Chip,
    *,
    before_pin1: float | None = None,
    after_pin1: float | None = None,
    before: Chip | None = None,
    seed: int = 1,
    aids: ScaleAids = NO_AIDS,
    **changes,
) -> Comparison:
    """Photograph ``before`` and ``chip`` on one board and compare them."""
    before, bare = before or Chip(), board(seed)
    one = photo(place(bare, before))
    two = photo(place(bare, chip), AT, seed=seed + 10)
    first = package(before.outline, pin1=before_pin1, leads=leads(), **changes)
    second = package(
        apply_homography(AT, chip.outline), pin1=after_pin1, px_per_mm=None
    )
    match = match_packages(one, first, two, [second])
    lost = match if isinstance(match, NotFound) else match[2]
    return compare_packages(one, first, two, second, lost, aids=aids)


@pytest.mark.parametrize("turn", [0, 180])
def test_the_looks_alone_tell_the_turn_of_the_same_chip(turn: int) -> None:
    found = run(Chip(dx_mm=0.05, skew_deg=1.0, turn_deg=turn)).orientation
    assert found.turn_deg == turn
    assert found.state == ("ok" if turn == 0 else "fault")
    assert found.confidence > 0.99


def test_another_chip_without_pin1_cannot_be_told() -> None:
    found = run(Chip(marking=OTHER, turn_deg=180)).orientation
    assert found.state == "unsure"
    assert found.turn_deg is None
    assert "Take the after photo again" in found.reasons[0]


@pytest.mark.parametrize("turn", [0, 180])
def test_pin1_decides_when_another_chip_was_put_in(turn: int) -> None:
    chip = Chip(marking=OTHER, turn_deg=turn)
    found = run(chip, before_pin1=0.999, after_pin1=0.999).orientation
    assert found.turn_deg == turn


def test_weak_pin1_on_another_chip_stays_unsure_and_names_the_photo() -> None:
    chip = Chip(marking=(), turn_deg=180)
    found = run(chip, before_pin1=0.9, after_pin1=0.9).orientation
    assert found.turn_deg is None
    half = run(chip, before_pin1=None, after_pin1=0.999).orientation
    assert "Take the before photo again" in half.reasons[0]


def test_witnesses_that_contradict_leave_it_open() -> None:
    bare, chip = board(1), Chip()
    one, two = photo(place(bare, chip)), photo(place(bare, chip), AT, seed=2)
    first = package(chip.outline, pin1=0.999)
    misread = package(
        roll(apply_homography(AT, chip.outline), 2), pin1=0.999, px_per_mm=None
    )
    match = match_packages(one, first, two, [misread])
    assert not isinstance(match, NotFound)
    found = compare_packages(one, first, two, misread, match[2]).orientation
    assert found.state == "unsure"
    assert found.turn_deg is None
    assert "contradict" in found.reasons[0]


def test_a_quarter_turn_of_a_two_row_package_is_a_misread_pin1() -> None:
    bare, chip = board(1), Chip()
    one, two = photo(place(bare, chip)), photo(place(bare, chip), AT, seed=2)
    first = package(chip.outline, pin1=0.999)
    misread = package(
        roll(apply_homography(AT, chip.outline), 1), pin1=0.999, px_per_mm=None
    )
    match = match_packages(one, first, two, [misread])
    assert not isinstance(match, NotFound)
    found = compare_packages(one, first, two, misread, match[2]).orientation
    assert found.turn_deg is None
    assert "misread" in found.reasons[0]


@pytest.mark.parametrize(
    "chip",
    [Chip(), Chip(0.2, -0.1, 1.5), Chip(-0.45, 0.35, -2.5), Chip(0.03, 0.6)],
)
def test_the_shift_comes_out_along_the_before_photo(chip: Chip) -> None:
    found = run(chip).alignment
    error = np.hypot(found.dx_mm - chip.dx_mm, found.dy_mm - chip.dy_mm)
    assert error < ALIGNMENT_MM
    assert error <= found.u_mm
    assert abs(found.skew_deg - chip.skew_deg) <= found.u_deg


@pytest.mark.parametrize(
    "chip", [Chip(0.1, 0.08, turn_deg=180), Chip(0.1, 0.08, marking=OTHER)]
)
def test_the_rim_serves_where_the_marking_does_not(chip: Chip) -> None:
    found = run(chip).alignment
    error = np.hypot(found.dx_mm - chip.dx_mm, found.dy_mm - chip.dy_mm)
    assert error < ALIGNMENT_RIM_MM
    assert error <= found.u_mm


@pytest.mark.parametrize(
    ("dx_mm", "state"),
    [(0.1, "ok"), (0.29, "unsure"), (0.31, "unsure"), (0.5, "fault")],
)
def test_the_guard_band_lies_on_both_sides_of_the_limit(dx_mm, state) -> None:
    found = run(Chip(dx_mm)).alignment
    assert found.state == state
    assert "shop limit 0.300 mm" in found.reasons[0]


def test_without_feet_the_tilt_of_the_views_is_counted() -> None:
    bare, chip = board(1), Chip()
    one, two = photo(place(bare, chip)), photo(place(bare, chip), AT, seed=2)
    second = package(apply_homography(AT, chip.outline), px_per_mm=None)
    widths = []
    for known in (leads(), ()):
        first = package(chip.outline, leads=known)
        match = match_packages(one, first, two, [second])
        assert not isinstance(match, NotFound)
        found = compare_packages(one, first, two, second, match[2]).alignment
        widths.append(found.u_mm)
    assert widths[1] > 5 * widths[0]


def test_no_scale_gives_no_millimetres() -> None:
    found = run(Chip(skew_deg=1.0), px_per_mm=None).alignment
    assert found.state == "unsure"
    assert found.dx_mm is None
    assert found.u_mm is None
    assert abs(found.skew_deg - 1.0) <= found.u_deg
    assert "no scale" in found.reasons[0]


def ruler(px_per_mm: float) -> ScaleAids:
    return ScaleAids(ruler=((100.0, 50.0), (300.0, 50.0), 200 / px_per_mm))


@pytest.mark.parametrize(("off", "state"), [(1.0, "ok"), (1.3, "unsure")])
def test_a_ruler_that_contradicts_the_package_leaves_the_place_in_doubt(
    off: float, state: str
) -> None:
    found = run(Chip(0.05), aids=ruler(off * PX_PER_MM)).alignment
    assert found.state == state
    assert ("the ruler gives" in " ".join(found.reasons)) == (state == "unsure")


def test_another_size_is_said_so() -> None:
    found = run(Chip(scale=1.3, marking=OTHER)).checks["package"]
    assert found.state == "fault"
    assert "another size" in found.reasons[0]


def test_another_family_is_said_so() -> None:
    first, second = package(Chip().outline), package(Chip().outline, family="QFP")
    assert same_package(first, second, (1.0, 1.0)).state == "fault"
    assert (
        "SOIC before, QFP after" in same_package(first, second, (1.0, 1.0)).reasons[0]
    )
    unknown = package(Chip().outline, family="other")
    assert same_package(first, unknown, (1.0, 1.0)).state == "unsure"
    assert same_package(first, first, (1.02, 0.97)).state == "ok"


def test_a_family_read_otherwise_under_the_same_top_is_a_doubt() -> None:
    first, second = package(Chip().outline), package(Chip().outline, family="QFP")
    seen = same_package(first, second, (1.0, 1.02), is_same_top=True)
    assert seen.state == "unsure"
    assert "SOIC before, QFP after" in seen.reasons[0]
    other_size = same_package(first, second, (1.0, 1.12), is_same_top=True)
    assert other_size.state == "fault"


def test_leads_at_the_same_places_settle_an_unsure_family() -> None:
    before, after = Pose(), Pose(0.3, 0.1, 0.8, light=0.8)
    (one, first), (two, second) = photograph(before, 1), photograph(after, 2)
    second = dataclasses.replace(second, family="MSOP", family_confidence=0.4)
    found = compare_packages(one, first, two, second, same_board())
    assert found.has_same_leads
    assert found.checks["package"].state == "ok"
    gone, _ = photograph(dataclasses.replace(after, with_leads=False), 2)
    doubted = compare_packages(one, first, gone, second, same_board())
    assert not doubted.has_same_leads
    assert doubted.checks["package"].state == "unsure"


def test_a_side_is_judged_by_its_error_not_by_its_share() -> None:
    one: Package = package(Chip().outline)
    assert same_package(one, one, (1.2, 1.0)).state == "fault"
    assert same_package(one, one, (1.2, 1.0), (0.4, 1.0)).state == "ok"


def test_a_package_that_the_edge_cuts_off_is_not_called_another_size() -> None:
    one = package(Chip().outline)
    found = same_package(one, one, (1.0, 0.5), is_whole=False)
    assert found.state == "unsure"
    assert "cuts the package off" in found.reasons[0]
    assert same_package(one, one, (1.0, 1.02), is_whole=False).state == "ok"


def test_without_registration_nothing_is_judged() -> None:
    one = photo(place(board(1), Chip()))
    chip = package(Chip().outline, pin1=0.999)
    found = compare_packages(one, chip, one, chip, NotFound(reason="too dark"))
    assert found.orientation.turn_deg is None
    assert found.alignment.state == "unsure"
    assert all(f.state == "unsure" for f in found.checks.values())
    assert "too dark" in found.checks["registration"].reasons[0]


def test_the_limit_is_half_the_width_of_the_packages_own_lands() -> None:
    before, after = Pose(), Pose(0.1)
    (one, first), (two, second) = photograph(before, 1), photograph(after, 2)
    soic = compare_packages(one, first, two, second, same_board()).alignment
    assert "shop limit 0.300 mm" in soic.reasons[0]
    fine = variants_of("TSSOP", 8)[0]
    named = dataclasses.replace(first, family="TSSOP", variant=fine.name)
    found = compare_packages(one, named, two, second, same_board()).alignment
    assert f"shop limit {fine.land.width_mm / 2:.3f} mm" in found.reasons[0]


def test_the_limit_of_the_shift_follows_the_limits_of_the_shop() -> None:
    (one, first), (two, second) = photograph(Pose(), 1), photograph(Pose(0.1), 2)
    strict = shop_limits(set_name="strict")
    found = compare_packages(one, first, two, second, same_board(), limits=strict)
    # Worked out from open land patterns: tests/reference/alignment_cases.csv, SOIC-8.
    assert found.alignment.limit_mm == pytest.approx(0.198, abs=0.0006)


def test_a_limit_that_follows_from_one_known_from_memory_only_warns() -> None:
    before, after = Pose(), Pose(1.0)
    (one, first), (two, second) = photograph(before, 1), photograph(after, 2)
    usual = shop_limits()
    rows = tuple(
        dataclasses.replace(row, status="memory")
        if row.check == "side_overhang"
        else row
        for row in usual.rows
    )
    sure, warns = (
        compare_packages(one, first, two, second, same_board(), limits=limits).alignment
        for limits in (usual, dataclasses.replace(usual, rows=rows))
    )
    assert (sure.state, warns.state) == ("fault", "unsure")
    assert any("only warns" in reason for reason in warns.reasons)
