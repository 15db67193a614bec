"""Sentences about a pair of photos: turned, moved, skewed, and what to do.

Only here do signs become words: x to the right and y down are
positive, angles count counter-clockwise as seen.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ui.pair_faults import pair_faults
from ui.pair_steps import CHECK_WORDS, check_word, checks_with, pair_steps
from ui.side_words import unread_words
from ui.words import (
    BEFORE_REWORK,
    DO_NOT_POWER,
    STATE_WORDS,
    Answer,
    because,
    name_doubt,
    percent,
    what_was_seen,
)
from vision.limits import USUAL_SET
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Iterable

    from vision.pinouts import Pinout
    from vision.results import Alignment, Orientation, PairReport, State

DECISION_WORDS = {
    "no-fault-seen": "No fault seen",
    "stop": "Stop",
    "check-by-hand": "Check by hand",
    "retake": "Take the photo again",
}
DECISION_STATE: dict[str, State] = {
    "no-fault-seen": "ok",
    "stop": "fault",
    "check-by-hand": "unsure",
    "retake": "unsure",
}
SHOWN_APART = ("orientation", "alignment", "registration")
QUARTERS = {90: "a quarter turn", 180: "half a turn", 270: "three quarters of a turn"}
BEFORE_POWER = (
    "Before the first power-up check supply to ground with a meter, and start from a "
    "current-limited supply."
)
NOT_CLEARED = (
    "Do not power the board before a person has looked at what could not be judged, "
    "and cleared it."
)
AID_ONLY = (
    "No fault seen is not proof that there is none: this tool sees only what the "
    "photos show."
)
NOT_MOVED = "not moved"


def pair_answer(report: PairReport, pinout: Pinout | None = None) -> Answer:
    """Put the answer of ``compare`` for one pair into sentences.

    Parameters
    ----------
    report : PairReport
    pinout : Pinout or None
        What the pins are called, where a person says so.

    Returns
    -------
    Answer
    """
    state = DECISION_STATE[report.decision]
    cautions = {
        "stop": (DO_NOT_POWER, BEFORE_REWORK),
        "no-fault-seen": (AID_ONLY, BEFORE_POWER),
        "check-by-hand": (NOT_CLEARED, BEFORE_POWER),
        "retake": (NOT_CLEARED,),
    }[report.decision]
    return Answer(
        state=state,
        headline=f"{DECISION_WORDS[report.decision]}: {_pair_headline(report)}",
        details=(
            orientation_words(report.orientation),
            *half_turn_lines(report, pinout),
            alignment_words(report.alignment),
            registration_words(report),
            *check_lines(report),
            *limit_lines(report.limits),
            *note_lines(report),
            *unread_words(report.side),
        ),
        next_steps=pair_steps(report),
        cautions=cautions,
    )


def is_half_turned(orientation: Orientation) -> bool:
    """Whether a chip surely sits the other way round than before."""
    return orientation.state == "fault" and orientation.turn_deg == 180


def half_turn_lines(report: PairReport, pinout: Pinout | None) -> tuple[str, ...]:
    """Say what a half turn does to the supply, where the pins are known."""
    if pinout is None or not is_half_turned(report.orientation):
        return ()
    after = report.after_package
    if after is not None and after.lead_count not in (None, len(pinout.pins)):
        return (
            f"{pinout.name}: it has {len(pinout.pins)} pins and the chip "
            f"{after.lead_count}, so what the turn does to them is not told",
        )
    said = pinout.after_half_turn or "what the turn does to its supply is not known"
    return (f"{pinout.name}: {said}",)


def check_lines(report: PairReport) -> tuple[str, ...]:
    """Name every further check of a pair with its state and its reasons.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    tuple of str
        Turn and shift have lines of their own and are left out.
    """
    return tuple(
        f"{CHECK_WORDS.get(name, name.replace('_', ' ').capitalize())}: "
        f"{STATE_WORDS[finding.state]}{because(_bare(finding.reasons, name))}"
        for name, finding in report.checks.items()
        if name not in SHOWN_APART
    )


def limit_lines(limits: str) -> tuple[str, ...]:
    """Say by which limits a pair was judged, where they are not the usual ones."""
    if limits in ("", USUAL_SET):
        return ()
    return (f"Judged by other than the usual limits: {limits}",)


def note_lines(report: PairReport) -> tuple[str, ...]:
    """Say what is worth a look and decides nothing.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    tuple of str
    """
    return tuple(f"Note: {note}" for note in report.notes)


def orientation_words(orientation: Orientation) -> str:
    """Say whether the chip is turned on its board."""
    turn_deg = orientation.turn_deg
    if orientation.state == "unsure" or turn_deg is None:
        return f"Way round: cannot tell{because(orientation.reasons)}"
    sure = f"sure to {percent(orientation.confidence)}"
    if turn_deg == 0:
        return f"Way round: same as before, {sure}"
    return f"Way round: {turn_words(turn_deg)}, {sure}"


def turn_words(turn_deg: int) -> str:
    """Say a turn in words.

    Parameters
    ----------
    turn_deg : int
        0, 90, 180 or 270, counter-clockwise.

    Returns
    -------
    str
    """
    if turn_deg == 0:
        return "not turned"
    sense = "" if turn_deg == 180 else " counter-clockwise"
    return f"turned by {turn_deg} degrees{sense} ({QUARTERS[turn_deg]})"


def alignment_words(alignment: Alignment) -> str:
    """Say how far the chip is moved and skewed, and how well that is known."""
    if alignment.dx_mm is None or alignment.dy_mm is None:
        parts = [because(alignment.reasons).lstrip(": ")] if alignment.reasons else []
        if alignment.skew_deg is not None:
            parts.append(skew_words(alignment.skew_deg, alignment.u_deg))
        return f"Place: cannot tell{because(parts)}"
    parts = [shift_words(alignment.dx_mm, alignment.dy_mm, alignment.u_mm)]
    if alignment.skew_deg is not None:
        parts.append(skew_words(alignment.skew_deg, alignment.u_deg))
    lead_in = {
        "ok": "Place",
        "fault": "Place, too far off",
        "unsure": "Place, cannot be judged",
    }
    return f"{lead_in[alignment.state]}: {'; '.join(parts)}" + because(
        alignment.reasons
    )


def shift_words(dx_mm: float, dy_mm: float, u_mm: float | None = None) -> str:
    """Say a shift in words, in the axes of the before photo.

    Parameters
    ----------
    dx_mm, dy_mm : float
        To the right and down are positive.
    u_mm : float, optional
        Expanded uncertainty (k = 2); a shift within it is said not to be told
        from none.

    Returns
    -------
    str
        ``0.12 mm to the right, 0.05 mm up``.
    """
    if _is_within(dx_mm, dy_mm, u_mm):
        return f"no shift beyond the {u_mm:.2f} mm these photos can tell"
    spread = "" if u_mm is None else f", give or take {u_mm:.2f} mm"
    parts = []
    if abs(dx_mm) >= 0.005:
        parts.append(f"{abs(dx_mm):.2f} mm to the {'right' if dx_mm > 0 else 'left'}")
    if abs(dy_mm) >= 0.005:
        parts.append(f"{abs(dy_mm):.2f} mm {'down' if dy_mm > 0 else 'up'}")
    return (", ".join(parts) or NOT_MOVED) + spread


def skew_words(skew_deg: float, u_deg: float | None = None) -> str:
    """Say a skew in words.

    Parameters
    ----------
    skew_deg : float
        Counter-clockwise positive.
    u_deg : float, optional
        Expanded uncertainty (k = 2).

    Returns
    -------
    str
    """
    if u_deg is not None and abs(skew_deg) <= u_deg:
        return f"no skew beyond {u_deg:.1f} degrees"
    spread = "" if u_deg is None else f", give or take {u_deg:.1f}"
    if abs(skew_deg) < 0.05:
        return f"not skewed{spread}"
    sense = "counter-clockwise" if skew_deg > 0 else "clockwise"
    return f"skewed {abs(skew_deg):.1f} degrees {sense}{spread}"


def registration_words(report: PairReport) -> str:
    """Say how well the board of one photo was found again in the other."""
    registration = report.registration
    if isinstance(registration, NotFound):
        return (
            "Board: the two photos could not be laid over each other: "
            f"{registration.reason}"
        )
    return (
        f"Board: laid over each other by {registration.inliers} points of the board, "
        f"{registration.residual_px:.1f} px apart"
    )


def pair_name_doubt(report: PairReport) -> str:
    """Say that the package is not what a person named it; empty where it may be.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    str
    """
    check = report.checks.get("package")
    return "" if check is None else name_doubt(check.reasons)


def shift_tag(alignment: Alignment) -> str:
    """Give the few words beside the arrow of a shift.

    Parameters
    ----------
    alignment : Alignment

    Returns
    -------
    str
        Empty where there is no shift that can be told from none.
    """
    dx_mm, dy_mm = alignment.dx_mm, alignment.dy_mm
    if dx_mm is None or dy_mm is None or _is_within(dx_mm, dy_mm, alignment.u_mm):
        return ""
    length_mm = math.hypot(dx_mm, dy_mm)
    return f"{length_mm:.2f} mm" if length_mm >= 0.005 else ""


def turn_tag(orientation: Orientation) -> str:
    """Give the few words beside the arrow of a turn.

    Parameters
    ----------
    orientation : Orientation

    Returns
    -------
    str
        Empty where the chip is not turned or it could not be told.
    """
    turn_deg = orientation.turn_deg
    if orientation.state == "unsure" or not turn_deg:
        return ""
    return f"turned {turn_deg} degrees"


def _is_within(dx_mm: float, dy_mm: float, u_mm: float | None) -> bool:
    """Tell whether a shift is too small to be told from none."""
    return u_mm is not None and math.hypot(dx_mm, dy_mm) <= u_mm


def _bare(reasons: Iterable[str], name: str) -> list[str]:
    """Take a check's own name off the front of its reasons."""
    return [reason.removeprefix(f"{name}: ") for reason in reasons]


def _pair_headline(report: PairReport) -> str:
    """Say what led to the decision; a name that does not fit comes before all else."""
    doubt = pair_name_doubt(report)
    found = _found_words(report)
    return f"{what_was_seen(doubt)}; {found}" if doubt else found


def _found_words(report: PairReport) -> str:
    if report.decision == "retake" and report.reasons:
        return "; ".join(dict.fromkeys(map(what_was_seen, report.reasons)))
    known, faults = _turn_known(report.orientation), pair_faults(report)
    open_checks = [
        check_word(name)
        for name in checks_with(report, "unsure")
        if name != "orientation"
    ]
    if not faults and report.decision == "check-by-hand" and open_checks:
        return f"{', '.join(open_checks)} could not be judged in full; {known}"
    if not faults:
        return known
    if report.orientation.state == "fault":
        return f"{known}; also {', '.join(faults)}"
    return f"{', '.join(faults)}; {known}"


def _turn_known(turn: Orientation) -> str:
    if turn.state == "fault" and turn.turn_deg is not None:
        return f"the chip is {turn_words(turn.turn_deg)} on its board"
    if turn.state == "ok":
        return "the chip sits the same way round as before"
    return "whether the chip is turned could not be told"
