"""The tables against values read from standards and makers' drawings."""

import csv
from pathlib import Path

import pytest

from tests.tolerances import TABLE_MM
from vision import packages, tables

TEXT = (Path(__file__).parent / "package_sizes.csv").read_text()
CASES = list(csv.DictReader(TEXT.splitlines()))
VARIANTS = {v.name: v for f in tables.families().values() for v in f.variants}
GULL_WINGS_READ = [
    v
    for v in VARIANTS.values()
    if v.lead_style == "gull_wing" and (v.status, v.land.status) == ("read", "read")
]


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c['name']} {c['field']}")
def test_a_row_holds_what_the_drawing_says(case):
    expected = [float(case[f"{k}_mm"]) for k in ("min", "nominal", "max")]
    found = getattr(VARIANTS[case["name"]], case["field"])
    assert found == pytest.approx(expected, abs=TABLE_MM)
    assert VARIANTS[case["name"]].status == "read"


@pytest.mark.parametrize("variant", GULL_WINGS_READ, ids=lambda v: v.name)
def test_the_land_formula_gives_the_land_read(variant):
    derived = packages.derive_land(
        variant.lead_style,
        (variant.span_x_mm, variant.span_y_mm),
        variant.foot_length_mm,
        variant.lead_width_mm,
        variant.pitch_mm,
    )
    # The lands read were rounded to 0.05 mm an edge; the one of MSOP-8 is narrower
    # than the formula's by 0.1 mm.
    assert derived.centre_x_mm == pytest.approx(variant.land.centre_x_mm, abs=0.1)
    assert derived.width_mm == pytest.approx(variant.land.width_mm, abs=0.1 + TABLE_MM)
    assert derived.length_mm == pytest.approx(variant.land.length_mm, abs=0.2)
