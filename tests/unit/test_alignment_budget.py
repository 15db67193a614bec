"""The alignment budget against the table worked out from open land patterns.

Inputs: open footprint files (Debian kicad-footprints 6.0.11) and the size definitions
of the open footprint generator; limits: Circuit Technology Center guide 7.5.1 and
the ANSI/IPC-D-275 spacing table.
"""

import csv
from pathlib import Path

import pytest

from vision.alignment_budget import alignment_budget
from vision.limits import Limit, find_limit, read_limits

CASES = Path(__file__).parents[1] / "reference" / "alignment_cases.csv"
LAST_DIGIT_MM = 0.00051
LAST_DIGIT_DEG = 0.0051


def rows():
    with CASES.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def limit(check: str, set_name: str) -> Limit:
    found = find_limit(read_limits(), check, "gull_wing", set_name)
    assert isinstance(found, Limit)
    return found


def budget(row, set_name):
    keys = ("land_width_mm", "lead_width_mm", "pitch_mm", "lead_span_mm")
    return alignment_budget(
        **{key: float(row[key]) for key in keys},
        side_limit=limit("side_overhang", set_name),
        clearance_limit=limit("clearance", set_name),
    )


def test_all_thirteen_rows_are_there():
    assert len(rows()) == 13


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["land_file"])
def test_row(row):
    general, strict = budget(row, "general"), budget(row, "strict")
    for found, key in (
        (general.shift_before_overhang_mm, "before_mm"),
        (general.shift_at_limit_mm, "general_mm"),
        (strict.shift_at_limit_mm, "strict_mm"),
        (general.gap_centred_mm, "gap_mm"),
        (general.shift_clearance_mm, "clear_mm"),
    ):
        assert found == pytest.approx(float(row[key]), abs=LAST_DIGIT_MM), key
    assert general.rotation_deg == pytest.approx(
        float(row["general_deg"]), abs=LAST_DIGIT_DEG
    )
    assert strict.rotation_deg == pytest.approx(
        float(row["strict_deg"]), abs=LAST_DIGIT_DEG
    )


def test_half_the_land_width_rule():
    # Where the share counts, the general limit is half the LAND width.
    for row in rows():
        land = float(row["land_width_mm"])
        assert budget(row, "general").shift_at_limit_mm == pytest.approx(land / 2)


def test_a_land_too_near_leaves_no_rotation():
    row = {
        "land_width_mm": "0.5",
        "lead_width_mm": "0.4",
        "pitch_mm": "0.5",
        "lead_span_mm": "6",
    }
    found = budget(row, "general")
    assert found.shift_clearance_mm < 0
    assert found.rotation_deg == 0
