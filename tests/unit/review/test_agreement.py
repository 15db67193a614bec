"""Agreement figures against published formulas and another implementation."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.review.helpers import Jobs
from ui.record import DECISIONS
from ui.review import Filter, accept, overrule
from ui.review.agreement import pair_agreement, read_agreement

CASES = Path(__file__).parents[2] / "reference" / "kappa_cases.csv"
tables = st.lists(
    st.lists(st.integers(0, 60), min_size=4, max_size=4), min_size=4, max_size=4
).map(lambda rows: np.array(rows, dtype=np.int64))


def cases():
    with CASES.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("case", cases(), ids=lambda case: case["counts"])
def test_kappa_and_its_interval_as_in_the_reference(case):
    rows = [list(map(int, row.split())) for row in case["counts"].split("/")]
    found = pair_agreement("tool", "technician", np.array(rows))
    for name in ("kappa", "kappa_low", "kappa_high"):
        assert getattr(found, name) == pytest.approx(float(case[name]), abs=1e-9)


@given(counts=tables)
def test_figures_stay_within_their_bounds_and_swap_with_the_raters(counts):
    found = pair_agreement("tool", "technician", counts)
    swapped = pair_agreement("technician", "tool", counts.T)
    assert found.job_count == counts.sum()
    if found.agreed_frac is not None:
        assert 0 <= found.agreed_low_frac <= found.agreed_frac
        assert found.agreed_frac <= found.agreed_high_frac <= 1
    if found.kappa is None:
        assert swapped.kappa is None
    else:
        assert -1 <= found.kappa <= 1
        assert swapped.kappa == pytest.approx(found.kappa)
    if found.kappa_low is not None:
        assert -1 <= found.kappa_low <= found.kappa <= found.kappa_high <= 1
        assert swapped.kappa_low == pytest.approx(found.kappa_low)


def test_what_is_not_defined_is_not_given():
    empty = pair_agreement("tool", "reviewer", np.zeros((4, 4), dtype=np.int64))
    assert (empty.agreed_frac, empty.kappa, empty.kappa_low) == (None, None, None)
    one_word = pair_agreement("tool", "reviewer", np.diag([7, 0, 0, 0]))
    assert (one_word.agreed_frac, one_word.kappa) == (1.0, None)
    assert one_word.agreed_low_frac < 0.6  # 7 of 7 is no proof of agreement
    perfect = pair_agreement("tool", "reviewer", np.diag([5, 5, 0, 0]))
    assert perfect.kappa == 1
    assert perfect.kappa_low is None  # no spread seen, so no interval is claimed


def test_exact_interval_of_the_share_agreed():
    """Clopper and Pearson: none of n has the upper end 1 - 0.025 ** (1 / n)."""
    counts = np.array([[0, 10], [0, 0]])
    found = pair_agreement("tool", "reviewer", counts)
    assert found.agreed_high_frac == pytest.approx(1 - 0.025 ** (1 / 10))
    assert found.agreed_low_frac == 0


def test_jobs_are_counted_where_both_have_spoken(home, tmp_path):
    jobs = Jobs(home, tmp_path)
    accept(jobs.add(decision="no-fault-seen", worked=True), by="Rev")
    overrule(
        jobs.add(decision="no-fault-seen", worked=False),
        "stop",
        by="Rev",
        reason="pin 1 is at the other end",
    )
    jobs.add(tool="stop", decision="no-fault-seen")  # never reviewed
    jobs.add(tool=None, decision="stop")  # the tool said nothing
    jobs.add()  # nobody decided
    found = read_agreement(home, Filter(show="all"))
    by_pair = {(pair.first, pair.second): pair for pair in found.pairs}
    assert by_pair["tool", "technician"].counts[0][:2] == (2, 0)
    assert by_pair["tool", "technician"].counts[1][:2] == (1, 0)
    assert by_pair["tool", "technician"].job_count == 3
    assert by_pair["technician", "reviewer"].counts[0][:2] == (1, 1)
    assert by_pair["tool", "reviewer"].job_count == 2
    became = {(o.rater, o.decision): (o.worked, o.failed) for o in found.outcomes}
    assert became["technician", "no-fault-seen"] == (1, 1)
    assert became["reviewer", "stop"] == (0, 1)
    assert became["reviewer", "no-fault-seen"] == (1, 0)
    reviewed = read_agreement(home, Filter(show="reviewed"))
    assert reviewed.pairs[0].job_count == 2


def test_a_board_let_go_without_a_comparison_counts_against_the_tool(home, tmp_path):
    jobs = Jobs(home, tmp_path)
    jobs.add(tool=None, decision="no-fault-seen")
    jobs.add(stages=("before",), decision="no-fault-seen")
    jobs.add(decision="no-fault-seen")
    pair = read_agreement(home, Filter(show="all")).pairs[0]
    assert (pair.first, pair.second) == ("tool", "technician")
    assert (pair.agreed_count, pair.job_count) == (1, 3)
    by_hand = DECISIONS.index("check-by-hand")
    assert pair.counts[by_hand] == (2, 0, 0, 0)


def test_no_folder_no_figures(home):
    assert read_agreement(home, Filter()).pairs[0].job_count == 0
