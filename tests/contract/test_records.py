"""Records are frozen, and every number says its unit in its name."""

import dataclasses
import importlib
import pkgutil

import pytest

import vision

UNITS = (
    *("_px", "_px2", "_mm", "_um", "_deg", "_frac", "_px_per_mm", "_s", "_count"),
    *("per_mm", "_level", "_levels", "_percentile"),
)
# Numbers without a unit: probabilities, counts, log-odds, index places.
UNITLESS = {
    *("confidence", "family_confidence", "score", "weight", "number", "lead"),
    *("inliers", "between", "pin1_index", "leads_per_side", "before_to_after"),
    *("by_size", "other_share"),
}


def modules():
    """Import every module of vision."""
    for found in pkgutil.walk_packages(vision.__path__, "vision."):
        yield importlib.import_module(found.name)


RECORDS = {
    f"{kind.__module__}.{kind.__qualname__}": kind
    for module in modules()
    for kind in vars(module).values()
    if isinstance(kind, type)
    and dataclasses.is_dataclass(kind)
    and kind.__module__ == module.__name__
    # A drawing in the making and a chip being followed have real state; everything
    # else is handed on frozen.
    and not kind.__module__.startswith("vision.draw")
    and kind.__qualname__ not in ("Follower", "Placing")
}


def test_there_are_records():
    assert {"vision.results.Photo", "vision.packages.Variant"} <= set(RECORDS)


@pytest.mark.parametrize("name", sorted(RECORDS))
def test_a_record_is_frozen_and_slotted(name):
    kind = RECORDS[name]
    assert kind.__dataclass_params__.frozen
    assert hasattr(kind, "__slots__")


@pytest.mark.parametrize(
    "name", sorted(n for n in RECORDS if n.split(".")[1] in ("results", "packages"))
)
def test_numbers_carry_their_unit(name):
    for field in dataclasses.fields(RECORDS[name]):
        text = str(field.type)
        is_number = any(word in text for word in ("float", "Point", "Quad", "Triple"))
        if is_number and field.name not in UNITLESS:
            assert field.name.endswith(UNITS), f"{name}.{field.name}: {text}"
