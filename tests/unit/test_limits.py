"""Shop limits: the shipped rows, the user's rows, the guard band."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.errors import TableError
from vision.limits import (
    Bound,
    Limit,
    bound_frac,
    bound_mm,
    find_limit,
    judge,
    read_limits,
    shop_limits,
)
from vision.results import NotFound
from vision.uncertainty import Reading

LIMITS = read_limits()


def row(check: str, set_name: str) -> Limit:
    found = find_limit(LIMITS, check, "gull_wing", set_name)
    assert isinstance(found, Limit)
    return found


def upper(value: float, status: str = "read") -> Bound:
    return Bound(value=value, side="max", unit="mm", source="test", status=status)


def read(value: float, u: float) -> Reading:
    return Reading(name="side overhang", value=value, u=u, unit="mm")


@pytest.mark.parametrize(
    ("set_name", "width_mm", "limit_mm"),
    # Lesser of the share and 0.50 mm: Circuit Technology Center guide 7.5.1.
    [
        ("general", 0.41, 0.205),
        ("general", 1.20, 0.50),
        ("strict", 0.41, 0.1025),
        ("strict", 2.40, 0.50),
    ],
)
def test_side_overhang_limit_is_the_lesser_of_two(set_name, width_mm, limit_mm):
    bound = bound_mm(row("side_overhang", set_name), width_mm)
    assert bound.value == pytest.approx(limit_mm)
    assert bound.side == "max"
    share = bound_frac(row("side_overhang", set_name), width_mm)
    assert share.value == pytest.approx(limit_mm / width_mm)


def test_clearance_is_a_lower_limit():
    bound = bound_mm(row("clearance", "general"), 0.3)
    assert (bound.value, bound.side) == (0.13, "min")


def test_every_shipped_row_has_a_source():
    assert len(LIMITS) >= 8
    assert all(limit.source for limit in LIMITS)
    assert {limit.status for limit in LIMITS} <= {"read", "derived", "memory"}


@pytest.mark.parametrize(
    ("value", "u", "state"),
    [
        (0.10, 0.05, "ok"),
        (0.15, 0.05, "ok"),
        (0.16, 0.05, "unsure"),
        (0.20, 0.0, "ok"),
        (0.24, 0.05, "unsure"),
        (0.26, 0.05, "fault"),
    ],
)
def test_guard_band_on_an_upper_limit(value, u, state):
    assert judge(read(value, u), upper(0.20)).state == state


@pytest.mark.parametrize(
    ("value", "u", "state"),
    [(0.20, 0.05, "ok"), (0.15, 0.05, "unsure"), (0.07, 0.05, "fault")],
)
def test_guard_band_on_a_lower_limit(value, u, state):
    bound = Bound(value=0.13, side="min", unit="mm", source="test", status="read")
    finding = judge(read(value, u), bound)
    assert finding.state == state
    assert "shop limit at least 0.130 mm" in finding.reasons[0]


def test_the_sentence_has_reading_spread_and_limit():
    finding = judge(read(0.123, 0.02), upper(0.2))
    assert finding.reasons == (
        "side overhang: measured 0.123 ± 0.020 mm, shop limit 0.200 mm",
    )


def test_unsure_says_which_photo_settles_it():
    finding = judge(read(0.19, 0.02), upper(0.2))
    assert finding.state == "unsure"
    assert "closer photo, square on" in finding.reasons[0]


def test_a_limit_from_memory_warns_but_never_stops():
    finding = judge(read(0.9, 0.02), upper(0.2, status="memory"))
    assert finding.state == "unsure"
    assert "from memory" in finding.reasons[0]


def test_nothing_measured_is_never_ok():
    assert judge(read(float("nan"), 0.1), upper(0.2)).state == "unsure"
    assert judge(read(0.0, float("nan")), upper(0.2)).state == "unsure"
    assert judge(read(0.0, float("inf")), upper(0.2)).state == "unsure"


def test_units_must_agree():
    degrees = Reading(name="skew", value=1.0, u=0.1, unit="deg")
    with pytest.raises(ValueError, match="skew"):
        judge(degrees, upper(0.2))


def test_a_missing_row_lists_the_known_sets():
    found = find_limit(LIMITS, "side_overhang", "gull_wing", "harbour")
    assert isinstance(found, NotFound)
    assert "general, strict" in found.reason


def test_the_users_file_replaces_and_adds(tmp_path):
    own = tmp_path / "harbour.toml"
    own.write_text(
        "[side_overhang.gull_wing.general]\nmax_mm = 0.1\nsource = 'shop rule 7'\n"
        "[clearance.gull_wing.harbour]\nmin_mm = 0.2\nsource = 'shop rule 8'\n",
        encoding="utf-8",
    )
    limits = read_limits(own)
    assert len(limits) == len(LIMITS) + 1
    changed = find_limit(limits, "side_overhang", "gull_wing", "general")
    assert isinstance(changed, Limit)
    assert (changed.max_mm, changed.max_frac_of_lead_width) == (0.1, None)
    assert changed.status == "own"


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("a = 1", r"\[check\.lead_style\.set\]"),
        ("[clearance.gull_wing.c]\nmin_mm = 1", "where the number comes from"),
        ("[clearance.gull_wing.c]\nmin_mm = -1\nsource='x'", "from 0 to 1000"),
        ("[clearance.gull_wing.c]\nmin_mm = true\nsource='x'", "from 0 to 1000"),
        ("[clearance.gull_wing.c]\nmin_mm = nan\nsource='x'", "from 0 to 1000"),
        (
            "[clearance.gull_wing.c]\nmax_mm = 0.13\nsource='x'",
            "for clearance one of min_mm",
        ),
        (
            "[side_overhang.gull_wing.c]\nmin_mm = 0.2\nsource='x'",
            "one of max_mm, max_frac",
        ),
        ("[clearance.gull_wing.c]\nmax_inch = 1\nsource='x'", "max_inch"),
        ("[clearance.gull_wing.c]\nsource='x'", "at least one of"),
        ("[clearance.gull_wing.c]\nmin_mm = 1\nsource='x'\nstatus='sure'", "status"),
        ("[clearance.gullwing.c]\nmin_mm = 1\nsource='x'", "no leads are 'gullwing'"),
        ("", "no limit"),
        ("[skew.b.c]\nmax_mm = 1\nsource='x'", "nothing measures 'skew'"),
        ("[a.b", "Mend that line"),
    ],
)
def test_a_bad_file_says_what_to_mend(tmp_path, text, match):
    own = tmp_path / "own.toml"
    own.write_text(text, encoding="utf-8")
    with pytest.raises(TableError, match=match):
        read_limits(own)


def test_a_file_of_another_encoding_says_so(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("# Prüfplan\n", encoding="latin-1")
    with pytest.raises(TableError, match="Save it as UTF-8"):
        read_limits(own)


def test_a_shop_chooses_its_set_and_its_own_rows(tmp_path):
    assert shop_limits().name == "general"
    strict = shop_limits(set_name="strict").find("side_overhang", "gull_wing")
    assert isinstance(strict, Limit)
    assert strict.max_frac_of_lead_width == 0.25
    own = tmp_path / "harbour.toml"
    own.write_text(
        "[side_overhang.gull_wing.quay]\nmax_mm = 0.05\nsource = 'shop rule 7'\n",
        encoding="utf-8",
    )
    quay = shop_limits(own, "quay")
    assert quay.name == "quay with harbour.toml"
    row = quay.find("side_overhang", "gull_wing")
    assert isinstance(row, Limit)
    assert row.max_mm == 0.05
    with pytest.raises(TableError, match=r"no row of the set 'general'.*: quay"):
        shop_limits(own)
    with pytest.raises(TableError, match="known sets: general, strict"):
        shop_limits(set_name="quay")


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(TableError, match=r"none\.toml"):
        read_limits(tmp_path / "none.toml")


@given(st.floats(-2, 2), st.floats(0, 1), st.floats(0, 1))
def test_wider_doubt_never_turns_a_fault_into_ok(value, u, limit):
    narrow = judge(read(value, u), upper(limit)).state
    wide = judge(read(value, u * 2 + 0.01), upper(limit)).state
    if wide != "unsure":
        assert narrow == wide
