"""What the answers about all kinds of photos have in common on the screens."""

from __future__ import annotations

from typing import Any

from ui.plain_text import visible
from ui.words import STATE_WORDS

Json = dict[str, Any]
NOTHING: Json = {
    "error": "",
    "details": [],
    "next": [],
    "cautions": [],
    "findings": [],
    "marks": [],
    "outline_px": None,
    "pin1_known": False,
    "lead_count": None,
    "more_chips": 0,
}
"""The fields that every answer about one photo has, empty."""


def finding_row(
    text: str, state: str, at_px: Any = None, radius_px: float | None = None
) -> Json:
    """Give one line of the list of findings.

    Parameters
    ----------
    text : str
    state : str
        ``ok``, ``fault`` or ``unsure``.
    at_px : sequence of float, optional
        The place in the photo that a tap goes to.
    radius_px : float, optional
        How much round it is shown.

    Returns
    -------
    dict
    """
    return {
        "text": visible(text),
        "state": state,
        "word": STATE_WORDS[state],
        "at": None if at_px is None else [float(v) for v in at_px],
        "radius_px": radius_px,
    }
