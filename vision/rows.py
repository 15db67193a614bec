"""Small readers that the tables share; each says which file and row is at fault."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

from vision.errors import TableError
from vision.packages import Triple

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

Row = dict[str, Any]


def read_triple(row: Row, key: str, where: str) -> Triple:
    """Read [min, nominal, max], in that order and not negative."""
    least, nominal, most = (float(value) for value in row[key])
    fine = 0 <= least <= nominal <= most
    require(fine, where, f"{key} is {row[key]}; min, nominal, max in order")
    return least, nominal, most


def read_toml(file: Traversable) -> Row:
    """Read a TOML file or say why it cannot be read."""
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        message = f"{file.name}: {error}; a readable TOML table needed. Mend the file."
        raise TableError(message) from error


def require(holds: bool, where: str, problem: str) -> None:  # noqa: FBT001
    """Raise a TableError unless a rule holds."""
    if not holds:
        message = f"{where}: {problem}. Mend the row."
        raise TableError(message)
