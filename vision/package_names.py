"""Names of packages as people say them, such as SOIC-8."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from vision.results import NotFound
from vision.tables import families, variants_of

if TYPE_CHECKING:
    from vision.packages import Variant

MOST_NEAREST = 3


def package_names() -> tuple[str, ...]:
    """List family and lead count of every size in the tables.

    Returns
    -------
    tuple of str
        Such as ``SOIC-8``; by family, then by lead count.
    """
    known = {(v.family, v.lead_count) for name in families() for v in variants_of(name)}
    return tuple(f"{family}-{count}" for family, count in sorted(known))


def packages_named(name: str) -> tuple[Variant, ...] | NotFound:
    """Find the sizes that a name such as "SOIC-8" stands for.

    Parameters
    ----------
    name : str
        Family and lead count, or the full name of a size.

    Returns
    -------
    tuple of Variant or NotFound
        Narrow and wide of one lead count together.
    """
    wanted = name.strip().casefold()
    every = [v for family in families() for v in variants_of(family)]
    exact = tuple(v for v in every if v.name.casefold() == wanted)
    if exact:
        return exact
    found = tuple(v for v in every if f"{v.family}-{v.lead_count}".casefold() == wanted)
    if found:
        return found
    return NotFound(reason=no_such_package(name))


def name_as_listed(name: str) -> str | NotFound:
    """Give a package's name as the tables write it.

    Parameters
    ----------
    name : str
        Family and lead count, or the full name of a size, in any case.

    Returns
    -------
    str or NotFound
        Full where it was given in full, else such as ``SOIC-8``.
    """
    found = packages_named(name)
    if isinstance(found, NotFound):
        return found
    size = found[0]
    is_full = size.name.casefold() == name.strip().casefold()
    return size.name if is_full else f"{size.family}-{size.lead_count}"


def no_such_package(name: str) -> str:
    """Say that a package is in no table, with the names that look most like it.

    Parameters
    ----------
    name : str
        As a person wrote it.

    Returns
    -------
    str
        The nearest names and all families; all names where none is near.
    """
    near = _nearest_names(name)
    known = f"known: {', '.join(package_names())}"
    if near:
        known = f"nearest: {', '.join(near)}; families: {', '.join(families())}"
    return f"package {name}: not in the tables; {known}"


def _nearest_names(name: str) -> list[str]:
    """Find the names, short or in full, that are written most alike."""
    every = [v.name for family in families() for v in variants_of(family)]
    by_letters = {_letters(known): known for known in (*every, *package_names())}
    near = get_close_matches(_letters(name), by_letters, n=MOST_NEAREST)
    return [by_letters[letters] for letters in near]


def _letters(name: str) -> str:
    """Leave out what people write in many ways: capitals, hyphens, spaces."""
    return "".join(char for char in name.casefold() if char.isalnum())
