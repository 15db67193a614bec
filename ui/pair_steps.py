"""What to do next with a pair of photos, by what was found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.joint_words import UNNUMBERED
from ui.side_words import LOOK_CLOSELY, next_photo, side_mending
from ui.words import RETAKE, as_sentence, name_doubt
from vision.results import NotFound

if TYPE_CHECKING:
    from vision.results import PairReport, State

CHECK_WORDS = {
    "quality": "Photo",
    "package": "Chip against before",
    "registration": "Board found again",
    "orientation": "Way round",
    "alignment": "Place on the board",
    "overhang": "Leads on their lands",
    "lands": "Leads on their lands",
    "bridges": "Solder bridges",
    "joints": "Solder joints",
    "side": "Feet from the side",
}
SECOND_LOOK = "Have a second person look."
CHECK_NAME = (
    "Set the name of the package right, or take it back, and have it judged again: all "
    "that is said of leads rests on it."
)
ONCE_MORE = "Then clean it, and photograph and compare it again."


def pair_steps(report: PairReport) -> tuple[str, ...]:
    """Say what to do next.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    tuple of str
        Sentences, in the order of the work.
    """
    return (*_name_steps(report), *_decided(report), *_side_steps(report))


def checks_with(report: PairReport, state: State) -> list[str]:
    """Name the checks of a pair that are in a state.

    Parameters
    ----------
    report : PairReport
    state : str

    Returns
    -------
    list of str
    """
    return [name for name, found in report.checks.items() if found.state == state]


def check_word(name: str) -> str:
    """Name a check within a sentence.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
    """
    return CHECK_WORDS.get(name, name).lower()


def _name_steps(report: PairReport) -> tuple[str, ...]:
    """Ask for the name first where it does not fit: what follows rests on it."""
    check = report.checks.get("package")
    doubted = check is not None and bool(name_doubt(check.reasons))
    return (CHECK_NAME,) if doubted else ()


def _decided(report: PairReport) -> tuple[str, ...]:
    if report.decision == "retake":
        return (*map(as_sentence, report.reasons), RETAKE)
    unjudged = [check_word(name) for name in checks_with(report, "unsure")]
    if report.decision == "stop":
        return (SECOND_LOOK, *_mending(report), ONCE_MORE)
    if report.decision == "no-fault-seen":
        return ("Let a second person look before the board goes on.",)
    if unjudged:
        return (f"Look yourself, under magnification, at: {', '.join(unjudged)}.",)
    return ("Look at the chip yourself, under magnification.",)


def _mending(report: PairReport) -> tuple[str, ...]:
    """Say what mends each fault; a chip set anew needs no other."""
    sits_wrong = {"orientation", "package", "alignment", "overhang", "lands"}
    if sits_wrong & set(checks_with(report, "fault")):
        return ("Take the chip off and set it anew.",)
    steps = []
    gaps = [b.between for b in report.bridges if b.state == "fault"]
    if gaps:
        listed = ", ".join(f"{a} and {b}" for a, b in gaps)
        steps.append(f"Take the solder out between leads {listed}: flux and braid.")
    rows = {"joints", "side"} & set(checks_with(report, "fault"))
    bridged = {lead for gap in gaps for lead in gap}
    bad = [j.lead for j in report.joints if j.state == "fault"]
    if rows and [lead for lead in bad if lead not in bridged]:
        listed = ", ".join(str(lead) for lead in bad if lead not in bridged)
        word = "lead" if len(listed.split(",")) == 1 else "leads"
        steps.append(f"Press down and solder {word} {listed} anew, with flux.")
    elif "side" in rows:
        steps.append(side_mending(report.side))
    if (gaps or bad) and not report.is_numbered:
        steps.append(UNNUMBERED)
    return tuple(steps)


def _side_steps(report: PairReport) -> tuple[str, ...]:
    """Ask for a side photo that can be read, and for a look at a doubtful foot."""
    unread = [seen.view for seen in report.side if isinstance(seen.view, NotFound)]
    steps = list(dict.fromkeys(map(next_photo, unread)))
    check = report.checks.get("side")
    if check is not None and check.state != "ok":
        steps.append(LOOK_CLOSELY)
    return tuple(steps)
