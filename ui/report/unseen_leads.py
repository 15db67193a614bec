"""Leads that could not be judged: those of which the same is said stand together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.joint_words import leads_words
from ui.report.cells import is_number, number, parts_of, text, texts, times_100
from ui.words import STATE_WORDS

if TYPE_CHECKING:
    from ui.report.cells import Answer

NO_REASON = "no reason recorded"


def unseen_leads(answer: Answer) -> tuple[str, ...]:
    """Say of which leads the joint, or the place on the land, was not judged, and why.

    Parameters
    ----------
    answer : dict
        A recorded ``dotward.compare`` answer.

    Returns
    -------
    tuple of str
        One sentence for all leads with the same reason.
    """
    joints = [
        (row, "", "; ".join(texts(row.get("findings"))))
        for row in parts_of(answer, "joints")
    ]
    lands = [
        (row, ", side overhang", _why_near(row)) for row in parts_of(answer, "overhang")
    ]
    groups: dict[tuple[str, str], list[object]] = {}
    for row, what, why in (*joints, *lands):
        if row.get("state") == "unsure":
            groups.setdefault((what, why or NO_REASON), []).append(row.get("lead"))
    return tuple(
        f"{_leads(leads)}{what}: {STATE_WORDS['unsure']}: {why}"
        for (what, why), leads in groups.items()
    )


def _why_near(row: Answer) -> str:
    """Say why an overhang was not judged, which its value and limit tell."""
    names = ("side_overhang_frac", "u_frac", "limit_frac")
    if not all(is_number(row.get(name)) for name in names):
        return ""
    value, u, limit = (float(str(row[name])) for name in names)
    shown = number(times_100(limit), "%", 0)
    if value + u <= limit:
        return "not made out in the photo, only placed by the other leads"
    if value - u > limit:
        return f"beyond {shown}, a limit from memory that only warns"
    return f"too near the shop limit of {shown} of the lead's width to tell"


def _leads(leads: list[object]) -> str:
    numbers = [lead for lead in leads if isinstance(lead, int)]
    if len(numbers) == len(leads):
        return leads_words(sorted(set(numbers))).capitalize()
    return f"Leads {', '.join(map(text, leads))}"
