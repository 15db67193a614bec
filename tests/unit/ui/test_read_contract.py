"""What is written as JSON is read back the same; what is damaged is refused."""

from __future__ import annotations

import copy
import json
from dataclasses import fields, is_dataclass

import pytest

from tests.unit.ui.reports import pair_report, photo_report
from ui.contract import error_json, pair_report_json, photo_report_json
from ui.read_contract import read_pair_report, read_photo_report
from vision.errors import PhotoError, RecordError


def through_json(value):
    return json.loads(json.dumps(value, allow_nan=False))


def same(one, two):
    """Tell whether two reports say the same to a thousandth."""
    if is_dataclass(one):
        names = [f.name for f in fields(one) if f.name not in ("pixels", "packages")]
        return type(one) is type(two) and all(
            same(getattr(one, name), getattr(two, name)) for name in names
        )
    if isinstance(one, tuple | list):
        return len(one) == len(two) and all(map(same, one, two))
    if isinstance(one, float):
        return two == pytest.approx(one, abs=1e-3)
    return one == two or str(one) == str(two)


def test_a_look_is_read_back():
    report = photo_report()
    back = read_photo_report(through_json(photo_report_json(report)))
    assert same(report, back)
    assert len(back.packages) == len(report.packages)
    assert all(map(same, report.packages, back.packages))
    assert back.photo.pixels.size == 0


def test_a_comparison_is_read_back():
    report = pair_report()
    back = read_pair_report(through_json(pair_report_json(report)))
    for name in ("orientation", "alignment", "registration", "checks", "decision"):
        assert same(getattr(report, name), getattr(back, name)), name
    assert same(report.after_package, back.after_package)


@pytest.mark.parametrize("read", [read_photo_report, read_pair_report])
def test_an_error_line_is_told_in_its_own_words(read):
    line = error_json("a.jpg", PhotoError("a.jpg: too dark; light it."))
    with pytest.raises(RecordError, match="too dark"):
        read(line)


def paths(value, path=()):
    """Give every place of a JSON value."""
    yield path
    if isinstance(value, dict):
        for key, item in value.items():
            yield from paths(item, (*path, key))
    elif isinstance(value, list):
        for index, item in enumerate(value[:2]):
            yield from paths(item, (*path, index))


def changed(value, path, new):
    copied = copy.deepcopy(value)
    place = copied
    for step in path[:-1]:
        place = place[step]
    if path:
        place[path[-1]] = new
        return copied
    return new if isinstance(new, dict) else {}


@pytest.mark.parametrize("new", [None, "x", [], {}, -1, [[1]], {"a": {"b": []}}])
@pytest.mark.parametrize(
    ("read", "write"),
    [
        (read_photo_report, lambda: photo_report_json(photo_report())),
        (read_pair_report, lambda: pair_report_json(pair_report())),
    ],
)
def test_any_damage_is_a_sentence_or_harmless(read, write, new):
    answer = through_json(write())
    told = []
    for path in paths(answer):
        try:
            read(changed(answer, path, new))
        except RecordError as error:
            told.append(str(error))
    assert told
    assert all("another form" in sentence for sentence in told)
