"""Sentences about one photo, and those that all answers share."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from vision.errors import VisionError
from vision.results import BY_HAND

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from vision.results import (
        Package,
        PhotoReport,
        Pin1,
        Quad,
        State,
    )

STATE_WORDS: dict[str, str] = {
    "ok": "looks right",
    "fault": "fault",
    "unsure": "cannot tell",
}
CUE_WORDS = {
    "dimple": "dimple",
    "dot": "printed dot",
    "notch": "notch",
    "bevel": "bevelled edge",
    "bar": "bar",
    "text-direction": "direction of the marking",
    "silkscreen": "silkscreen",
    "shape": "rows of leads that differ",
}

CHECK_PIN1 = (
    "Hold the answer against the board's own mark or the drawing before you lift, "
    "solder or power anything."
)
RETAKE = (
    "Photograph the chip from straight above, sharp, filling a third of the frame; "
    "for a dimple let the light come low from one side, and keep the board's printed "
    "marks in the picture."
)
DO_NOT_POWER = (
    "Do not power the board: a chip the wrong way round, a bridge or an open joint can "
    "destroy the chip and lose what is stored in it."
)
BEFORE_REWORK = (
    "Take the supply and any battery off, wear a wrist strap, use fume extraction, and "
    "lift a chip only when all its solder is molten."
)
BEFORE_LANDS = (
    "Mend and clean the lands before the chip goes on: what is wrong here is hidden "
    "once it is soldered."
)
CHECK_PLACE = "Check the rights and the medium, or name another place."
LOCATION_SPLIT = 1 / 3
NAMED_OTHERWISE = re.compile(r"named \S+, but ")
"""How a reason begins that holds a name given by hand against what was read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a person is told, in the order in which it is told."""

    state: State
    headline: str
    details: tuple[str, ...] = ()
    next_steps: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def pin1_words(pin1: Pin1, outline_px: Quad) -> str:
    """Say which corner is pin 1, how sure that is and what shows it.

    Parameters
    ----------
    pin1 : Pin1
    outline_px : Quad

    Returns
    -------
    str
    """
    if pin1.state != "ok":
        return f"Pin 1: cannot tell{because(pin1.reasons)}"
    if pin1.reasons == (BY_HAND,):
        return f"Pin 1: {corner_words(outline_px, 0)}, {BY_HAND}"
    cues = cue_words(pin1)
    return (
        f"Pin 1: {corner_words(outline_px, 0)}, sure to {percent(pin1.confidence)}"
        f"{': ' + ', '.join(cues) if cues else ''}"
    )


def cue_words(pin1: Pin1) -> tuple[str, ...]:
    """Name the cues that speak for the answer, strongest first, each once.

    Parameters
    ----------
    pin1 : Pin1

    Returns
    -------
    tuple of str
    """
    ranked = sorted(pin1.evidence, key=lambda cue: -cue.weight)
    names = [CUE_WORDS.get(cue.kind, cue.kind) for cue in ranked if cue.weight > 0]
    return tuple(dict.fromkeys(names))


def corner_words(outline_px: Quad, index: int) -> str:
    """Say where a corner of an outline lies in the picture.

    Parameters
    ----------
    outline_px : Quad
    index : int
        0 for the first corner.

    Returns
    -------
    str
        ``lower left corner`` or, for a chip standing on its tip, ``top corner``.
    """
    xs = [corner[0] for corner in outline_px]
    ys = [corner[1] for corner in outline_px]
    across = place_word(xs[index], xs, "left", "right")
    height = place_word(ys[index], ys, "upper", "lower")
    if across and height:
        return f"{height} {across} corner"
    alone = {"upper": "top", "lower": "bottom", "": "middle"}
    return f"{across or alone[height]} corner"


def chip_words(package: Package) -> str:
    """Say what kind of chip it is and at what scale it is seen.

    Parameters
    ----------
    package : Package

    Returns
    -------
    str
    """
    family = "kind not known" if package.family == "other" else package.family
    leads = (
        "number of leads not known"
        if package.lead_count is None
        else f"{package.lead_count} leads"
    )
    if package.px_per_mm is None:
        perhaps = "" if package.family == "other" else "perhaps "
        return f"Chip: {perhaps}{family}, {leads}; not sure enough to measure in mm"
    return f"Chip: {family}, {leads}, {package.px_per_mm:.1f} px/mm"


def percent(share: float) -> str:
    """Say a confidence without ever claiming certainty.

    Parameters
    ----------
    share : float
        0 to 1.

    Returns
    -------
    str
        ``99.7 %``; anything above is ``over 99.9 %``.
    """
    if share > 0.999:
        return "over 99.9 %"
    return f"{100 * share:.1f} %" if share >= 0.99 else f"{100 * share:.0f} %"


def names_fit(report: PhotoReport, pin_names: Mapping[int, str] | None) -> bool:
    """Tell whether pin names can be put on the main chip of a photo.

    Parameters
    ----------
    report : PhotoReport
    pin_names : mapping of int to str or None

    Returns
    -------
    bool
        True if that chip is surely the one meant, its pin 1 is known and there are as
        many leads as names.
    """
    if not pin_names or not report.packages or report.meant.state != "ok":
        return False
    main = report.packages[0]
    return main.pin1.state == "ok" and main.lead_count == len(pin_names)


def pin_lines(
    report: PhotoReport, pin_names: Mapping[int, str], name: str
) -> tuple[str, ...]:
    """Say the pin names, or why they are not put on the chip.

    Parameters
    ----------
    report : PhotoReport
    pin_names : mapping of int to str
    name : str
        What the person called the pin-out.

    Returns
    -------
    tuple of str
    """
    if names_fit(report, pin_names):
        pins = ", ".join(f"{no} {pin}" for no, pin in sorted(pin_names.items()))
        return (f"Pins by {name}: {pins}",)
    if report.meant.state != "ok":
        return (f"Pins by {name}: not named, it is not known which chip is meant",)
    if not report.packages or report.packages[0].pin1.state != "ok":
        return (f"Pins by {name}: not named, pin 1 is not known",)
    count = report.packages[0].lead_count
    return (
        f"Pins by {name}: not named; it has {len(pin_names)} pins and the chip "
        f"{'an unknown number of' if count is None else count} leads",
    )


def error_words(error: Exception) -> str:
    """Say what went wrong and what to do.

    Parameters
    ----------
    error : Exception

    Returns
    -------
    str
    """
    if isinstance(error, VisionError):
        return str(error)
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename or 'file'}: {error.strerror}. {CHECK_PLACE}"
    return (
        f"Something went wrong that we did not foresee ({type(error).__name__}: "
        f"{error}). Run it again with --debug before the command and report what it "
        "prints."
    )


def place_word(value: float, values: Sequence[float], low: str, high: str) -> str:
    """Say on which side of the middle of some values one lies.

    Parameters
    ----------
    value : float
    values : sequence of float
    low, high : str
        The words for below and above.

    Returns
    -------
    str
        Empty where it lies about the middle.
    """
    middle = (min(values) + max(values)) / 2
    half = (max(values) - min(values)) / 2 or 1.0
    share = (value - middle) / half
    if abs(share) < LOCATION_SPLIT:
        return ""
    return high if share > 0 else low


def name_doubt(reasons: Iterable[str]) -> str:
    """Find the reason that a package is not what a person named it.

    Parameters
    ----------
    reasons : iterable of str
        Of the check of the package.

    Returns
    -------
    str
        Such as ``named SOIC-8, but it looks like SSOP-20. ...``; empty without one.
    """
    doubts = (reason for reason in reasons if NAMED_OTHERWISE.match(reason))
    return next(doubts, "")


def what_was_seen(reason: str) -> str:
    """Take the first sentence of a reason: what was seen, not what to do about it.

    Parameters
    ----------
    reason : str

    Returns
    -------
    str
        Without its stop.
    """
    return reason.split(". ", maxsplit=1)[0].rstrip(".")


def as_sentence(text: str) -> str:
    """Begin a text with a capital letter.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return text[:1].upper() + text[1:]


def because(reasons: Iterable[str]) -> str:
    """Give reasons as one text after a colon, or nothing.

    Parameters
    ----------
    reasons : iterable of str

    Returns
    -------
    str
        Sentences, but for the start of the first and the end of the last.
    """
    told = [reason.strip() for reason in reasons if reason.strip()]
    if not told:
        return ""
    *first, last = (*told[:1], *map(as_sentence, told[1:]))
    stopped = [r if r.endswith((".", "!", "?")) else f"{r}." for r in first]
    return f": {' '.join([*stopped, last])}"
