"""Says what a job's report holds; the forms of it are elsewhere."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from ui.cautions import CAUTIONS
from ui.decided_words import may_be_powered
from ui.pair_words import AID_ONLY, DECISION_WORDS
from ui.plain_text import visible, visible_lines
from ui.record.comparisons import (
    is_pair_answer,
    photos_that_count,
    uncovered_corrections,
)
from ui.record.events import STAGES
from ui.record.outvoted import outvoted_words
from ui.record.pieces import photo_problems
from ui.record.rules import not_compared_words
from ui.record.standing import (
    is_against_stop,
    is_stopped,
    standing_of,
    undecided_words,
)
from ui.report.measures import (
    COLUMNS,
    feet_rows,
    is_side_answer,
    joint_rows,
    measured_rows,
    notes_of,
    reasons_of,
    row_word,
    unseen,
)
from ui.report.model import Report, Section, Table
from ui.report.photos import photo_sections
from ui.report.timeline import time_words, timeline_section
from ui.side_words import NAMED_BY_HAND, WHAT_IT_IS_NOT

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from ui.record.standing import Standing
    from ui.record.state import JobState

STAGE_WORDS = {
    "before": "Before lifting",
    "lands": "Bare lands",
    "after": "After reflow",
    "side": "From the side",
}
SIGNS = {"no-fault-seen": "\u2713", "stop": "\u2715", "check-by-hand": "?"}
SIGNS |= {"retake": "\u21bb", "open": "\u2026"}
AGAINST_SIGN = "!"
NOTE = (
    "This report states what was measured in photos beside the limit the shop set. "
    "It does not certify anything to a standard. Times, and what cameras wrote into "
    "the photos, are claims of clocks and cameras; the order of events is sure."
)
NOT_AS_ADDED = (
    "A photo of this job was changed or is missing: do not power the board on this "
    "report."
)
SKEW_NOTE = (
    "x runs to the right and y down in the before photo; moves are after minus "
    "before; skew is counter-clockwise. \u00b1 is the expanded uncertainty (coverage "
    "factor 2). Within it of a limit nothing is judged right or wrong."
)


def build_report(folder: Path, state: JobState) -> Report:
    """Put together what a job's report says.

    Parameters
    ----------
    folder : Path
        The job folder, for the photos.
    state : JobState
        The job.

    Returns
    -------
    Report
        Visible text and pictures.
    """
    kind, text = _banner(state)
    word, sign = _banner_word(state, kind), SIGNS[kind]
    if is_against_stop(state):
        sign = AGAINST_SIGN
    if any(photo_problems(folder, state)):
        word, sign = f"{word}, but a photo is not as it was added", AGAINST_SIGN
        text = f"{text} {NOT_AS_ADDED}"
    return Report(
        title=f"Chip move report, job {visible(state.job)}",
        job=visible(state.job),
        banner_word=word,
        banner_sign=sign,
        banner_kind=kind,
        banner_text=text,
        sections=(
            _decision_section(state),
            _asked_section(state),
            _cautions_section(state),
            *photo_sections(folder, state, STAGE_WORDS),
            *_measured_sections(state),
            _unseen_section(state),
            _corrections_section(state),
            _after_section(state),
            timeline_section(state),
            _hash_section(state),
        ),
        count=state.count,
        head=state.head,
    )


def _banner(state: JobState) -> tuple[str, str]:
    standing = standing_of(state)
    if standing is not None:
        return standing.decision, _standing_words(state, standing)
    if state.earlier_decision is not None:
        why = undecided_words(state)
        return "open", f"{why.capitalize()}: decide again. Do not power the board."
    return "open", "Nobody has decided yet. Do not power the board on this report."


def _banner_word(state: JobState, kind: str) -> str:
    word = DECISION_WORDS.get(kind, "Not decided")
    return f"{word}, against the tool's Stop" if is_against_stop(state) else word


def _standing_words(state: JobState, standing: Standing) -> str:
    """Say who let the board go, or held it back, and whether it may be powered."""
    by = visible(standing.by)
    said = [f"Decided by {by}; not reviewed yet."]
    if standing.verdict is not None:
        said = [f"Decision {standing.verdict} in review by {by}."]
    missing = not_compared_words(state)
    if standing.decision == "no-fault-seen" and missing:
        said.append(f"No comparison stands behind it: {missing}.")
    if is_stopped(state):
        said.append("Do not power the board.")
    return " ".join(said)


def _decision_section(state: JobState) -> Section:
    tool = DECISION_WORDS[state.tool_decision]
    pair = state.answer_pair
    paragraphs = [f"The tool says: {tool}."]
    if pair is None:
        paragraphs.append(
            "No comparison of the photos that count now is recorded, so the tool "
            "has nothing to say for this chip."
        )
    elif uncovered_corrections(state, pair.event):
        paragraphs.append(
            "Its answer was given before a hand correction and does not count it in."
        )
    paragraphs += (f"{said.capitalize()}." for said in outvoted_words(state))
    decided = state.decision or state.earlier_decision
    if decided is not None:
        event = decided.event
        said = DECISION_WORDS[event.decision]
        stale = (
            "" if state.decision else f" It no longer stands: {undecided_words(state)}."
        )
        paragraphs.append(f"{visible(event.by)} decided: {said}.{stale}")
        if event.reason:
            paragraphs += ("Reason given:", *visible_lines(event.reason))
        if event.decision != event.tool_decision:
            paragraphs.append(
                f"The tool said {DECISION_WORDS[event.tool_decision]} at that time: "
                "the decision differs from it."
            )
    paragraphs += _review_lines(state)
    reasons = [*_lands_reasons(state)]
    reasons += reasons_of(pair.event.answer) if pair is not None else ()
    return Section(
        heading="Decision",
        paragraphs=(*paragraphs, AID_ONLY),
        items=tuple(f"The tool's reason: {reason}" for reason in reasons),
    )


def _lands_reasons(state: JobState) -> Iterator[str]:
    """Say what the newest answers about the bare lands that count call a fault."""
    newest = {noted.event.photos: noted.event.answer for noted in state.answers}
    counting = photos_that_count(state.photos)
    for noted in state.photos:
        answer = newest.get((noted.seq,), {})
        is_lands = noted.event.stage == "lands" and noted.seq in counting
        if is_lands and answer.get("state") == "fault":
            for reason in reasons_of(answer):
                yield f"bare lands (photo of event {noted.seq}): {reason}"


def _review_lines(state: JobState) -> tuple[str, ...]:
    """Say what the review that stands says of the decision, and why."""
    if not state.reviews:
        return ()
    review = state.reviews[-1].event
    said = f"{visible(review.by)} {review.verdict} this in review: "
    reason = ("Reason given:", *visible_lines(review.reason)) if review.reason else ()
    return f"{said}{DECISION_WORDS[review.decision]}.", *reason


def _asked_section(state: JobState) -> Section:
    opened = state.opened
    unnamed = "not named" if state.has_donor else "the same board"
    rows = (
        ("Part", visible(opened.part)),
        ("Failed board (patient)", visible(opened.patient)),
        ("Board that gets the chip (donor)", visible(opened.donor) or unnamed),
        ("Technician", visible(opened.technician)),
        ("Opened (claimed)", time_words(state.history[0].at)),
    )
    return Section(
        heading="What was asked",
        paragraphs=visible_lines(opened.asked) if opened.asked else (),
        tables=(Table(caption="The job", columns=("Field", "Entry"), rows=rows),),
    )


def _cautions_section(state: JobState) -> Section:
    """Give the cautions; those for the first power only where it may come."""
    left_out = set() if may_be_powered(state) else {"first power"}
    return Section(
        heading="Cautions",
        items=tuple(
            f"{c.when.capitalize()} \u2013 {c.title}: {c.text} (Source: {c.source}.)"
            for c in CAUTIONS
            if c.when not in left_out
        ),
    )


def _measured_sections(state: JobState) -> tuple[Section, ...]:
    pair = state.answer_pair
    feet = _feet_tables(state)
    notes = (f"{WHAT_IT_IS_NOT} {NAMED_BY_HAND}",) if feet else ()
    if pair is None:
        text = "the photos that count now were not compared."
        what = "Nothing was measured from above: " if feet else "Nothing was measured: "
        said = (what + text, *notes)
        return (Section(heading="Measured values", paragraphs=said, tables=feet),)
    answer = pair.event.answer
    tables = [
        Table(
            caption=f"Before against after (answer at event {pair.seq})",
            columns=COLUMNS,
            rows=measured_rows(answer),
        )
    ]
    joints = joint_rows(answer)
    if joints:
        columns = ("What", "Seen", "Judged")
        tables.append(Table(caption="Solder joints", columns=columns, rows=joints))
    return (
        Section(
            heading="Measured values",
            paragraphs=(SKEW_NOTE, *notes),
            items=notes_of(answer),
            tables=(*tables, *feet),
        ),
    )


def _feet_tables(state: JobState) -> tuple[Table, ...]:
    """Give a table for each photo from the side in which feet were measured."""
    counting = {noted.seq for noted in state.photos}
    newest = {noted.event.photos: noted for noted in state.answers}
    return tuple(
        Table(
            caption=f"Feet from the side: {row_word(noted.event.answer)} (photo of "
            f"event {photos[0]}, answer at event {noted.seq})",
            columns=COLUMNS,
            rows=rows,
        )
        for photos, noted in newest.items()
        if set(photos) <= counting
        and is_side_answer(noted.event.answer)
        and (rows := feet_rows(noted.event.answer))
    )


def _unseen_section(state: JobState) -> Section:
    items = [
        f"{STAGE_WORDS[stage]}: no photo"
        for stage in STAGES
        if not any(noted.event.stage == stage for noted in state.photos)
    ]
    counting = {noted.seq: noted.event for noted in state.photos}
    answered = set()
    for noted in state.answers:
        checked = noted.event
        if not set(checked.photos) <= counting.keys():
            continue
        answered |= set(checked.photos)
        names = " and ".join(
            f"{STAGE_WORDS[counting[seq].stage].lower()} (event {seq})"
            for seq in checked.photos
        )
        if is_pair_answer(checked) and noted is not state.answer_pair:
            continue
        items += [f"{line} \u2013 photo {names}" for line in unseen(checked.answer)]
    items += [
        f"{STAGE_WORDS[event.stage]} (event {seq}): not judged by the tool"
        for seq, event in counting.items()
        if seq not in answered
    ]
    nothing = () if items else ("Every check gave an answer.",)
    return Section(
        heading="What could not be seen", paragraphs=nothing, items=tuple(items)
    )


def _corrections_section(state: JobState) -> Section:
    rows = tuple(
        (
            f"Event {noted.seq}",
            visible(noted.event.what),
            f"photo of event {noted.event.photo}",
            visible(noted.event.by),
            visible(noted.event.reason) or "none given",
            visible(json.dumps(noted.event.value, ensure_ascii=True)[:300]),
        )
        for noted in state.corrections
    )
    if not rows:
        text = "Nobody corrected what the tool saw."
        return Section(heading="Corrections by hand", paragraphs=(text,))
    columns = ("Event", "What", "Where", "By", "Reason", "New value")
    table = Table(caption="Put right by hand", columns=columns, rows=rows)
    return Section(heading="Corrections by hand", tables=(table,))


def _after_section(state: JobState) -> Section:
    lines: list[str] = []
    for review in state.reviews:
        event = review.event
        reason = f" Reason: {visible(event.reason)}" if event.reason else ""
        lines.append(
            f"Review by {visible(event.by)} (event {review.seq}): {event.verdict}, "
            f"{DECISION_WORDS[event.decision]}.{reason}"
        )
    for outcome in state.outcomes:
        worked = "worked" if outcome.event.worked else "did not work"
        lines.append(
            f"Outcome after power-on, by {visible(outcome.event.by)} (event "
            f"{outcome.seq}): {worked}. {visible(outcome.event.text)}".rstrip()
        )
    nothing = () if lines else ("Neither is recorded in this report.",)
    return Section(heading="Review and outcome", paragraphs=nothing, items=tuple(lines))


def _hash_section(state: JobState) -> Section:
    rows = [
        ("Events in the journal", str(state.count)),
        ("Head hash of the journal", state.head),
    ]
    for noted in state.photos:
        what = f"{STAGE_WORDS[noted.event.stage]} photo (event {noted.seq})"
        rows.append((what, visible(noted.event.sha256)))
    for answer in state.answers[-1:]:
        rows.append(("Tool version", visible(answer.event.tool_version)))
        rows += [
            (f"Made with: {visible(name)}", visible(sha256))
            for name, sha256 in sorted(answer.event.made_with.items())
        ]
    return Section(
        heading="Hashes",
        paragraphs=(
            NOTE,
            "Keep the head hash and the count away from the job folder: with them "
            "`dotward job verify` shows if the record was cut short or written anew.",
        ),
        tables=(
            Table(
                caption="SHA-256 of what this report rests on",
                columns=("What", "Value"),
                rows=tuple(rows),
            ),
        ),
    )
