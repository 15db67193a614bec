from __future__ import annotations

import numpy as np
import pytest

from tests.tolerances import ROUNDING_MM
from vision.plane_shift import LEAN_SD, SeenShift, shift_on_board

TRUE_MM, LEAN = np.array([0.12, -0.05]), np.array([0.15, -0.1])


def seen(height_mm: float, *, sd_mm: float = 0.005, off_mm: float = 0.0) -> SeenShift:
    x, y = TRUE_MM + LEAN * height_mm + off_mm
    return SeenShift(
        name="drawn",
        height_mm=height_mm,
        height_sd_mm=0.0,
        shift_mm=(float(x), float(y)),
        sd_mm=(sd_mm, sd_mm),
    )


def test_three_heights_on_a_line_give_the_shift_at_height_zero() -> None:
    found = shift_on_board([seen(1.55), seen(0.8), seen(0.18)], lean_sd=10.0)
    assert found.shift_mm == pytest.approx(TRUE_MM, abs=1e-5)
    assert found.lean == pytest.approx(LEAN, abs=1e-5)
    assert found.misfit == 1.0


def test_one_height_alone_leaves_its_parallax_open() -> None:
    found = shift_on_board([seen(1.55)])
    assert found.lean_sd_mm == pytest.approx(1.55 * LEAN_SD, rel=0.05)
    error = np.hypot(*(np.array(found.shift_mm) - TRUE_MM))
    assert error > 0.1
    assert error < 2 * np.sqrt(2) * found.sd_mm


def test_without_parallax_all_heights_agree_and_nothing_is_taken_off() -> None:
    flat = [
        SeenShift(
            name="flat",
            height_mm=h,
            height_sd_mm=0.1,
            shift_mm=(0.3, 0.2),
            sd_mm=(0.01, 0.01),
        )
        for h in (1.5, 0.8, 0.2)
    ]
    found = shift_on_board(flat)
    assert found.shift_mm == pytest.approx((0.3, 0.2), abs=ROUNDING_MM)


def test_readings_that_contradict_widen_the_spread() -> None:
    fair = shift_on_board([seen(1.55), seen(0.8), seen(0.18)])
    odd = shift_on_board([seen(1.55), seen(0.8, off_mm=0.1), seen(0.18)])
    assert odd.misfit > 2
    assert odd.doubt_mm > 0.02
    assert fair.doubt_mm == 0
    assert odd.sd_mm > 2 * fair.sd_mm


def test_unsure_heights_count_by_the_lean() -> None:
    sure = [seen(1.55), seen(0.18)]
    unsure = [
        SeenShift(
            name=s.name,
            height_mm=s.height_mm,
            height_sd_mm=0.1,
            shift_mm=s.shift_mm,
            sd_mm=s.sd_mm,
        )
        for s in sure
    ]
    assert shift_on_board(unsure).sd_mm > 1.5 * shift_on_board(sure).sd_mm


def test_the_true_shift_lies_inside_as_often_as_said() -> None:
    rng = np.random.default_rng(4)
    inside = []
    for _ in range(2000):
        lean = rng.normal(0, LEAN_SD, 2)
        rows = []
        for height, sd in ((1.55, 0.004), (0.8, 0.02), (0.18, 0.015)):
            x, y = TRUE_MM + lean * height + rng.normal(0, sd, 2)
            rows.append(
                SeenShift(
                    name="drawn",
                    height_mm=height,
                    height_sd_mm=0.0,
                    shift_mm=(x, y),
                    sd_mm=(sd, sd),
                )
            )
        found = shift_on_board(rows)
        inside.append(abs(found.shift_mm[0] - TRUE_MM[0]) <= 2 * found.sd_mm)
    assert 0.93 < np.mean(inside) < 0.98


def test_nothing_seen_is_our_mistake() -> None:
    with pytest.raises(ValueError, match="at least one"):
        shift_on_board([])
