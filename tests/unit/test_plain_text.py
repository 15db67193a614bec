"""Hidden characters are spelt out; cells never become formulas."""

from __future__ import annotations

import pytest

from ui.plain_text import csv_cell, visible, visible_lines


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("plain Ünïcode 漢字 ✔", "plain Ünïcode 漢字 ✔"),
        ("gpj.\u202eexe", "gpj.[U+202E]exe"),
        ("a\x00b\x1b[31m", "a[U+0000]b[U+001B][31m"),
        ("line\nend\u2028x", "line[U+000A]end[U+2028]x"),
        ("zero\u200bwidth\ufeff", "zero[U+200B]width[U+FEFF]"),
        ("half\ud800", "half[U+D800]"),
    ],
)
def test_hidden_characters_are_spelt_out(given, shown):
    assert visible(given) == shown


def test_lines_stay_lines():
    assert visible_lines("one\r\ntwo\n\tthree") == ("one", "two", "[U+0009]three")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", " =", "\uff1d", "\uff20"])
def test_formulas_become_text(start):
    assert csv_cell(f"{start}1+1").startswith("'")


@pytest.mark.parametrize(
    ("value", "cell"),
    [(None, ""), (-0.25, "-0.25"), (-3, "-3"), (True, "True"), (float("nan"), "")],
)
def test_numbers_stay_numbers(value, cell):
    assert csv_cell(value) == cell
