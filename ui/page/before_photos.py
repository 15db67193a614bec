"""Whether a photo serves as the one before lifting: it cannot be made up for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ui.plain_text import visible

if TYPE_CHECKING:
    from ui.record.events import Role

Answer = dict[str, Any]
UNREADABLE = "the tool could not use it"
NO_CHIP = "no chip was found in it"
NOT_MEANT = "which chip is meant is not known"


def why_useless(answer: Answer) -> str:
    """Say why nothing can be compared with a photo before lifting.

    Parameters
    ----------
    answer : dict
        A recorded ``dotward.look`` answer about it.

    Returns
    -------
    str
        A sentence without its stop; empty where nothing speaks against the photo.
    """
    if "error" in answer:
        return UNREADABLE
    state, reason = _finding(answer, "quality")
    return reason or "it is not good enough" if state == "fault" else ""


def why_unmarked(answer: Answer, role: Role) -> str:
    """Say why it is not known where the chip is in a photo that serves otherwise.

    Parameters
    ----------
    answer : dict
        A recorded ``dotward.look`` answer about it.
    role : str
        The board it shows; the place on a donor may be empty.

    Returns
    -------
    str
        A sentence without its stop; empty where the chip is known.
    """
    if role == "donor":
        return ""
    if not answer.get("packages"):
        return NO_CHIP
    state, reason = _finding(answer, "meant")
    if state not in ("unsure", "fault"):
        return ""
    return f"{NOT_MEANT}: {reason}" if reason else NOT_MEANT


def _finding(answer: Answer, name: str) -> tuple[str, str]:
    """Read a finding out of a journal: its state, and its reasons as one text."""
    found = answer.get(name)
    if not isinstance(found, dict):
        return "", ""
    reasons = found.get("reasons")
    told = [str(reason) for reason in reasons] if isinstance(reasons, list) else []
    return str(found.get("state")), visible(" ".join(told)).rstrip(".")
