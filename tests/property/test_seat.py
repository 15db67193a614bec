"""What must hold for leads on lands however the board lies."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.benchmark.flat_scene import PARTS, strips
from tests.tolerances import ROUNDING_DEG, ROUNDING_MM
from vision.overhang import Doubt, read_leads
from vision.planes import View, parallax, stand_at
from vision.seat import read_seat

PART = PARTS[0]
SHIFTS = st.floats(-0.3, 0.3)
TURNS = st.floats(-3, 3)


def carried(strip, turn_deg, dx, dy):
    """Turn a strip about the origin (counter-clockwise as seen), then shift it."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    turn = lambda x, y: (c * x + s * y, -s * x + c * y)  # noqa: E731
    x, y = turn(*strip.centre_mm)
    return replace(strip, centre_mm=(x + dx, y + dy), outward=turn(*strip.outward))


@given(SHIFTS, SHIFTS, TURNS, st.floats(-180, 180), st.floats(-9, 9))
def test_readings_do_not_change_when_the_whole_board_is_turned(dx, dy, skew, turn, far):
    feet = strips(PART, feet=True, dx=dx, dy=dy, skew_deg=skew)
    lands = strips(PART, feet=False)
    plain = read_leads(feet, lands, Doubt())
    moved = read_leads(
        [carried(foot, turn, far, -far) for foot in feet],
        [carried(land, turn, far, -far) for land in lands],
        Doubt(),
    )
    for a, b in zip(plain, moved, strict=True):
        assert a.side_overhang.value == pytest.approx(
            b.side_overhang.value, abs=ROUNDING_MM
        )
        assert a.toe_overhang.value == pytest.approx(
            b.toe_overhang.value, abs=ROUNDING_MM
        )
        assert a.gap.value == pytest.approx(b.gap.value, abs=ROUNDING_MM)


@given(SHIFTS, SHIFTS, TURNS, st.sampled_from([90, 180, 270]))
def test_shift_turns_with_the_board_and_skew_stays(dx, dy, skew, turn):
    feet = strips(PART, feet=True, dx=dx, dy=dy, skew_deg=skew)
    lands = strips(PART, feet=False)
    plain, _ = read_seat(feet, lands, Doubt())
    moved, _ = read_seat(
        [carried(foot, turn, 0, 0) for foot in feet],
        [carried(land, turn, 0, 0) for land in lands],
        Doubt(),
    )
    c, s = round(math.cos(math.radians(turn))), round(math.sin(math.radians(turn)))
    turned = (c * plain.dx_mm + s * plain.dy_mm, -s * plain.dx_mm + c * plain.dy_mm)
    assert (moved.dx_mm, moved.dy_mm) == pytest.approx(turned, abs=1e3 * ROUNDING_MM)
    assert moved.skew_deg == pytest.approx(plain.skew_deg, abs=1e3 * ROUNDING_DEG)


@given(SHIFTS, SHIFTS, TURNS)
def test_a_mirrored_board_has_the_same_overhangs_and_the_other_skew(dx, dy, skew):
    feet = strips(PART, feet=True, dx=dx, dy=dy, skew_deg=skew)
    lands = strips(PART, feet=False)

    def mirror(strip):
        (x, y), (ox, oy) = strip.centre_mm, strip.outward
        return replace(strip, centre_mm=(-x, y), outward=(-ox, oy))

    mirrored = [mirror(foot) for foot in feet], [mirror(land) for land in lands]
    plain, _ = read_seat(feet, lands, Doubt())
    seat, _ = read_seat(*mirrored, Doubt())
    assert seat.dx_mm == pytest.approx(-plain.dx_mm, abs=1e3 * ROUNDING_MM)
    assert seat.skew_deg == pytest.approx(-plain.skew_deg, abs=1e3 * ROUNDING_DEG)
    for a, b in zip(
        read_leads(feet, lands, Doubt()), read_leads(*mirrored, Doubt()), strict=True
    ):
        assert a.side_overhang.value == pytest.approx(
            b.side_overhang.value, abs=ROUNDING_MM
        )


@given(
    st.floats(-60, 60),
    st.floats(-60, 60),
    st.floats(50, 200),
    st.floats(-5, 5),
    st.floats(0.1, 2),
)
def test_parallax_and_its_removal_agree(x, y, height, place, top):
    view = View(
        camera_mm=(x, y, height),
        tilt_deg=0.0,
        focal_px=1.0,
        mirror_mm=None,
        slope_cov=np.zeros((2, 2)),
    )
    seen = (place, -place)
    shift = parallax(view, seen, top)
    stands = stand_at(view, [seen], top)[0]
    assert stands[0] + shift.dx_mm == pytest.approx(seen[0], abs=ROUNDING_MM)
    assert stands[1] + shift.dy_mm == pytest.approx(seen[1], abs=ROUNDING_MM)
