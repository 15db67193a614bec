"""Exports: text stays text in a spreadsheet, and whole in JSON lines."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict, replace

import pytest

from tests.unit.report.helpers import HOSTILE
from tests.unit.review.helpers import Jobs
from ui.review import Filter, csv_lines, json_lines, read_rows

TEXTS = {
    "formula": "=cmd|' /C calc'!A1",
    "plus": "+1+1",
    "minus": "-1+1",
    "at": "@SUM(1)",
    "wide": "\uff1d1+1",
    "after a tab": "\t=1+1",
    "after a line": "\r\n=1+1",
    "hostile": HOSTILE,
    "path": "../../etc/passwd",
    "long": "x" * 300,
    "quotes": '",=1+1,"',
    "right to left": "\u202e=1",
}


@pytest.fixture
def row(home, tmp_path):
    Jobs(home, tmp_path).add(decision="stop")
    (row,) = read_rows(home, Filter())
    return row


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_no_cell_is_a_formula_and_nothing_is_hidden(row, text):
    hostile = replace(row, technician=text, part=text, review_reason=text)
    content = "".join(csv_lines([hostile]))
    content.encode("utf-8")
    (read,) = csv.DictReader(io.StringIO(content))
    for name, value in read.items():
        assert value[:1] not in tuple("=+-@\t\r\uff1d\uff0b\uff0d\uff20"), name
        assert value.isprintable(), name
    assert content.count("\n") == 2


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_json_lines_keep_the_text_as_given(row, text):
    hostile = replace(row, part=text)
    (line,) = json_lines([hostile])
    assert line.isascii()
    assert json.loads(line) == asdict(hostile)
