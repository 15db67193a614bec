"""From the checks of a pair to one decision; the worst outcome wins."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from vision.results import Decision, Finding

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from vision.results import PairReport

CHECKS = (
    "quality",
    "registration",
    "package",
    "orientation",
    "alignment",
    "lands",
    "joints",
    "bridges",
)
"""Every check of a pair, in the order in which reasons are given."""
NEEDS_PHOTO = ("quality", "registration")
"""Checks whose doubt only another photo can settle."""
UNBUILT = "not judged by this version: look by eye"
UNLAID = "not judged, as the photos could not be laid over each other at the chip"
WORST_FIRST: tuple[Decision, ...] = (
    "stop",
    "retake",
    "check-by-hand",
    "no-fault-seen",
)


def complete(checks: Mapping[str, Finding]) -> dict[str, Finding]:
    """Add the checks that nobody made, as ``unsure``.

    Parameters
    ----------
    checks : mapping of str to Finding
        Checks made so far, by name.

    Returns
    -------
    dict of str to Finding
        All of ``CHECKS`` first, in their order, then any others.
    """
    known = {
        name: checks.get(name) or Finding(state="unsure", reasons=(_unmade(checks),))
        for name in CHECKS
    }
    return known | {n: f for n, f in checks.items() if n not in known}


def _unmade(checks: Mapping[str, Finding]) -> str:
    """Say why nobody made a check."""
    laid = checks.get("registration")
    return UNLAID if laid is not None and laid.state != "ok" else UNBUILT


def decide(checks: Mapping[str, Finding]) -> tuple[Decision, tuple[str, ...]]:
    """Decide what happens with the board.

    Parameters
    ----------
    checks : mapping of str to Finding
        Checks by name; one that is missing counts as not judged.

    Returns
    -------
    (Decision, tuple of str)
        ``stop`` when any check found a fault; ``retake`` when a photo or the
        registration made judging impossible; ``check-by-hand`` when anything is
        unsure; ``no-fault-seen`` only when every check was judged and is ``ok``.  The
        reasons are those of the checks that led there.
    """
    every = complete(checks)
    faults = [n for n, f in every.items() if f.state == "fault"]
    unsure = [n for n, f in every.items() if f.state != "ok"]
    stopping = [n for n in faults if n not in NEEDS_PHOTO]
    photo = [n for n in NEEDS_PHOTO if every[n].state != "ok"]
    decision: Decision
    if stopping:
        decision, names = "stop", stopping
    elif photo:
        decision, names = "retake", photo
    elif unsure:
        decision, names = "check-by-hand", unsure
    else:
        decision, names = "no-fault-seen", list(every)
    return decision, tuple(r for n in names for r in every[n].reasons)


def worst_of(reports: Sequence[PairReport]) -> PairReport:
    """Give the worst of what was found of several packages of one pair of photos.

    Parameters
    ----------
    reports : sequence of PairReport
        One for every package that may be meant, the likeliest first.

    Returns
    -------
    PairReport
        The first with the worst decision, which says that it is one of several: what
        it clears holds for whichever is meant.
    """
    worst = min(reports, key=lambda report: WORST_FIRST.index(report.decision))
    if len(reports) == 1:
        return worst
    said = (
        f"any of {len(reports)} packages of the before photo may be the one meant; "
        "this is the worst of what was found of each. Point at the one that is meant"
    )
    package = worst.checks["package"]
    package = replace(package, reasons=(*package.reasons, said))
    return replace(
        worst,
        checks=worst.checks | {"package": package},
        reasons=(*worst.reasons, said),
    )
