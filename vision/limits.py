"""Shop limits and the decision with a guard band.

Limits are rows of ``vision/data/limits.toml`` (and of the user's own file), each
with its source.  A value is inside only when value + U is, outside only when
value - U is; anything between cannot be told from this photo.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NoReturn, cast, get_args

from vision.errors import TableError
from vision.results import Finding, NotFound

if TYPE_CHECKING:
    from vision.uncertainty import Reading

USUAL_SET = "general"
LIMITS_FILE = Path(__file__).parent / "data" / "limits.toml"
Status = Literal["read", "derived", "memory", "own"]
AT_MOST = ("max_mm", "max_frac_of_lead_width")
BOUNDS = {"side_overhang": AT_MOST, "toe_overhang": AT_MOST, "clearance": ("min_mm",)}
"""What is measured and held against a limit, and the bounds that it may have: a bound
on the other side would pass what is worst."""
STYLES = ("gull_wing", "no_lead")
"""Lead styles that are held against limits."""
RETAKE = "take a closer photo, square on"
"""What settles a value too near its limit: smaller edge and plane contributions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One row: what ``check`` may measure on ``lead_style`` under ``set_name``."""

    check: str
    lead_style: str
    set_name: str
    source: str
    status: Status
    max_mm: float | None = None
    max_frac_of_lead_width: float | None = None
    min_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """A limit as one number in the unit of the reading, ready to judge by."""

    value: float
    side: Literal["max", "min"]
    unit: str
    source: str
    status: Status


def read_limits(own: Path | None = None) -> tuple[Limit, ...]:
    """Read the shop limits, the user's rows replacing ours.

    Parameters
    ----------
    own : Path or None
        The user's TOML file, in the form of ``limits.toml``.  Rows without a
        status count as ``own``.

    Returns
    -------
    tuple of Limit
        Sorted by check, lead style and set.

    Raises
    ------
    TableError
        The file cannot be read, or a row breaks the rules.
    """
    return _joined([] if own is None else _read_own(own))


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopLimits:
    """What a shop judges by: all rows, the set that counts, and what it is called."""

    rows: tuple[Limit, ...]
    set_name: str
    name: str

    def find(self, check: str, lead_style: str) -> Limit | NotFound:
        """Find the row for one check, as ``find_limit`` does."""
        return find_limit(self.rows, check, lead_style, self.set_name)


def shop_limits(own: Path | None = None, set_name: str = USUAL_SET) -> ShopLimits:
    """Choose the limits to judge by.

    Parameters
    ----------
    own : Path or None
        The user's file, as for ``read_limits``.
    set_name : str
        The set whose rows count.

    Returns
    -------
    ShopLimits

    Raises
    ------
    TableError
        As for ``read_limits``, and where no row for leads stands in the set.
    """
    own_rows = [] if own is None else _read_own(own)
    rows = _joined(own_rows)
    found = find_limit(rows, "side_overhang", "gull_wing", set_name)
    if isinstance(found, NotFound):
        msg = f"{found.reason}. Name one of them, or add the row to a file"
        raise TableError(msg)
    if own is None:
        return ShopLimits(rows=rows, set_name=set_name, name=set_name)
    sets = sorted({row.set_name for row in own_rows})
    if set_name not in sets:
        msg = (
            f"{own.name}: no row of the set '{set_name}' that is chosen; its sets: "
            f"{', '.join(sets)}. Choose one of them, or name its rows '{set_name}'."
        )
        raise TableError(msg)
    return ShopLimits(rows=rows, set_name=set_name, name=f"{set_name} with {own.name}")


def find_limit(
    limits: tuple[Limit, ...], check: str, lead_style: str, set_name: str
) -> Limit | NotFound:
    """Find the row for one check.

    Parameters
    ----------
    limits : tuple of Limit
        What ``read_limits`` gave.
    check, lead_style, set_name : str
        The three names of the row.

    Returns
    -------
    Limit or NotFound
        NotFound when no such row exists; its reason lists the known sets.
    """
    for limit in limits:
        if _key(limit) == (check, lead_style, set_name):
            return limit
    sets = sorted({x.set_name for x in limits if x.check == check})
    return NotFound(
        reason=f"no shop limit for {check} of {lead_style} leads in the set "
        f"'{set_name}'; known sets: {', '.join(sets) or 'none'}"
    )


def bound_mm(limit: Limit, lead_width_mm: float) -> Bound:
    """Turn a row into one number in millimetres for a lead of known width.

    Parameters
    ----------
    limit : Limit
        A row with a length or a share of the lead width.
    lead_width_mm : float
        Width of the lead.

    Returns
    -------
    Bound
        The lesser of two upper limits, or the lower limit.
    """
    upper = [limit.max_mm, _times(limit.max_frac_of_lead_width, lead_width_mm)]
    uppers = [x for x in upper if x is not None]
    if uppers:
        return _bound(limit, min(uppers), "max", "mm")
    if limit.min_mm is not None:
        return _bound(limit, limit.min_mm, "min", "mm")
    msg = f"{limit.check}: the row has no limit in mm"
    raise ValueError(msg)


def bound_frac(limit: Limit, lead_width_mm: float) -> Bound:
    """Turn a row into a share of the lead width, for a lead of known width."""
    bound = bound_mm(limit, lead_width_mm)
    return _bound(limit, bound.value / lead_width_mm, bound.side, "of the lead width")


def judge(reading: Reading, bound: Bound) -> Finding:
    """Judge a reading against a limit, with a guard band of U on both sides.

    Parameters
    ----------
    reading : Reading
        Value and expanded uncertainty (k = 2), in the unit of ``bound``.
    bound : Bound
        The limit.

    Returns
    -------
    Finding
        ``ok`` only if value + U is within, ``fault`` only if value - U is beyond,
        else ``unsure``.  A limit known only from memory gives no ``fault``.

    Notes
    -----
    JCGM 106:2012 8.3 (guarded acceptance) and 8.3.3 (guarded rejection) with guard
    band w = U; ISO 14253-1 asks for the same of the one who proves (clauses from
    memory).
    """
    if reading.unit != bound.unit:
        msg = f"{reading.name}: in {reading.unit}, its limit in {bound.unit}"
        raise ValueError(msg)
    sign = 1.0 if bound.side == "max" else -1.0
    excess = sign * (reading.value - bound.value)
    said = sentence(reading, bound)
    if not (abs(excess) < float("inf") and reading.u >= 0):
        return Finding(state="unsure", reasons=(f"{reading.name}: not measured",))
    if excess + reading.u <= 0:
        return Finding(state="ok", reasons=(said,))
    if excess - reading.u > 0:
        if bound.status == "memory":
            doubt = "; this limit is from memory and only warns: check by hand"
            return Finding(state="unsure", reasons=(said + doubt,))
        return Finding(state="fault", reasons=(said,))
    near = f"; too near the limit to tell: {RETAKE}"
    return Finding(state="unsure", reasons=(said + near,))


def sentence(reading: Reading, bound: Bound) -> str:
    """Say a reading beside its limit: "measured x ± u, shop limit y"."""
    value, u, limit = reading.value, reading.u, bound.value
    if bound.unit == "of the lead width":
        share = round(100 * value) or 0  # no minus before a nought
        numbers = f"{share} ± {100 * u:.0f} %", f"{100 * limit:.0f} %"
        tail = " of the lead width"
        tail += " (below zero: inside its land)" if value < 0 else ""
    elif bound.unit == "deg":
        numbers, tail = (f"{value:.2f} ± {u:.2f}°", f"{limit:.2f}°"), ""
    else:
        numbers = f"{value:.3f} ± {u:.3f} {reading.unit}", f"{limit:.3f} {bound.unit}"
        tail = ""
    least = " at least" if bound.side == "min" else ""
    return (
        f"{reading.name}: measured {numbers[0]}, shop limit{least} {numbers[1]}{tail}"
    )


def _joined(own_rows: list[Limit]) -> tuple[Limit, ...]:
    rows = {_key(limit): limit for limit in _read_file(LIMITS_FILE, None)}
    rows |= {_key(limit): limit for limit in own_rows}
    return tuple(rows[key] for key in sorted(rows))


def _read_own(path: Path) -> list[Limit]:
    rows = _read_file(path, "own")
    if not rows:
        _refuse(path.name, "no limit", "a row [check.lead_style.set]")
    return rows


def _read_file(path: Path, default_status: Status | None) -> list[Limit]:
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as fault:
        msg = f"{path.name}: cannot be read ({fault.strerror}). Check the path."
        raise TableError(msg) from fault
    except UnicodeDecodeError as fault:
        msg = f"{path.name}: not UTF-8 (byte {fault.start}). Save it as UTF-8."
        raise TableError(msg) from fault
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        msg = f"{path.name}: not TOML ({fault}). Mend that line."
        raise TableError(msg) from fault
    limits = []
    for check, styles in table.items():
        for style, sets in _sub(path, check, styles).items():
            for name, row in _sub(path, f"{check}.{style}", sets).items():
                values = _sub(path, f"{check}.{style}.{name}", row)
                limits.append(
                    _limit(path, (check, style, name), values, default_status)
                )
    return limits


def _limit(
    path: Path,
    names: tuple[str, str, str],
    row: dict[str, Any],
    default_status: Status | None,
) -> Limit:
    where = f"{path.name} [{'.'.join(names)}]"
    if names[0] not in BOUNDS:
        _refuse(where, f"nothing measures '{names[0]}'", f"one of {', '.join(BOUNDS)}")
    if names[1] not in STYLES:
        _refuse(where, f"no leads are '{names[1]}'", f"one of {', '.join(STYLES)}")
    known = BOUNDS[names[0]]
    unknown = set(row) - set(known) - {"source", "status"}
    if unknown:
        needed = f"for {names[0]} one of {', '.join(known)}"
        _refuse(where, f"unknown key '{min(unknown)}'", needed)
    bounds = {key: row[key] for key in known if key in row}
    if not bounds:
        _refuse(where, "no limit", f"at least one of {', '.join(known)}")
    for key, value in bounds.items():
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if not is_number or not 0 <= value < 1e3:
            _refuse(where, f"{key} = {value!r}", "a number from 0 to 1000")
    source = row.get("source")
    if not isinstance(source, str) or not source.strip():
        _refuse(where, "no source", "where the number comes from")
    status = row.get("status", default_status)
    if status not in get_args(Status):
        _refuse(where, f"status = {status!r}", f"one of {', '.join(get_args(Status))}")
    return Limit(
        check=names[0],
        lead_style=names[1],
        set_name=names[2],
        source=str(source),
        status=cast("Status", status),
        **{key: float(value) for key, value in bounds.items()},
    )


def _sub(path: Path, name: str, value: object) -> dict[str, Any]:
    if not isinstance(value, dict):
        _refuse(f"{path.name} [{name}]", "a single value", "[check.lead_style.set]")
    return value


def _refuse(where: str, seen: str, needed: str) -> NoReturn:
    msg = f"{where}: {seen}; {needed} is needed. Mend that row."
    raise TableError(msg)


def _key(limit: Limit) -> tuple[str, str, str]:
    return limit.check, limit.lead_style, limit.set_name


def _times(frac: float | None, width_mm: float) -> float | None:
    return None if frac is None else frac * width_mm


def _bound(limit: Limit, value: float, side: Literal["max", "min"], unit: str) -> Bound:
    return Bound(
        value=value, side=side, unit=unit, source=limit.source, status=limit.status
    )
