"""Names of packages as people say them, such as SOIC-8."""

from __future__ import annotations

from typing import TYPE_CHECKING

from vision.results import NotFound
from vision.tables import families, variants_of

if TYPE_CHECKING:
    from vision.packages import Variant


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
    known = ", ".join(package_names())
    return NotFound(reason=f"package {name}: not in the tables; known: {known}")
