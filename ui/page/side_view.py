"""The answer about a row of feet from the side as the screens see it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ui.page.view_parts import NOTHING, finding_row
from ui.plain_text import visible
from ui.read_contract import read_side_seen
from ui.side_words import (
    NAMED_BY_HAND,
    ROW_NOT_NAMED,
    WHAT_IT_IS_NOT,
    foot_tag,
    foot_words,
    height_words,
    side_answer,
)
from ui.words import STATE_WORDS
from vision.results import WORST_FIRST, NotFound

if TYPE_CHECKING:
    from vision.results import SideFoot, SideSeen, SideView

Json = dict[str, Any]


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
    findings = [finding_row(told.headline, told.state)]
    marks: list[Json] = []
    if isinstance(view, NotFound):
        word = "not read"
    else:
        word = STATE_WORDS[view.state]
        worst_first = sorted(view.feet, key=lambda foot: WORST_FIRST.index(foot.state))
        findings = [_foot(seen, view, foot) for foot in worst_first]
        marks = [_mark(seen, view, foot) for foot in view.feet]
    notes = [seen.note] if seen.note else []
    notes.append(NAMED_BY_HAND if seen.leads else ROW_NOT_NAMED)
    if view:
        notes.append(WHAT_IT_IS_NOT)
    return {
        **NOTHING,
        "state": told.state,
        "word": word,
        "headline": visible(told.headline),
        "details": [visible(line) for line in told.details],
        "next": [visible(line) for line in (*told.next_steps, *notes)],
        "findings": findings,
        "marks": marks,
    }


def _foot(seen: SideSeen, view: SideView, foot: SideFoot) -> Json:
    text = (
        f"{foot_words(seen, foot).capitalize()}: {height_words(foot)}, shop limit "
        f"{view.limit_mm:.2f} mm"
    )
    (x, y), reach_px = foot.at_px, view.mark_reach_px
    return finding_row(text, foot.state, (x, y - reach_px), 3 * reach_px)


def _mark(seen: SideSeen, view: SideView, foot: SideFoot) -> Json:
    return {
        "kind": "land",
        "points": [list(corner) for corner in view.square_px(foot)],
        "state": foot.state,
        "text": foot_tag(seen, foot),
    }
