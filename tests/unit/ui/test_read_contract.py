"""What is written as JSON is read back the same; what is damaged is refused."""

from __future__ import annotations

import copy
import json
from dataclasses import fields, is_dataclass, replace

import pytest

from tests.unit.ui.reports import pair_report, photo_report
from ui.contract import error_json, pair_report_json, photo_report_json
from ui.read_contract import read_pair_report, read_photo_report
from vision.errors import PhotoError, RecordError
from vision.results import Bridge, Joint


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


def test_a_comparison_is_read_back_in_every_field_but_its_photos():
    doubt = Bridge(between=(1, 2), confidence=0.9, at_px=(5.0, 6.0), state="unsure")
    report = pair_report(
        bridges=(doubt, replace(doubt, between=(2, 3), state="fault")),
        joints=(Joint(lead=1, state="unsure", findings=("may be: lifted",)),),
        reasons=("look at it",),
        notes=("darker beside the chip",),
        limits="strict with harbour.toml",
    )
    back = read_pair_report(through_json(pair_report_json(report)))
    for field in fields(report):
        if field.name not in ("before", "after", "budgets"):
            one, two = getattr(report, field.name), getattr(back, field.name)
            assert same(one, two), field.name


@pytest.mark.parametrize(("confidence", "state"), [(0.69, "unsure"), (0.7, "fault")])
def test_a_bridge_recorded_without_its_state_is_told_by_its_confidence(
    confidence, state
):
    bridge = Bridge(between=(1, 2), confidence=confidence, at_px=(5.0, 6.0))
    answer = through_json(pair_report_json(pair_report(bridges=(bridge,))))
    del answer["bridges"][0]["state"]
    assert read_pair_report(answer).bridges[0].state == state


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
