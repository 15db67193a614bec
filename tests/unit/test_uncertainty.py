"""The GUM arithmetic against published figures and hand sums."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.uncertainty import (
    Budget,
    Contribution,
    arcsine,
    budget_table,
    combined,
    coverage_factor,
    effective_dof,
    expanded,
    reading,
    rectangular,
)


def end_gauge(*, second_order: bool) -> Budget:
    """JCGM 100:2008 H.1, end-gauge calibration, all in nanometres.

    Inputs as restated in the documentation of the GTC library (example GUM H1) and
    the METAS UncLib example of the same name; the document itself was not open.
    """
    l_s_nm = 50_000_623.0
    u_delta_alpha = rectangular(1e-6)
    u_delta_theta = rectangular(0.05)
    u_theta = math.hypot(0.2, arcsine(0.5))
    u_alpha = rectangular(2e-6)
    parts = [
        Contribution(name="length of the standard", u=25.0, unit="nm", dof=18),
        Contribution(name="repeated readings", u=5.8, unit="nm", dof=24, kind="A"),
        Contribution(name="comparator, random", u=3.9, unit="nm", dof=5),
        Contribution(name="comparator, systematic", u=6.7, unit="nm", dof=8),
        Contribution(
            name="expansion difference",
            u=u_delta_alpha,
            unit="1/K",
            sensitivity=-l_s_nm * -0.1,
            dof=50,
        ),
        Contribution(
            name="temperature difference",
            u=u_delta_theta,
            unit="K",
            sensitivity=-l_s_nm * 11.5e-6,
            dof=2,
        ),
    ]
    if second_order:
        parts += [
            Contribution(
                name="second order 1", u=l_s_nm * u_delta_alpha * u_theta, unit="nm"
            ),
            Contribution(
                name="second order 2", u=l_s_nm * u_alpha * u_delta_theta, unit="nm"
            ),
        ]
    return Budget(
        quantity="end gauge",
        value=l_s_nm + 215.0,
        unit="nm",
        contributions=tuple(parts),
    )


def test_gum_h1_value_and_combined_uncertainty():
    budget = end_gauge(second_order=False)
    assert budget.value == 50_000_838
    assert round(combined(budget)) == 32
    shares = {c.name: c.share for c in budget.contributions}
    assert shares["temperature difference"] == pytest.approx(16.599, abs=0.001)
    assert shares["expansion difference"] == pytest.approx(2.88679, abs=0.0001)


def test_gum_h1_second_order_terms():
    # H.1.7 as restated there: 34 nm.
    assert round(combined(end_gauge(second_order=True))) == 34


def test_gum_h1_degrees_of_freedom_and_99_percent():
    # H.1.6 (from memory): effective dof 16, t = 2.92, U99 = 93 nm.
    budget = end_gauge(second_order=False)
    dof = effective_dof(budget)
    assert math.floor(dof) == 16
    k = coverage_factor(dof, probability=0.99)
    assert k == pytest.approx(2.92, abs=0.005)
    assert expanded(budget, k=k) == pytest.approx(93, abs=1)


@pytest.mark.parametrize(
    ("dof", "probability", "k"),
    # JCGM 100:2008 table G.2 (from memory; ordinary Student's t).
    [(1, 0.95, 12.71), (5, 0.95, 2.57), (10, 0.95, 2.23), (50, 0.95, 2.01)],
)
def test_coverage_factors_of_students_t(dof, probability, k):
    assert coverage_factor(dof, probability=probability) == pytest.approx(k, abs=0.005)


def test_coverage_factor_of_a_known_spread_is_the_normal_one():
    assert coverage_factor(math.inf, probability=0.95) == pytest.approx(1.960, abs=5e-4)


def test_independent_parts_add_as_squares():
    parts = (
        Contribution(name="a", u=3.0),
        Contribution(name="b", u=4.0, sensitivity=-1.0),
    )
    budget = Budget(quantity="q", value=0.0, unit="mm", contributions=parts)
    assert combined(budget) == pytest.approx(5.0)


def test_widths_become_standard_uncertainties():
    assert rectangular(1.0) == pytest.approx(0.57735, abs=1e-5)
    assert arcsine(1.0) == pytest.approx(0.70711, abs=1e-5)


def test_an_impossible_contribution_is_refused():
    with pytest.raises(ValueError, match="edge fit"):
        Contribution(name="edge fit", u=math.nan)
    with pytest.raises(ValueError, match="dof"):
        Contribution(name="edge fit", u=0.1, dof=0)


def test_the_table_names_every_contribution_and_the_sum():
    budget = end_gauge(second_order=False)
    table = budget_table(budget)
    for part in budget.contributions:
        assert part.name in table
    assert "combined u = 31.7 nm" in table
    assert "expanded U = 63.3 nm (k = 2)" in table
    assert table.index("length of the standard") < table.index("comparator, random")


@given(
    st.lists(st.floats(1e-6, 1e3), min_size=1, max_size=8),
    st.floats(0.1, 10),
)
def test_sum_is_at_least_its_largest_part_and_scales(shares, factor):
    def budget(scale: float) -> Budget:
        return Budget(
            quantity="q",
            value=0.0,
            unit="mm",
            contributions=tuple(
                Contribution(name=str(i), u=u * scale, dof=4)
                for i, u in enumerate(shares)
            ),
        )

    assert combined(budget(1)) >= max(shares) * (1 - 1e-12)
    assert combined(budget(factor)) == pytest.approx(factor * combined(budget(1)))
    assert 4 * (1 - 1e-9) <= effective_dof(budget(1)) <= 4 * len(shares) * (1 + 1e-9)
    assert reading(budget(1)).u == pytest.approx(2 * combined(budget(1)))
