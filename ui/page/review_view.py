"""What the Review screen shows, as JSON whose every text is visible text."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any, cast

from ui.page.bodies import InputError
from ui.pair_words import DECISION_STATE, DECISION_WORDS
from ui.plain_text import visible, visible_lines
from ui.record import DECISIONS
from ui.record.standing import undecided_words
from ui.review import Filter, job_caution, row_caution, tool_counts
from ui.review.words import NOT_BLIND, damaged_lines, outcome_lines, pair_lines

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ui.record import JobRow, JobState
    from ui.review import Caution, Queue
    from ui.review.agreement import Agreement
    from ui.review.queue import Kind, Show

Json = dict[str, Any]
_SHORT = dict(zip(DECISIONS, ("no fault", "stop", "by hand", "retake"), strict=True))


def wanted_of(asked: Mapping[str, str]) -> Filter:
    """Read the filters of the queue from an address.

    Parameters
    ----------
    asked : mapping of str
        The query of the address; what is missing is not filtered.

    Returns
    -------
    Filter
        As ``dotward job queue`` takes it.

    Raises
    ------
    RecordError
        A filter has an unknown value or is too long.
    InputError
        A day is none.
    """
    return Filter(
        show=cast("Show", asked.get("show", "open")),  # refused by the filter itself
        kind=cast("Kind", asked.get("kind", "any")),
        technician=asked.get("technician", ""),
        part=asked.get("part", ""),
        board=asked.get("board", ""),
        since=_day(asked.get("since", "")),
        until=_day(asked.get("until", "")),
    )


def queue_view(queue: Queue) -> Json:
    """Give a part of the queue.

    Parameters
    ----------
    queue : Queue
        From ``read_queue``.

    Returns
    -------
    dict
        ``after`` of a row is what asks for the rows behind it.
    """
    return {
        "rows": [row_view(row) for row in queue.rows],
        "count": queue.count,
        "by_show": queue.by_show,
        "by_kind": queue.by_kind,
        "technicians": [visible(name) for name in queue.technicians],
        "parts": [visible(name) for name in queue.parts],
        "boards": [visible(name) for name in queue.boards],
    }


def reviews_view(state: JobState) -> Json:
    """Give what was said of a job's decision.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    dict
        ``reviews`` holds those that stand, oldest first; ``why_not`` says why there
        is nothing to review, or is empty; ``caution`` what to beware of, or None.
    """
    why_not = ""
    if state.decision is None:
        why_not = f"{undecided_words(state).capitalize()}: there is nothing to review."
    return {
        "job": state.job,
        "head": state.head,
        "why_not": why_not,
        "caution": _caution(job_caution(state)),
        "decided": state.decision.seq if state.decision else None,
        "choices": [
            {"decision": d, **_said(d)}
            for d in DECISIONS
            if state.decision is None or d != state.decision.event.decision
        ],
        "reviews": [
            {
                "seq": noted.seq,
                "at": visible(noted.at),
                "by": visible(noted.event.by),
                "verdict": noted.event.verdict,
                "reason": _lines(noted.event.reason),
                **_said(noted.event.decision),
            }
            for noted in state.reviews
        ],
        "outcomes": [
            {
                "at": visible(noted.at),
                "by": visible(noted.event.by),
                "worked": noted.event.worked,
                "text": _lines(noted.event.text),
            }
            for noted in state.outcomes
        ],
    }


def agreement_view(found: Agreement) -> Json:
    """Give the agreement figures with their sentences.

    Parameters
    ----------
    found : Agreement
        From ``read_agreement``.

    Returns
    -------
    dict
        ``heads`` names rows and columns of every table in ``pairs``.
    """
    return {
        "heads": list(_SHORT.values()),
        "pairs": [
            {**asdict(pair), "job_count": pair.job_count, "lines": pair_lines(pair)}
            for pair in found.pairs
        ],
        "outcomes": outcome_lines(found, DECISION_WORDS),
        "note": " ".join((*damaged_lines(found), NOT_BLIND)),
        "sources": found.sources,
    }


def row_view(row: JobRow) -> Json:
    """Give a job as the queue shows it.

    Parameters
    ----------
    row : JobRow
        From ``read_queue`` or ``summary_of``.

    Returns
    -------
    dict
        ``caution`` is what to beware of where a board was let go, or None.
    """
    holds = row.review_decision or row.decision or row.tool_decision
    return {
        "job": row.job,
        "after": {"after_at": row.opened_at, "after_job": row.job},
        "day": visible(row.opened_at[:10]),
        "part": visible(row.part),
        "patient": visible(row.patient),
        "technician": visible(row.technician),
        "damaged": row.step == "damaged",
        "decided": bool(row.decision),
        **_said(holds),
        "technician_word": DECISION_WORDS[cast("Any", row.decision)]
        if row.decision
        else "",
        "tool_word": DECISION_WORDS.get(cast("Any", row.tool_decision), ""),
        "differs": bool(row.decision)
        and tool_counts(row)
        and row.decision != row.tool_decision,
        "caution": _caution(row_caution(row)),
        "review": row.review,
        "corrected": row.corrected,
    }


def _caution(caution: Caution | None) -> Json | None:
    return asdict(caution) if caution else None


def _said(decision: str) -> Json:
    return {
        "word": DECISION_WORDS.get(cast("Any", decision), ""),
        "state": DECISION_STATE.get(cast("Any", decision), "unsure"),
    }


def _lines(text: str) -> list[str]:
    return list(visible_lines(text)) if text else []


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        message = f"{visible(text[:40])} is no day; one looks like 2031-03-01."
        raise InputError(message) from error
