"""The tool's answers as rows of words and numbers.

Answers are what ``dotward look`` and ``dotward compare`` print.  They come out of a
journal, so every field may be missing or of a strange form; what cannot be read is
shown as not recorded, never guessed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ui.pair_steps import CHECK_WORDS
from ui.plain_text import visible
from ui.read_contract import bridge_state
from ui.words import STATE_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator

Answer = dict[str, Any]
Row = tuple[str, ...]

COLUMNS = ("What", "Measured", "Shop limit", "Judged")
NOT_RECORDED = "not recorded"
NO_LIMIT = "none recorded"
MANY_REASONS = 200


def measured_rows(answer: Answer) -> tuple[Row, ...]:
    """Give each measured value of a comparison beside its shop limit.

    Returns
    -------
    tuple of tuple of str
        Rows of ``COLUMNS``.
    """
    rows = [
        *_turn_rows(_part(answer, "orientation")),
        *_alignment_rows(_part(answer, "alignment")),
        *(_overhang_row(row) for row in _parts(answer, "overhang")),
        *_registration_rows(_part(answer, "registration")),
    ]
    return tuple(rows)


def feet_rows(answer: Answer) -> tuple[Row, ...]:
    """Give the height of each foot in a photo from the side beside the shop limit.

    Returns
    -------
    tuple of tuple of str
        Rows of ``COLUMNS``, from the left of the photo.
    """
    return tuple(
        (
            _foot_word(foot),
            _measured(foot.get("height_mm"), foot.get("u_mm"), "mm", 2),
            _number(answer.get("limit_mm"), "mm", 2),
            state_word(foot.get("state")),
        )
        for foot in _parts(answer, "feet")
    )


def row_word(answer: Answer) -> str:
    """Say which row of feet a photo shows, as it was named.

    Returns
    -------
    str
        Words without a stop.
    """
    leads = answer.get("leads")
    if isinstance(leads, list) and len(leads) == 2:
        return f"leads {_text(leads[0])} to {_text(leads[1])}"
    return "a row that was not named"


def joint_rows(answer: Answer) -> tuple[Row, ...]:
    """Give what was seen of joints and bridges.

    Returns
    -------
    tuple of tuple of str
        Rows of what, what was seen, how it was judged.
    """
    rows = [
        (
            "Bridge between leads " + " and ".join(_texts(row.get("between"))),
            "confidence " + _share(row.get("confidence")),
            STATE_WORDS[bridge_state(row)],
        )
        for row in _parts(answer, "bridges")
    ]
    rows += [
        (
            f"Joint of lead {_text(row.get('lead'))}",
            "; ".join(_texts(row.get("findings"))) or "nothing noted",
            state_word(row.get("state")),
        )
        for row in _parts(answer, "joints")
    ]
    return tuple(rows)


def unseen(answer: Answer) -> tuple[str, ...]:
    """Name what a comparison or a look could not judge, with its reasons.

    Returns
    -------
    tuple of str
        One sentence each.
    """
    found: list[str] = []
    error = _part(answer, "error")
    if error:
        found.append(f"No answer: {_text(error.get('message'))}")
    checks = {
        **{name: _part(answer, name) for name in ("quality", "registration")},
        **{name: _part(answer, name) for name in ("orientation", "alignment")},
        **_part(answer, "checks"),
    }
    for name, check in checks.items():
        if isinstance(check, dict) and check.get("state") == "unsure":
            found.append(_because(CHECK_WORDS.get(name, visible(name)), check))
    for side in ("before", "after"):
        quality = _part(answer, f"{side}_quality")
        if quality.get("state") in ("unsure", "fault"):
            found.append(_because(f"Photo {side}", quality))
    for row in (*_parts(answer, "joints"), *_parts(answer, "overhang")):
        if row.get("state") == "unsure":
            why = "; ".join(_texts(row.get("findings")))
            found.append(
                f"Lead {_text(row.get('lead'))}: cannot tell{': ' + why if why else ''}"
            )
    found += _unseen_packages(answer)
    found += _unseen_feet(answer)
    return tuple(dict.fromkeys(found))


def reasons_of(answer: Answer) -> tuple[str, ...]:
    """Give the sentences with which the tool explains its decision.

    Returns
    -------
    tuple of str
        Visible text.
    """
    return _texts(answer.get("reasons"))[:MANY_REASONS]


def notes_of(answer: Answer) -> tuple[str, ...]:
    """Give what is worth a look and decides nothing.

    Returns
    -------
    tuple of str
        Visible text.
    """
    return tuple(f"Note: {note}" for note in _texts(answer.get("notes")))


def state_word(state: object) -> str:
    """Say a state in words.

    Parameters
    ----------
    state : object
        ``ok``, ``fault``, ``unsure`` or anything else.

    Returns
    -------
    str
        Words; anything else counts as not told.
    """
    return STATE_WORDS.get(str(state), STATE_WORDS["unsure"])


def _turn_rows(turn: Answer) -> Iterator[Row]:
    degrees = turn.get("turn_deg")
    value = NOT_RECORDED if degrees is None else f"turned by {_text(degrees)}°"
    if turn.get("confidence") is not None:
        value += f" (confidence {_share(turn.get('confidence'))})"
    yield ("Way round", value, "turned by 0°", state_word(turn.get("state")))


def _alignment_rows(found: Answer) -> Iterator[Row]:
    names = {
        "dx_mm": ("Moved along x", "u_mm", "mm", 2),
        "dy_mm": ("Moved along y", "u_mm", "mm", 2),
        "skew_deg": ("Skewed", "u_deg", "°", 1),
    }
    for name, (what, spread, unit, digits) in names.items():
        value = _measured(found.get(name), found.get(spread), unit, digits)
        limit = found.get(f"limit_{name}", found.get(spread.replace("u_", "limit_")))
        shown = NO_LIMIT if limit is None else _number(limit, unit, digits)
        yield (what, value, shown, state_word(found.get("state")))


def _overhang_row(row: Answer) -> Row:
    return (
        f"Side overhang of lead {_text(row.get('lead'))} (of the lead's width)",
        _measured(
            _times_100(row.get("side_overhang_frac")),
            _times_100(row.get("u_frac")),
            "%",
            0,
        ),
        _number(_times_100(row.get("limit_frac")), "%", 0),
        state_word(row.get("state")),
    )


def _registration_rows(found: Answer) -> Iterator[Row]:
    residual, inliers = found.get("residual_px"), found.get("inliers")
    if residual is not None:
        yield (
            "Fit of the board, after over before (rms)",
            f"{_number(residual, 'px', 2)} at {_text(inliers)} points",
            NO_LIMIT,
            state_word(found.get("state")),
        )


def _unseen_packages(answer: Answer) -> Iterator[str]:
    if "packages" in answer and not _parts(answer, "packages"):
        yield "No chip was found in this photo"
    for package in _parts(answer, "packages")[:1]:
        pin1 = _part(package, "pin1")
        if pin1.get("state") != "ok":
            yield _because("Pin 1", pin1)


def is_side_answer(answer: Answer) -> bool:
    """Tell whether an answer is about a photo of a row of feet.

    Returns
    -------
    bool
    """
    return str(answer.get("format", "")).startswith("dotward.side/")


def _unseen_feet(answer: Answer) -> Iterator[str]:
    if not is_side_answer(answer):
        return
    feet = _parts(answer, "feet")
    if not feet:
        yield _because(f"Feet of {row_word(answer)}", answer)
    if answer.get("note"):
        yield f"The row was not counted as named: {_text(answer.get('note'))}"
    for foot in feet:
        if foot.get("state") not in ("ok", "fault"):
            yield f"{_foot_word(foot)}: {STATE_WORDS['unsure']}"


def _foot_word(foot: Answer) -> str:
    if foot.get("lead") is None:
        return f"Foot {_text(foot.get('from_left'))} from the left"
    return f"Foot of lead {_text(foot.get('lead'))}"


def _because(what: str, check: Answer) -> str:
    reasons = "; ".join(_texts(check.get("reasons")))
    return f"{what}: {state_word(check.get('state'))}" + (
        f": {reasons}" if reasons else " (no reason recorded)"
    )


def _measured(value: object, spread: object, unit: str, digits: int) -> str:
    if not _is_number(value):
        return "not measured"
    shown = f"{value:.{digits}f}"
    if _is_number(spread):
        # One digit more for a spread that would otherwise read as nothing.
        more = digits + 1 if round(float(str(spread)), digits) == 0 else digits
        shown = f"{value:.{more}f} ± {spread:.{more}f}"
    else:
        shown += " ± unknown"
    return f"{shown}{_gap(unit)}{unit}".replace("-", "\u2212")


def _number(value: object, unit: str, digits: int) -> str:
    if not _is_number(value):
        return NO_LIMIT
    return f"{value:.{digits}f}{_gap(unit)}{unit}".replace("-", "\u2212")


def _gap(unit: str) -> str:
    return "" if unit == "°" else "\u00a0"


def _share(value: object) -> str:
    return f"{value:.3f}" if _is_number(value) else NOT_RECORDED


def _times_100(value: object) -> object:
    return 100 * float(str(value)) if _is_number(value) else None


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _part(answer: Answer, name: str) -> Answer:
    part = answer.get(name)
    return part if isinstance(part, dict) else {}


def _parts(answer: Answer, name: str) -> list[Answer]:
    parts = answer.get(name)
    return [p for p in parts if isinstance(p, dict)] if isinstance(parts, list) else []


def _texts(value: object) -> tuple[str, ...]:
    return tuple(_text(item) for item in value) if isinstance(value, list) else ()


def _text(value: object) -> str:
    return NOT_RECORDED if value is None else visible(str(value))
