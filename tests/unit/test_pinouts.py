"""Pin names, built in and the user's own."""

import pytest

from vision import tables
from vision.errors import TableError


def half_turned(pinout):
    """Pin name to the name of the land that it meets after half a turn."""
    n = len(pinout.pins)
    return {name: pinout.pins[(i + n // 2) % n] for i, name in enumerate(pinout.pins)}


@pytest.mark.parametrize("name", ["spi-flash", "25xx", "24xx"])
def test_half_a_turn_reverses_the_supply_of_memories(name):
    pinout = tables.load_pinout(name)
    meets = half_turned(pinout)
    assert (meets["VCC"], meets["GND"]) == ("GND", "VCC")
    assert "reverse supply" in pinout.after_half_turn


@pytest.mark.parametrize(
    ("name", "pin", "land"),
    [
        ("93xx", "GND", "CS"),
        ("93xx", "VCC", "DO"),
        ("93xx-rotated", "VCC", "DO"),
        ("555", "GND", "CTRL"),
        ("555", "VCC", "RESET"),
        ("op-amp", "V+", "+IN"),
        ("dual-op-amp", "V+", "V-"),
    ],
)
def test_the_sentence_names_the_land_that_the_pin_meets(name, pin, land):
    pinout = tables.load_pinout(name)
    assert half_turned(pinout)[pin] == land
    said = pinout.after_half_turn
    assert land in said or f"land {pinout.pins.index(land) + 1}" in said


def test_all_have_eight_pins_and_a_source():
    assert len(tables.pinouts()) == 8
    for pinout in tables.pinouts().values():
        assert len(pinout.pins) == 8
        assert pinout.source


def test_the_users_own_file(tmp_path):
    file = tmp_path / "logger.toml"
    file.write_text('name = "logger memory"\npins = ["CS", "GND", "CLK", "VCC"]\n')
    pinout = tables.load_pinout(file)
    assert (pinout.name, pinout.pins[3]) == ("logger memory", "VCC")
    assert not pinout.after_half_turn


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("pins = 8", "pins is missing"),
        ("pins = ['A', '']", "pins is missing"),
        ("pins = ['A']", "pins is missing"),
        ("pins = ['A', 'B']\nstatus = 'hearsay'", "status"),
        ("pins = [", "own.toml"),
    ],
)
def test_a_broken_file_says_what_is_wrong(tmp_path, text, message):
    file = tmp_path / "own.toml"
    file.write_text(text)
    with pytest.raises(TableError, match=message):
        tables.load_pinout(file)


def test_an_unknown_name_lists_the_known_ones():
    with pytest.raises(TableError, match=r"'26xx' is neither.*24xx"):
        tables.load_pinout("26xx")
