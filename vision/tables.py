"""Reads and checks the tables of packages in ``vision/data/families``."""

from __future__ import annotations

from functools import cache
from importlib import resources
from math import exp, log
from typing import TYPE_CHECKING, cast, get_args

from vision.errors import TableError
from vision.packages import (
    SIDES,
    Family,
    Land,
    LeadStyle,
    Status,
    Triple,
    Variant,
    derive_land,
    land_positions,
    lead_positions,
    pin1_corner_mm,
)
from vision.pinouts import Pinout, load_pinout, pinouts
from vision.results import NotFound
from vision.rows import Row, read_toml, read_triple, require

if TYPE_CHECKING:
    from collections.abc import Mapping
    from importlib.resources.abc import Traversable

__all__ = [
    "Pinout",
    "best_variant",
    "families",
    "land_positions",
    "lead_positions",
    "load_pinout",
    "pin1_corner_mm",
    "pinouts",
    "rank_variants",
    "read_family",
    "variant_named",
    "variants_of",
]

MAX_ASPECT_RATIO = 1.15
"""A body whose sides stand in another ratio by more than this is another body."""


@cache
def families() -> Mapping[str, Family]:
    """All package families that the tables hold.

    Returns
    -------
    mapping of str to Family
        By family name, sorted.

    Raises
    ------
    TableError
        If a table breaks its rules.
    """
    folder = resources.files("vision") / "data" / "families"
    read = [read_family(f) for f in folder.iterdir() if f.name.endswith(".toml")]
    return {family.name: family for family in sorted(read, key=lambda f: f.name)}


@cache
def variants_of(family: str, lead_count: int | None = None) -> tuple[Variant, ...]:
    """List the known sizes of a family.

    Parameters
    ----------
    family : str
        Such as ``SOIC``; an unknown family has no sizes.
    lead_count : int or None
        Only those with so many leads; None for all.

    Returns
    -------
    tuple of Variant
        In the order of the table; may be empty.

    Raises
    ------
    TableError
        If a table breaks its rules.
    """
    known = families().get(family)
    rows = known.variants if known else ()
    return tuple(v for v in rows if lead_count in (None, v.lead_count))


@cache
def variant_named(family: str, name: str | None) -> Variant | None:
    """Give the size of a family by its name.

    Parameters
    ----------
    family : str
        Such as ``SOIC``.
    name : str or None
        Name of its row, as a package carries it; None where it is not known.

    Returns
    -------
    Variant or None
        None where there is no such row.

    Raises
    ------
    TableError
        If a table breaks its rules.
    """
    return next((v for v in variants_of(family) if v.name == name), None)


def rank_variants(
    family: str, lead_count: int | None, aspect: float
) -> tuple[tuple[Variant, float], ...]:
    """Order the sizes of a family by how well the shape of a body fits.

    Parameters
    ----------
    family : str
        Such as ``SOIC``.
    lead_count : int or None
        None if it could not be told.
    aspect : float
        Body length along the rows over length across them, from the picture.

    Returns
    -------
    tuple of (Variant, float)
        Best first, with the ratio (1 or more) by which the shape is missed beyond
        the tolerance of the drawing.

    Raises
    ------
    TableError
        If a table breaks its rules.
    """
    if not aspect > 0:
        message = f"aspect is {aspect}; more than 0 needed"
        raise ValueError(message)
    ranked = [(v, _misfit(v, aspect)) for v in variants_of(family, lead_count)]
    nominal = {
        v.name: abs(log(aspect * v.body_x_mm[1] / v.body_y_mm[1])) for v, _ in ranked
    }
    return tuple(sorted(ranked, key=lambda pair: (pair[1], nominal[pair[0].name])))


def best_variant(
    family: str, lead_count: int | None, aspect: float, *, read: str | None = None
) -> Variant | NotFound:
    """Choose the size of a family that fits the shape of a body best.

    Parameters
    ----------
    family : str
        Such as ``SOIC``.
    lead_count : int or None
        None if it could not be told.
    aspect : float
        Body length along the rows over length across them, from the picture.
    read : str or None
        Name of the size that was read; it stays if the shape allows it.

    Returns
    -------
    Variant or NotFound
        ``NotFound`` if the table holds no such part or none of that shape.

    Raises
    ------
    TableError
        If a table breaks its rules.

    Notes
    -----
    Sizes of one shape (all square QFN of one lead count) cannot be told apart this
    way; the first in the table is taken, so the commonest stands first.
    """
    ranked = rank_variants(family, lead_count, aspect)
    count = "any number of" if lead_count is None else str(lead_count)
    if not ranked:
        return NotFound(reason=f"size: no {family} with {count} leads in the table")
    variant, misfit = ranked[0]
    if misfit > MAX_ASPECT_RATIO:
        return NotFound(
            reason=f"size: the body is {aspect:.2f} times as long as wide; "
            f"no {family} with {count} leads has that shape"
        )
    return next(
        (v for v, off in ranked if v.name == read and off <= MAX_ASPECT_RATIO), variant
    )


def read_family(file: Traversable) -> Family:
    """Read and check one family table.

    Parameters
    ----------
    file : Traversable
        A TOML file; ``pathlib.Path`` serves.

    Returns
    -------
    Family
        With every variant checked.

    Raises
    ------
    TableError
        Naming the file, the row and what is wrong with it.
    """
    table = read_toml(file)
    where = file.name
    try:
        name, style = str(table["family"]), str(table["lead_style"])
        marks = tuple(str(mark) for mark in table["pin1_marks"])
        rows = list(table["variant"])
    except (KeyError, TypeError, ValueError) as error:
        message = (
            f"{where}: {error!r}; family, lead_style, pin1_marks and [[variant]] rows "
            "needed. Complete the file."
        )
        raise TableError(message) from error
    require(style in get_args(LeadStyle), where, f"lead_style '{style}' is not known")
    variants = tuple(_variant(table, row, where) for row in rows)
    names = [v.name for v in variants]
    require(len(set(names)) == len(names), where, "two rows have the same name")
    return Family(
        name=name,
        lead_style=cast("LeadStyle", style),
        pin1_marks=marks,
        variants=variants,
    )


def _variant(table: Row, row: Row, file: str) -> Variant:
    """Read one row of a family table."""
    where = f"{file}, row '{row.get('name', '?')}'"
    try:
        sides = tuple(int(n) for n in row["leads_per_side"])
        body_x, body_y = (
            read_triple(row, "body_x_mm", where),
            read_triple(row, "body_y_mm", where),
        )
        no_lead = table["lead_style"] == "no_lead"
        span_x = body_x if no_lead else read_triple(row, "span_x_mm", where)
        own = "span_y_mm" in row
        span_y = read_triple(row, "span_y_mm", where) if own else span_x
        span_y = body_y if no_lead else span_y
        width = read_triple(row, "lead_width_mm", where)
        count, pitch_mm = int(row["lead_count"]), float(row["pitch_mm"])
        widths = _widths(row, count, width, where)
        foot = read_triple(row, "foot_length_mm", where)
        variant = Variant(
            family=str(table["family"]),
            lead_style=table["lead_style"],
            name=str(row["name"]),
            lead_count=count,
            leads_per_side=cast("tuple[int, int, int, int]", sides),
            pin1_index=int(row.get("pin1_index", 0)),
            pitch_mm=pitch_mm,
            body_x_mm=body_x,
            body_y_mm=body_y,
            span_x_mm=span_x,
            span_y_mm=span_y,
            lead_width_mm=width,
            widths_mm=widths,
            foot_length_mm=foot,
            height_mm=read_triple(row, "height_mm", where),
            coplanarity_mm=float(table["coplanarity_mm"]),
            coplanarity_status=table["coplanarity_status"],
            side_offsets_mm=_offsets(row, sides, pitch_mm),
            land=_land(table, row, (span_x, span_y), where),
            thermal_pad_mm=_pair(row, "thermal_pad_mm"),
            source=str(row["source"]),
            status=row["status"],
            memory_fields=tuple(row.get("from_memory", ())),
        )
    except (KeyError, TypeError, ValueError) as error:
        message = f"{where}: {error!r}; missing or of the wrong kind. Mend the row."
        raise TableError(message) from error
    _check(variant, where)
    return variant


def _check(v: Variant, where: str) -> None:
    """Refuse a row that cannot be a package."""
    offsets = [len(o) for o in v.side_offsets_mm]
    require(
        len(v.leads_per_side) == len(SIDES), where, "leads_per_side needs four numbers"
    )
    require(
        sum(v.leads_per_side) == v.lead_count,
        where,
        f"leads_per_side adds up to {sum(v.leads_per_side)}; {v.lead_count} needed",
    )
    require(
        offsets == list(v.leads_per_side), where, "side_offsets_mm and leads differ"
    )
    require(0 <= v.pin1_index < v.lead_count, where, "pin1_index is past the last lead")
    for status in (v.status, v.coplanarity_status):
        require(status in get_args(Status), where, f"status '{status}' is not known")
    require(bool(v.source), where, "source is empty")
    require(v.span_x_mm[2] >= v.body_x_mm[0], where, "span is less than the body")
    require(
        v.pitch_mm > v.lead_width_mm[0] > 0, where, "leads are wider than the pitch"
    )
    for n, body, out in zip(
        v.leads_per_side,
        (v.body_y_mm, v.body_x_mm) * 2,
        v.side_offsets_mm,
        strict=True,
    ):
        reach = max(out) - min(out) if n else 0.0
        require(reach < body[2], where, f"leads reach over {reach:.2f} mm of the body")


def _misfit(v: Variant, aspect: float) -> float:
    """Ratio by which an aspect lies outside what the drawing's tolerance allows."""
    least = v.body_y_mm[0] / v.body_x_mm[2]
    most = v.body_y_mm[2] / v.body_x_mm[0]
    return exp(max(log(least / aspect), log(aspect / most), 0.0))


def _offsets(
    row: Row, sides: tuple[int, ...], pitch_mm: float
) -> tuple[tuple[float, ...], ...]:
    """Places of the leads along each side, in counting order."""
    given = row.get("side_offsets_mm", {})
    offsets = []
    for side, n in zip(SIDES, sides, strict=True):
        # Counting runs down, right, up, left; right and top run against y and x.
        sign = 1.0 if side in ("left", "bottom") else -1.0
        even = tuple(sign * (i - (n - 1) / 2) * pitch_mm for i in range(n))
        offsets.append(tuple(float(x) for x in given.get(side, even)))
    return tuple(offsets)


def _widths(row: Row, count: int, width: Triple, where: str) -> tuple[Triple, ...]:
    """Lead widths in lead order; most rows have one width for all."""
    other = row.get("lead_widths_mm", {})
    return tuple(
        read_triple(other, str(n), where) if str(n) in other else width
        for n in range(1, count + 1)
    )


def _land(table: Row, row: Row, spans: tuple[Triple, Triple], where: str) -> Land:
    """Land of a row: as given, as the hole's ring, or worked out from the lead."""
    style = table["lead_style"]
    if "land" in row:
        land = row["land"]
        centre_x_mm = float(land["centre_x_mm"])
        grown = centre_x_mm + (spans[1][1] - spans[0][1]) / 2
        require(land["status"] in get_args(Status), where, "land status is not known")
        return Land(
            centre_x_mm=centre_x_mm,
            centre_y_mm=float(land.get("centre_y_mm", grown)),
            length_mm=float(land["length_mm"]),
            width_mm=float(land["width_mm"]),
            source=str(land["source"]),
            status=land["status"],
        )
    if style == "through_hole":
        ring_mm = float(table["land_diameter_mm"])
        row_mm = round(spans[0][1] / 2 / 1.27) * 1.27
        return Land(
            centre_x_mm=row_mm,
            centre_y_mm=row_mm,
            length_mm=ring_mm,
            width_mm=ring_mm,
            source="the ring of the family",
            status="derived",
        )
    foot = read_triple(row, "foot_length_mm", where)
    width = read_triple(row, "lead_width_mm", where)
    return derive_land(style, spans, foot, width, float(row["pitch_mm"]))


def _pair(row: Row, key: str) -> tuple[float, float] | None:
    """Read two lengths, or None where the row has none."""
    if key not in row:
        return None
    x, y = (float(value) for value in row[key])
    return x, y
