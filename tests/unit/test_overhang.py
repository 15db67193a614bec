"""Leads against lands in known places; sizes from open land patterns."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.drawn_feet import opening_sd_mm
from vision.overhang import Doubt, Strip, read_leads
from vision.seat import name_situation, read_seat
from vision.uncertainty import combined, expanded

# (land x, land length, land outer span) and (lead span, foot length): open footprint
# files and size definitions, SOIC-8 narrow and SOIC-8 208 mil.
NARROW_LANDS, WIDE_LANDS = (2.475, 1.95), (3.6, 1.6)
NARROW_PART, WIDE_PART = (6.0, 0.835, 0.41), (7.9, 0.65, 0.42)
PITCH = 1.27


def lands(kind=NARROW_LANDS, width=0.6):
    x, length = kind
    return [
        Strip(
            number=i + 1 if left else 8 - i,
            centre_mm=((-x if left else x), (i - 1.5) * PITCH),
            length_mm=length,
            width_mm=width,
            outward=(-1.0, 0.0) if left else (1.0, 0.0),
            across_sd_mm=0.005,
            end_sd_mm=0.005,
            width_sd_mm=0.008,
        )
        for left in (True, False)
        for i in range(4)
    ]


def feet(kind=NARROW_PART, dx=0.0, dy=0.0, skew_deg=0.0):
    span, length, width = kind
    c, s = math.cos(math.radians(skew_deg)), math.sin(math.radians(skew_deg))
    turn = lambda x, y: (c * x + s * y, -s * x + c * y)  # noqa: E731
    strips = []
    for left in (True, False):
        for i in range(4):
            x = (span - length) / 2 * (-1 if left else 1)
            px, py = turn(x, (i - 1.5) * PITCH)
            strips.append(
                Strip(
                    number=i + 1 if left else 8 - i,
                    centre_mm=(px + dx, py + dy),
                    length_mm=length,
                    width_mm=width,
                    outward=turn(-1.0 if left else 1.0, 0.0),
                    across_sd_mm=0.004,
                    end_sd_mm=0.006,
                    width_sd_mm=0.006,
                )
            )
    return strips


def situation(part, pattern, **moved):
    found, doubt = feet(part, **moved), Doubt(registration_mm=0.004)
    seat, found = read_seat(found, pattern, doubt)
    return name_situation(seat, read_leads(found, pattern, doubt), PITCH)


def test_a_centred_chip_lies_inside_by_the_free_width():
    for reading in read_leads(feet(), lands(), Doubt()):
        assert reading.side_overhang.value == pytest.approx(-0.095)
        assert reading.side_overhang_frac == 0
        assert reading.toe_overhang.value == pytest.approx(-0.45)
        assert reading.gap.value == pytest.approx(0.765)
        assert reading.is_on_land


def test_a_shift_of_half_the_land_width_is_half_the_lead_width_over():
    for reading in read_leads(feet(dy=0.3), lands(), Doubt()):
        assert reading.side_overhang_frac == pytest.approx(0.5)
        assert reading.side_overhang.value == pytest.approx(0.205)
    inner = read_leads(feet(dy=0.3), lands(), Doubt())[1]
    assert inner.gap.value == pytest.approx(0.765 - 0.3)


def test_a_turned_chip_is_worst_at_the_toes():
    plain = read_leads(feet(skew_deg=2), lands(), Doubt())
    expected = 3.0 * math.sin(math.radians(2)) - 0.095
    worst = max(reading.side_overhang.value for reading in plain)
    assert worst == pytest.approx(expected, abs=0.005)


@given(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4), st.floats(-4, 4))
def test_shift_and_skew_come_back(dx, dy, skew):
    seat, _ = read_seat(feet(dx=dx, dy=dy, skew_deg=skew), lands(), Doubt())
    # Second-order terms of the turn stay: 1 - cos 4 deg over 3 mm is 0.007 mm.
    assert seat.dx_mm == pytest.approx(dx, abs=0.008)
    assert seat.dy_mm == pytest.approx(dy, abs=0.008)
    assert seat.skew_deg == pytest.approx(skew, abs=0.02)
    assert seat.toe_mm == pytest.approx(-0.45, abs=0.012)


def test_wrong_packages_are_named():
    name, said = situation(NARROW_PART, lands(WIDE_LANDS))
    assert name == "package narrower than its lands"
    assert "1.40 ±" in said
    name, said = situation(WIDE_PART, lands(NARROW_LANDS))
    assert name == "package wider than its lands"
    assert "0.50 ±" in said


def test_right_packages_are_not_named():
    assert situation(NARROW_PART, lands(NARROW_LANDS))[0] == "seated"
    assert situation(WIDE_PART, lands(WIDE_LANDS), dy=0.2, skew_deg=1)[0] == "seated"


@pytest.mark.parametrize("count", [1, -1, 2])
def test_a_whole_pitch_is_named(count):
    name, said = situation(NARROW_PART, lands(), dy=count * PITCH + 0.06)
    assert name == "shifted by whole pitches"
    assert f"{abs(count)} whole pitch" in said


def test_a_lead_off_its_land_is_named_with_its_number():
    bent = feet()
    bent[2] = Strip(
        number=3,
        centre_mm=(bent[2].centre_mm[0], bent[2].centre_mm[1] + 0.55),
        length_mm=0.835,
        width_mm=0.41,
        outward=(-1.0, 0.0),
    )
    seat, widened = read_seat(bent, lands(), Doubt())
    assert seat.misfits == (3,)
    assert seat.dy_mm == pytest.approx(0, abs=0.01)
    assert widened[2].across_sd_mm > 0.25
    name, said = name_situation(seat, read_leads(bent, lands(), Doubt()), PITCH)
    assert (name, said) == ("off its lands", "lead 3 off the land")


def test_each_source_of_doubt_counts_by_its_sensitivity():
    doubt = Doubt(registration_mm=0.01, scale_frac=0.02, plane_mm=(0.005, 0.005))
    side = read_leads(feet(dy=0.2), lands(), doubt)[0].side_overhang
    parts = [0.004, 0.005, 0.006 / 2, 0.008 / 2, 0.01, 0.005, 0.02 * 0.2]
    assert combined(side) == pytest.approx(math.hypot(*parts))
    assert expanded(side) == pytest.approx(2 * math.hypot(*parts))
    assert {c.name for c in side.contributions} >= {
        "registration",
        "scale",
        "land place",
    }


def test_the_side_overhang_knows_no_direction():
    up = read_leads(feet(dy=0.25), lands(), Doubt())
    down = read_leads(feet(dy=-0.25), lands(), Doubt())
    for a, b in zip(up, down, strict=True):
        assert a.side_overhang.value == pytest.approx(b.side_overhang.value)


def test_one_lead_gives_no_seat():
    with pytest.raises(ValueError, match="at least 2"):
        read_seat(feet()[:1], lands(), Doubt())


def test_lands_that_look_too_wide_may_lie_off_by_half_of_it():
    lit = [replace(land, width_mm=0.75) for land in lands()]  # one side's opening
    opening_mm = opening_sd_mm(lit, lands())
    assert opening_mm == pytest.approx(0.15 / 2 / math.sqrt(3))
    assert opening_sd_mm(lands(width=0.55), lands()) == 0.0
    assert opening_sd_mm((), lands()) == 0.0
    plain, doubt = Doubt(), Doubt(opening_mm=opening_mm)
    for name in ("side_overhang", "toe_overhang"):
        sure, doubtful = (
            combined(getattr(read_leads(feet(), lands(), d)[0], name))
            for d in (plain, doubt)
        )
        assert doubtful == pytest.approx(math.hypot(sure, opening_mm))
    sure, doubtful = (read_seat(feet(), lands(), d)[0].sd for d in (plain, doubt))
    for axis in (0, 1):  # shared by all lands: no mean makes it smaller
        assert doubtful[axis] == pytest.approx(math.hypot(sure[axis], opening_mm))
    assert doubtful[2] == pytest.approx(sure[2])


def test_a_shift_that_may_be_less_than_a_pitch_is_not_called_one():
    seat, _ = read_seat(feet(dy=PITCH), lands(), Doubt())
    sure, _ = name_situation(seat, readings_of(PITCH), PITCH)
    assert sure == "shifted by whole pitches"
    doubtful = replace(seat, sd=(0.3, 0.3, *seat.sd[2:]))  # U of 0.85 mm
    torn, _ = name_situation(doubtful, readings_of(PITCH), PITCH)
    assert torn != "shifted by whole pitches"


def readings_of(dy_mm):
    return read_leads(feet(dy=dy_mm), lands(), Doubt())
