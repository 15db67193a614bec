"""Feet found on drawn boards in leaning views, through the path that measures pairs."""

import pytest

from tests.benchmark.bench_alignment import one_case


@pytest.mark.parametrize("case", [10, 372, 1197])
def test_a_leaning_photo_of_the_lands_does_not_mirror_the_view(case: int) -> None:
    found = one_case((1, case))
    for name in ("dx", "dy"):
        error, u_mm = found[name]
        assert abs(error) <= u_mm < 0.05


@pytest.mark.parametrize("case", [258, 1187])
def test_clear_edges_settle_which_of_two_views_it_was(case: int) -> None:
    found = one_case((1, case))
    assert found["tilt_deg"] > 20
    for name in ("dx", "dy"):
        error, u_mm = found[name]
        assert abs(error) <= u_mm < 0.06


def test_leads_of_few_pixels_are_not_measured() -> None:
    assert "6 px are needed" in one_case((1, 9))
