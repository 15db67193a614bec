"""The answer about a row of feet from the side as the screens see it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ui.plain_text import visible
from ui.read_contract import read_side_seen
from ui.side_words import (
    NAMED_BY_HAND,
    ROW_NOT_NAMED,
    WHAT_IT_IS_NOT,
    foot_words,
    height_words,
    side_answer,
)
from ui.words import STATE_WORDS
from vision.results import NotFound

if TYPE_CHECKING:
    from vision.results import SideFoot, SideSeen

Json = dict[str, Any]
MARK_REACH = 0.3
"""Half the side of the square on each foot, in pitches."""
_ORDER = ("fault", "unsure", "ok")


def side_view(answer: Json) -> Json:
    """Give the answer about a photo of a row of feet.

    Parameters
    ----------
    answer : dict
        A recorded ``dotward.side`` answer.

    Returns
    -------
    dict
        As ``answer_view.photo_view`` gives it.

    Raises
    ------
    RecordError
        A field is missing or of another form.
    """
    seen = read_side_seen(answer)
    told = side_answer(seen)
    view = seen.view
    findings = [_finding(told.headline, told.state)]
    marks: list[Json] = []
    if isinstance(view, NotFound):
        word = "not read"
    else:
        word = STATE_WORDS[view.state]
        reach_px = MARK_REACH * view.px_per_mm * view.pitch_mm
        worst_first = sorted(view.feet, key=lambda foot: _ORDER.index(foot.state))
        findings = [_foot(seen, foot, reach_px) for foot in worst_first]
        marks = [_mark(seen, foot, reach_px) for foot in view.feet]
    notes = [seen.note] if seen.note else []
    notes.append(NAMED_BY_HAND if seen.leads else ROW_NOT_NAMED)
    if view:
        notes.append(WHAT_IT_IS_NOT)
    return {
        "error": "",
        "state": told.state,
        "word": word,
        "headline": visible(told.headline),
        "details": [visible(line) for line in told.details],
        "next": [visible(line) for line in (*told.next_steps, *notes)],
        "cautions": [],
        "findings": findings,
        "marks": marks,
        "outline_px": None,
        "pin1_known": False,
        "lead_count": None,
        "more_chips": 0,
    }


def _foot(seen: SideSeen, foot: SideFoot, reach_px: float) -> Json:
    limit_mm = 0.0 if isinstance(seen.view, NotFound) else seen.view.limit_mm
    text = (
        f"{foot_words(seen, foot).capitalize()}: {height_words(foot)}, shop limit "
        f"{limit_mm:.2f} mm"
    )
    x, y = foot.at_px
    row = _finding(text, foot.state)
    return {**row, "at": [x, y - reach_px], "radius_px": 3 * reach_px}


def _mark(seen: SideSeen, foot: SideFoot, reach_px: float) -> Json:
    x, y = foot.at_px[0], foot.at_px[1] - reach_px
    corners = ((-1, -1), (-1, 1), (1, 1), (1, -1))
    return {
        "kind": "land",
        "points": [[x + reach_px * dx, y + reach_px * dy] for dx, dy in corners],
        "state": foot.state,
        "text": str(seen.lead(foot) or f"no. {foot.from_left}"),
    }


def _finding(text: str, state: str) -> Json:
    return {
        "text": visible(text),
        "state": state,
        "word": STATE_WORDS[state],
        "at": None,
        "radius_px": None,
    }
