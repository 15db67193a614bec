"""Reading the tables, and refusing what breaks their rules."""

import itertools

import pytest

from tests.tolerances import ROUNDING_MM
from vision import tables
from vision.errors import TableError

FAMILIES = [
    *("DIP", "MSOP", "PLCC", "QFN", "QFP", "SOIC", "SON", "SOT", "SSOP", "TSOP"),
    "TSSOP",
]
ALL = [v for f in tables.families().values() for v in f.variants]

GOOD = """
family = "SOIC"
lead_style = "gull_wing"
pin1_marks = ["dot"]
coplanarity_mm = 0.1
coplanarity_status = "read"
[[variant]]
name = "SOIC-4"
lead_count = 4
leads_per_side = [2, 0, 2, 0]
pitch_mm = 1.27
body_x_mm = [3.8, 3.9, 4.0]
body_y_mm = [2.8, 2.9, 3.0]
span_x_mm = [5.8, 6.0, 6.2]
lead_width_mm = [0.31, 0.41, 0.51]
foot_length_mm = [0.4, 0.8, 1.2]
height_mm = [1.3, 1.5, 1.7]
source = "made up for the test"
status = "memory"
"""


def by_name(name):
    return next(v for v in ALL if v.name == name)


def test_every_family_is_there():
    assert list(tables.families()) == FAMILIES


@pytest.mark.parametrize("variant", ALL, ids=lambda v: v.name)
def test_leads_and_lands_of_every_row(variant):
    leads = tables.lead_positions(variant)
    lands = tables.land_positions(variant)
    assert [lead.number for lead in leads] == list(range(1, variant.lead_count + 1))
    assert [(lead.number, lead.side) for lead in leads] == [
        (land.number, land.side) for land in lands
    ]
    assert all(min(land.size_mm) > 0 for land in lands)
    # Lands of one side keep clear of each other.
    for first, second in itertools.pairwise(lands):
        if first.side == second.side:
            along = 1 if first.side in ("left", "right") else 0
            apart_mm = abs(first.centre_mm[along] - second.centre_mm[along])
            assert apart_mm > (first.size_mm[along] + second.size_mm[along]) / 2


def test_leads_are_counted_down_the_left_and_up_the_right():
    leads = tables.lead_positions(by_name("SOIC-8 3.9x4.9 P1.27"))
    assert leads[0].toe_mm == pytest.approx((-3.0, -1.905), abs=ROUNDING_MM)
    assert leads[0].heel_mm == pytest.approx((-2.165, -1.905), abs=ROUNDING_MM)
    assert leads[0].root_mm == pytest.approx((-1.95, -1.905), abs=ROUNDING_MM)
    assert leads[3].toe_mm == pytest.approx((-3.0, 1.905), abs=ROUNDING_MM)
    assert leads[4].toe_mm == pytest.approx((3.0, 1.905), abs=ROUNDING_MM)
    assert leads[7].toe_mm == pytest.approx((3.0, -1.905), abs=ROUNDING_MM)


@pytest.mark.parametrize(
    ("name", "sides"),
    [
        ("SOT-23 1.3x2.9 P0.95", "LLR"),
        ("SOT-23-5 1.6x2.9 P0.95", "LLLRR"),
        ("SOT-223 3.5x6.5 P2.3", "LLLR"),
        ("LQFP-32 7x7 P0.8", "L" * 8 + "B" * 8 + "R" * 8 + "T" * 8),
        ("PLCC-20 8.97x8.97 P1.27", "TTT" + "L" * 5 + "B" * 5 + "R" * 5 + "TT"),
        ("TSOP-I-48 18.4x12 P0.5", "L" * 24 + "R" * 24),
    ],
)
def test_sides_in_counting_order(name, sides):
    leads = tables.lead_positions(by_name(name))
    assert "".join(lead.side[0].upper() for lead in leads) == sides


def test_plcc_pin_1_is_mid_side_and_its_corner_is_cut():
    variant = by_name("PLCC-32 11.43x13.97 P1.27")
    assert tables.lead_positions(variant)[0].toe_mm[0] == pytest.approx(0, abs=1e-9)
    assert tables.pin1_corner_mm(variant) == (-11.43 / 2, -13.97 / 2)


def test_the_tab_of_a_sot_223_is_wide():
    leads = tables.lead_positions(by_name("SOT-223 3.5x6.5 P2.3"))
    lands = tables.land_positions(by_name("SOT-223 3.5x6.5 P2.3"))
    assert [lead.width_mm for lead in leads] == [0.7, 0.7, 0.7, 3.0]
    assert lands[3].size_mm[1] > 3.0 > lands[2].size_mm[1]


@pytest.mark.parametrize(
    ("family", "lead_count", "aspect", "name"),
    [
        ("SOIC", 8, 1.26, "SOIC-8 3.9x4.9 P1.27"),
        ("SOIC", 8, 1.00, "SOIC-8 5.23x5.23 P1.27"),
        ("SON", 8, 0.83, "WSON-8 6x5 P1.27"),
        ("TSOP", 48, 0.65, "TSOP-I-48 18.4x12 P0.5"),
        ("TSOP", None, 2.2, "TSOP-II-54 10.16x22.22 P0.8"),
        ("QFP", 100, 1.42, "LQFP-100 14x20 P0.65"),
    ],
)
def test_the_shape_chooses_the_size(family, lead_count, aspect, name):
    assert tables.best_variant(family, lead_count, aspect).name == name


@pytest.mark.parametrize(
    ("family", "lead_count", "aspect", "reason"),
    [("SOIC", 8, 3.0, "shape"), ("SOIC", 9, 1.0, "no SOIC"), ("BGA", 8, 1.0, "no BGA")],
)
def test_no_size_is_an_answer(family, lead_count, aspect, reason):
    answer = tables.best_variant(family, lead_count, aspect)
    assert not answer
    assert reason in answer.reason
    with pytest.raises(ValueError, match="aspect"):
        tables.rank_variants(family, lead_count, 0.0)


def test_a_good_table_is_read(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(GOOD)
    (variant,) = tables.read_family(file).variants
    assert variant.land.status == "derived"
    assert variant.span_y_mm == variant.span_x_mm


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("lead_count = 4", "lead_count = 5", "adds up to 4; 5 needed"),
        ("lead_count = 4", "", "lead_count"),
        ("[3.8, 3.9, 4.0]", "[3.9, 3.8, 4.0]", "body_x_mm is .* in order"),
        ("[3.8, 3.9, 4.0]", "[3.9]", "not enough values"),
        ('"memory"', '"guess"', "status 'guess'"),
        ('"gull_wing"', '"claw"', "lead_style 'claw'"),
        ("[2, 0, 2, 0]", "[2, 2]", "mine.toml, row 'SOIC-4'"),
        ("pitch_mm = 1.27", "pitch_mm = 5.0", "reach over 5.00 mm"),
        ("pitch_mm = 1.27", "pitch_mm = 0.2", "wider than the pitch"),
        ("[5.8, 6.0, 6.2]", "[1.0, 1.1, 1.2]", "span is less"),
        ('source = "made up for the test"', 'source = ""', "source is empty"),
        ("coplanarity_mm = 0.1", "", "coplanarity_mm"),
        ('coplanarity_status = "read"', "", "coplanarity_status"),
        ('coplanarity_status = "read"', 'coplanarity_status = "so"', "status 'so'"),
        ("coplanarity_mm = 0.1", "coplanarity_mm = ", "mine.toml"),
        ('status = "memory"', 'status = "memory"\npin1_index = 4', "past the last"),
    ],
)
def test_a_broken_table_says_where(tmp_path, old, new, message):
    file = tmp_path / "mine.toml"
    file.write_text(GOOD.replace(old, new, 1))
    with pytest.raises(TableError, match=message):
        tables.read_family(file)


def test_two_rows_of_one_name_are_refused(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(GOOD + GOOD[GOOD.index("[[variant]]") :])
    with pytest.raises(TableError, match="same name"):
        tables.read_family(file)


def test_a_missing_table_is_said(tmp_path):
    with pytest.raises(TableError, match=r"gone\.toml"):
        tables.read_family(tmp_path / "gone.toml")
