"""The worst that the tool found in a job, in a few lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.page.answer_view import pair_view, photo_view
from ui.record.comparisons import photos_that_count
from ui.record.events import STAGES_BESIDE
from ui.record.outvoted import outvoted_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ui.record import JobState

MANY_FINDINGS = 5
NOT_COMPARED = (
    "No comparison counts: a photo before lifting and one after reflow are needed. Add "
    "them, then check again."
)


def finding_lines(state: JobState) -> tuple[str, ...]:
    """Say what the tool's decision about a job rests on, faults first.

    Parameters
    ----------
    state : JobState
        The job, every photo and pair in it judged.

    Returns
    -------
    tuple of str
        Visible text; what was found in order is left out.  Stops that newer photos
        stand for now come before all else.
    """
    found = tuple(_compared(state))
    faults = [text for text, kind in found if kind == "fault"] or _faults_beside(state)
    others = [text for text, kind in found if kind == "unsure"]
    lines = [*faults, *others]
    more = len(lines) - MANY_FINDINGS
    if more > 0:
        lines[MANY_FINDINGS:] = [f"and {more} more: see `dotward report`"]
    return (*outvoted_words(state), *lines)


def _compared(state: JobState) -> Iterator[tuple[str, str]]:
    """Give what the comparison that counts found, and which board has none."""
    pair = state.answer_pair
    if pair is None:
        yield NOT_COMPARED, "unsure"
        return
    for role in sorted(state.not_compared):
        yield f"The {role} after reflow was compared with no photo before", "unsure"
    view = pair_view(pair.event.answer)
    if view["error"]:
        yield view["error"], "fault"
    yield from ((row["text"], row["state"]) for row in view["findings"])


def _faults_beside(state: JobState) -> list[str]:
    """Give the faults in the newest answers about bare lands and sides."""
    newest = {noted.event.photos: noted.event.answer for noted in state.answers}
    counting = photos_that_count(state.photos)
    beside = [n.seq for n in state.photos if n.event.stage in STAGES_BESIDE]
    views = [
        photo_view(newest[(seq,)])
        for seq in beside
        if seq in counting and (seq,) in newest
    ]
    found = [finding for view in views for finding in view["findings"]]
    return [finding["text"] for finding in found if finding["state"] == "fault"]
