from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.leaning_views import (
    PX_PER_MM,
    ROWS_MM,
    SOIC8,
    Pose,
    flat_map,
    photograph,
    same_board,
)
from vision import lands_check, placed_feet
from vision.bare_lands import BareLands
from vision.geometry import body_corners_mm
from vision.lands import LandsReport, strips_of
from vision.lands_check import check_lands
from vision.limits import shop_limits
from vision.on_lands import Seated, seat_as_before, seat_on_bare_lands
from vision.packages import Variant
from vision.results import Alignment, Finding, NotFound, Quad
from vision.tables import land_positions, variants_of

WIDE = variants_of("SOIC", 8)[1]
USUAL = shop_limits()
QFN = variants_of("QFN")[0]
LEAD_MM, LAND_MM = 0.41, 0.60


def bare(variant=SOIC8, state="ok") -> BareLands:
    strips = tuple(
        dataclasses.replace(s, across_sd_mm=0.003, end_sd_mm=0.01, width_sd_mm=0.005)
        for s in strips_of(land_positions(variant))
    )
    one, two, three = (tuple(map(float, row)) for row in flat_map())
    report = LandsReport(
        lands=(),
        finding=Finding(state=state, reasons=("drawn",)),
        pattern_to_image=(one, two, three),
        score=0.9,
    )
    return BareLands(
        variant=variant,
        report=report,
        to_photo=(one, two, three),
        lands=strips,
        px_per_mm=PX_PER_MM,
    )


def seated(pose: Pose, lands: BareLands | None = None) -> Seated:
    photo, package = photograph(pose, 5)
    found = seat_on_bare_lands(
        photo, package, SOIC8, lands or bare(), same_board(), USUAL
    )
    assert isinstance(found, Seated)
    return found


@pytest.mark.parametrize(
    ("pose", "state"),
    [
        (Pose(), "ok"),
        (Pose(0.05, 0.12), "ok"),
        (Pose(0.1, -0.5, 0.5), "fault"),
        (Pose(0.0, 0.12, lean=(0.1, -0.12)), "ok"),
    ],
)
def test_the_side_overhang_of_each_lead(pose: Pose, state: str) -> None:
    found = seated(pose)
    assert found.finding.state == state
    assert [row.lead for row in found.overhang] == list(range(1, 9))
    for row, budget in zip(found.overhang, found.budgets, strict=True):
        x = -2.9 if row.lead <= 4 else 2.9
        y = ROWS_MM[row.lead - 1] if row.lead <= 4 else ROWS_MM[8 - row.lead]
        away = pose.dy_mm - np.radians(pose.skew_deg) * x
        true = abs(away) - (LAND_MM - LEAD_MM) / 2
        assert abs(budget.value - true) < 2.5 * row.u_frac * LEAD_MM / 2, (row.lead, y)
        assert row.limit_frac == pytest.approx(0.5)


def test_a_chip_off_by_a_whole_pitch_is_named_so() -> None:
    found = seated(Pose(0.0, 1.27))
    assert found.situation == "shifted by whole pitches"
    assert found.finding.state == "fault"
    assert "1 whole pitch" in found.finding.reasons[0]


def test_a_narrow_package_on_wide_lands_is_named_so() -> None:
    found = seated(Pose(), bare(WIDE))
    assert found.situation == "package narrower than its lands"
    assert found.finding.state == "fault"


def test_a_lead_off_its_land_is_named() -> None:
    found = seated(Pose(0.0, 0.56))
    assert found.situation == "off its lands"
    assert found.overhang[0].state == "fault"


def alignment(dx_mm: float, dy_mm: float, u_mm: float = 0.04) -> Alignment:
    return Alignment(
        state="ok", dx_mm=dx_mm, dy_mm=dy_mm, skew_deg=0.2, u_mm=u_mm, u_deg=0.2
    )


@pytest.mark.parametrize(
    ("dy_mm", "state"), [(0.03, "ok"), (0.25, "unsure"), (0.6, "fault")]
)
def test_without_bare_lands_the_place_before_counts_and_it_is_said(
    dy_mm: float, state: str
) -> None:
    _, package = photograph(Pose())
    found = seat_as_before(package, SOIC8, alignment(0.02, dy_mm), USUAL)
    assert isinstance(found, Seated)
    assert found.finding.state == state
    assert "not photographed bare" in found.finding.reasons[-1]


@pytest.mark.parametrize(("u_deg", "state"), [(0.2, "ok"), (6.0, "unsure")])
def test_a_skew_that_is_not_known_well_is_in_the_doubt_of_each_lead(
    u_deg: float, state: str
) -> None:
    _, package = photograph(Pose())
    moved = dataclasses.replace(alignment(0.0, 0.05), u_deg=u_deg)
    found = seat_as_before(package, SOIC8, moved, USUAL)
    assert isinstance(found, Seated)
    assert found.finding.state == state


def test_three_lands_do_not_tell_how_the_photo_leans() -> None:
    sot = variants_of("SOT", 3)[0]
    photo, package = photograph(Pose())
    found = seat_on_bare_lands(photo, package, sot, bare(sot), same_board(), USUAL)
    assert isinstance(found, NotFound)
    assert "3 lands were measured; 4 are needed" in found.reason


def test_a_foot_that_was_not_made_out_is_not_sound(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    measured = placed_feet.measure_feet

    def without_lead_3(*args: object) -> object:
        return {n: foot for n, foot in measured(*args).items() if n != 3}

    monkeypatch.setattr(placed_feet, "measure_feet", without_lead_3)
    found = seated(Pose())
    states = {row.lead: row.state for row in found.overhang}
    assert states.pop(3) == "unsure"
    assert set(states.values()) == {"ok"}
    assert found.finding.state == "unsure"
    assert "lead 3 was not made out" in found.finding.reasons[0]


def test_what_cannot_be_measured_is_unsure_with_the_reason() -> None:
    photo, package = photograph(Pose())
    lost = Alignment(state="unsure", reasons=("no scale",))
    check = check_lands(package, photo, package, lost, None, USUAL)
    assert check.finding.state == "unsure"
    assert "shift is not known" in check.finding.reasons[0]
    unknown = dataclasses.replace(package, variant=None)
    check = check_lands(unknown, photo, unknown, alignment(0, 0), None, USUAL)
    assert check.finding.state == "unsure"
    assert "size is not known" in check.finding.reasons[0]
    check = check_lands(package, photo, package, alignment(0, 0), photo, USUAL)
    assert check.finding.state == "unsure"
    assert check.finding.reasons[0].startswith("bare-lands photo")


@pytest.mark.parametrize("is_laid", [False, True])
def test_a_fault_of_the_bare_lands_stops_though_the_feet_cannot_be_read(
    monkeypatch, is_laid
):
    photo, package = photograph(Pose())
    lost = NotFound(reason="too dark")
    monkeypatch.setattr(lands_check, "_lands_of", lambda *_: bare(state="fault"))
    monkeypatch.setattr(
        lands_check, "register", lambda *_: same_board() if is_laid else lost
    )
    monkeypatch.setattr(lands_check, "seat_on_bare_lands", lambda *_: lost)
    check = check_lands(package, photo, package, alignment(0, 0), photo, USUAL)
    assert check.finding.state == "fault"
    assert check.finding.reasons[-1] == "drawn"
    assert "too dark" in check.finding.reasons[0]


@pytest.mark.parametrize(
    ("dy_mm", "state", "situation"),
    [
        (0.0, "ok", "seated"),
        (0.08, "unsure", "seated"),
        (0.36, "fault", "off its lands"),
        (0.5, "fault", "shifted by whole pitches"),
    ],
)
def test_terminals_under_a_body_lie_where_its_outline_says(
    dy_mm: float, state: str, situation: str
) -> None:
    outline = body_outline(QFN, Pose(), 0.0)
    package = dataclasses.replace(photograph(Pose())[1], outline_px=outline)
    found = seat_as_before(package, QFN, alignment(0.0, dy_mm), USUAL)
    assert isinstance(found, Seated)
    assert (found.finding.state, found.situation) == (state, situation)
    assert "terminals under the body were not seen" in found.finding.reasons[-1]


@pytest.mark.parametrize(
    ("dy_mm", "states"), [(0.0, {"ok", "unsure"}), (0.5, {"fault"})]
)
def test_a_leadless_body_is_held_against_its_bare_lands(
    dy_mm: float, states: set[str]
) -> None:
    photo, package = photograph(Pose())
    outline = body_outline(QFN, Pose(0.02, dy_mm), 0.9 * QFN.height_mm[1])
    package = dataclasses.replace(package, outline_px=outline)
    found = seat_on_bare_lands(photo, package, QFN, bare(QFN), same_board(), USUAL)
    assert isinstance(found, Seated)
    assert found.finding.state in states
    assert found.seat.dx_mm == pytest.approx(0.02, abs=2 * found.seat.sd[0])
    assert found.seat.dy_mm == pytest.approx(dy_mm, abs=2 * found.seat.sd[1])
    names = {c.name for c in found.readings[0].side_overhang.contributions}
    assert "body outline" in names


def body_outline(variant: Variant, pose: Pose, height_mm: float) -> Quad:
    size = variant.body_x_mm[1], variant.body_y_mm[1]
    a, b, c, d = pose.seen(body_corners_mm(*size), height_mm).tolist()
    return tuple(a), tuple(b), tuple(c), tuple(d)


def test_packages_without_feet_are_told_from_the_side() -> None:
    plcc = variants_of("PLCC")[0]
    _, package = photograph(Pose())
    found = seat_as_before(package, plcc, alignment(0, 0), USUAL)
    assert isinstance(found, NotFound)
    assert "X-rayed" in found.reason
