"""Rows that stand high: named, and nothing in them called sound."""

import pytest

from vision.high_rows import IN_HIGH_ROW, STANDS_CLEAR, doubt_high_rows, high_rows
from vision.joint_sums import sum_joints
from vision.results import Joint

DUAL, QUAD = ((1, 4), (5, 8)), ((1, 4), (5, 8), (9, 12), (13, 16))


def chip(lifted, count=8):
    """Sound joints, and of some leads one that is lifted or may be."""
    said = dict.fromkeys(lifted, f"may be: {STANDS_CLEAR}; look")
    return tuple(
        Joint(lead=n, state="unsure", findings=(said[n],))
        if n in said
        else Joint(lead=n, state="ok")
        for n in range(1, count + 1)
    )


@pytest.mark.parametrize(
    ("lifted", "rows", "high"),
    [
        ((5, 6, 7, 8), DUAL, [(5, 8)]),
        ((1, 3), DUAL, [(1, 4)]),
        ((2,), DUAL, []),
        ((), DUAL, []),
        ((1, 2, 3, 4, 5, 6, 7), DUAL, []),
        ((1, 2, 3, 4), QUAD, [(1, 4)]),
        ((1, 2, 3, 4, 9, 10), QUAD, []),
        ((5, 6, 7, 8, 9, 10, 11), QUAD, [(5, 8), (9, 12)]),
        ((4,), ((1, 3), (4, 4)), []),
    ],
)
def test_a_row_is_high_where_half_of_it_is_lifted_and_not_the_one_across(
    lifted, rows, high
):
    assert list(high_rows(chip(lifted, rows[-1][1]), rows)) == high


def test_nothing_in_a_high_row_is_called_sound():
    doubted = doubt_high_rows(chip((5, 6)), DUAL)
    assert [j.state for j in doubted] == ["ok"] * 4 + ["unsure"] * 4
    assert doubted[7].findings == (IN_HIGH_ROW,)
    assert doubted[4].findings[-1] == IN_HIGH_ROW
    assert doubted[4].findings[0].startswith("may be")
    assert high_rows(doubted, DUAL) == ((5, 8),)
    assert doubt_high_rows(chip((5,)), DUAL) == chip((5,))


def test_a_tilted_chip_is_named_before_its_leads():
    check = sum_joints(chip((5, 6, 7)), DUAL)
    assert check.state == "unsure"
    assert check.reasons[0].startswith("leads 5 to 8 seem to stand high")
    assert check.reasons[1].startswith("lead 5")
    assert not any("tilted" in said for said in sum_joints(chip((5,)), DUAL).reasons)
