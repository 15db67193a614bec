"""What the pins of common parts are called, and what a half turn does to them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast, get_args

from vision.errors import TableError
from vision.packages import Status
from vision.rows import Row, read_toml, require

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class Pinout:
    """What the pins of a part are called, pin 1 first, and what a half turn does.

    ``after_half_turn`` is a sentence for the technician, or empty where not known.
    """

    name: str
    pins: tuple[str, ...]
    after_half_turn: str
    source: str
    status: Status


@cache
def pinouts() -> Mapping[str, Pinout]:
    """Trade-standard pin-outs that come with the program.

    Returns
    -------
    mapping of str to Pinout
        By short name, such as ``24xx``.

    Raises
    ------
    TableError
        If the table breaks its rules.
    """
    file = resources.files("vision") / "data" / "pinouts.toml"
    rows = read_toml(file)
    return {name: _pinout(row, name, file.name) for name, row in rows.items()}


def load_pinout(name_or_path: str | Path) -> Pinout:
    """Find a pin-out by its built-in name, or read it from the user's own file.

    Parameters
    ----------
    name_or_path : str or Path
        A name of :func:`pinouts`, or a TOML file with ``name`` and ``pins``
        (a list of names, pin 1 first) and, if known, ``after_half_turn``.

    Returns
    -------
    Pinout
        The pin names.

    Raises
    ------
    TableError
        If there is neither such a name nor such a file, or the file breaks the rules.
    """
    known = pinouts()
    if str(name_or_path) in known:
        return known[str(name_or_path)]
    path = Path(name_or_path)
    if not path.is_file():
        message = (
            f"pin-out: '{name_or_path}' is neither a known name nor a file; one of "
            f"{', '.join(known)} or a TOML file needed. Check the spelling."
        )
        raise TableError(message)
    row = {"source": str(path.name), "status": "read", **read_toml(path)}
    return _pinout(row, str(row.get("name", path.stem)), path.name)


def _pinout(row: Row, name: str, file: str) -> Pinout:
    """Read one pin-out."""
    where = f"{file}, '{name}'"
    pins = row.get("pins") if isinstance(row, dict) else None
    fine = isinstance(pins, list) and len(pins) > 1
    require(
        fine and all(isinstance(pin, str) and pin for pin in cast("list[Any]", pins)),
        where,
        "pins is missing or holds something other than names, pin 1 first",
    )
    require(row.get("status") in get_args(Status), where, "status is not known")
    return Pinout(
        name=str(row.get("title", name)),
        pins=tuple(cast("list[str]", pins)),
        after_half_turn=str(row.get("after_half_turn", "")),
        source=str(row.get("source", "")),
        status=cast("Status", row["status"]),
    )
