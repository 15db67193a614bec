"""A job as the screens see it: everything follows from the record, nothing is kept.

Text out of the record is made visible here; the scripts show it as text only.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from ui.page.answer_view import pair_view, photo_view
from ui.page.doubts import is_earlier, is_to_compare, pair_doubt, photo_doubt
from ui.page.pictures import TILE_PX, lacks_tiles, pair_key, photo_key, picture_info
from ui.page.steps import (
    answer_about,
    cautions_now,
    is_asked_first,
    next_step,
    pair_about,
    photo_of,
    stages_of,
)
from ui.pair_words import DECISION_STATE, DECISION_WORDS
from ui.plain_text import visible, visible_lines
from ui.record import photo_path
from ui.record.checking import corrections_of, unanswered
from ui.record.outvoted import outvoted_words

if TYPE_CHECKING:
    from pathlib import Path

    from ui.page.doubts import Doubt, Limits
    from ui.page.steps import StagePlace
    from ui.page.worker import Doing
    from ui.record import Checked, Corrected, JobState, Noted, PhotoAdded

Json = dict[str, Any]
WHAT_WORDS = {"outline": "outline", "pin1": "pin-1 corner", "package": "package"}
TASK_WORDS = {
    "view": "Opening the photo",
    "tiles": "Preparing true pixels",
    "pair": "Laying after over before",
    "check": "Judging",
    "report": "Writing the report",
    "seal": "Writing the report and sealing",
}
STAGE_WORDS = {
    "look before": "looking at the photo before lifting",
    "look lands": "looking at the bare lands",
    "look after": "looking at the photo after reflow",
    "look side": "looking at the photo from the side",
    "compare": "comparing before and after",
}


def job_view(state: JobState, cache: Path, limits: Limits = None) -> Json:
    """Give everything a screen shows of a job.

    Parameters
    ----------
    state : JobState
        The job.
    cache : Path
        Where pictures for the screen lie.
    limits : dict, optional
        Those in force, from ``limits_in_force``; not asked about if not given.

    Returns
    -------
    dict
        Plain JSON values; every text is visible text.
    """
    return {
        "job": state.job,
        "head": state.head,
        "count": state.count,
        "step": state.step,
        "opened": _opened(state),
        "stages": [_stage(state, place, limits) for place in stages_of(state)],
        "photos": {
            str(noted.seq): _photo(state, noted, cache) for noted in state.photos
        },
        "pairs": _pairs(state, cache, limits),
        "tool_decision": state.tool_decision,
        "tool_word": DECISION_WORDS[state.tool_decision],
        "tool_state": DECISION_STATE[state.tool_decision],
        "decision": _decision(state),
        "review": _review(state),
        "next": next_step(state),
        "cautions": [
            {"title": c.title, "text": c.text, "source": c.source}
            for c in cautions_now(state)
        ],
        "outvoted": [f"{said.capitalize()}." for said in outvoted_words(state)],
        "unjudged": len(unanswered(state)),
        "earlier_limits": any(
            is_earlier(state, pair.event, limits) for pair in state.answer_pairs
        ),
    }


def doing_view(doing: tuple[Doing, ...]) -> list[Json]:
    """Say what runs and waits for a job.

    Parameters
    ----------
    doing : tuple of Doing
        What the worker tells.

    Returns
    -------
    list of dict
        ``kind``, ``words``, ``since_s``, and how many steps are ``done`` ``of`` all.
    """
    shown = []
    for item in doing:
        words = TASK_WORDS[item.kind]
        if item.stage in STAGE_WORDS:
            words = f"{words}: {STAGE_WORDS[item.stage]}"
        elif not item.stage:
            words = f"{words}: waiting"
        shown.append(
            {
                "kind": item.kind,
                "words": words,
                "since_s": item.since_s,
                "done": item.done,
                "of": item.of,
            }
        )
    return shown


def missing_pictures(folder: Path, state: JobState, cache: Path) -> list[Json]:
    """Name the pictures that a screen will want and that have not been made.

    Parameters
    ----------
    folder : Path
        The job folder.
    state : JobState
        The job.
    cache : Path
        Where pictures for the screen lie.

    Returns
    -------
    list of dict
        ``kind`` of the task and ``about`` for it.
    """
    wanted: list[Json] = []
    for noted in state.photos:
        event = noted.event
        answer = answer_about(state, noted.seq)
        if answer is not None and "error" in answer.event.answer:
            continue
        path = str(photo_path(folder, event.sha256, event.suffix))
        key = photo_key(event.sha256)
        about = {"cache": str(cache), "key": key, "photo": path}
        if picture_info(cache, key) is None:
            wanted.append({"kind": "view", "about": about})
        elif lacks_tiles(cache, key):
            wanted.append({"kind": "tiles", "about": about})
    for before, after in _compared(state):
        matrix = _matrix(state, before, after)
        info = picture_info(cache, photo_key(before.event.sha256))
        if matrix is None or info is None:
            continue
        key = pair_key(before.event.sha256, after.event.sha256, matrix)
        if picture_info(cache, key) is None:
            path = str(photo_path(folder, after.event.sha256, after.event.suffix))
            size = [info.width_px, info.height_px]
            about = {"cache": str(cache), "key": key, "photo": path}
            wanted.append(
                {"kind": "pair", "about": {**about, "matrix": matrix, "size_px": size}}
            )
    return wanted


def picture_json(state: JobState, cache: Path, key: str, name: str) -> Json | None:
    """Give a picture as the pane takes it.

    Parameters
    ----------
    state : JobState
        The job it belongs to.
    cache : Path
        Where pictures for the screen lie.
    key : str
        Name of the picture.
    name : str
        What it shows.

    Returns
    -------
    dict or None
        None where it has not been made yet.
    """
    info = picture_info(cache, key)
    if info is None:
        return None
    base = f"/api/job/{state.job}/picture/{key}"
    large = max(info.width_px, info.height_px) > info.view_px
    return {
        "name": name,
        **asdict(info),
        "view": f"{base}/view.jpg",
        "tiles": f"{base}/tile-{{tile}}.jpg" if large else None,
        "tile_px": TILE_PX,
    }


def _opened(state: JobState) -> Json:
    opened = state.opened
    return {
        "at": visible(state.history[0].at),
        "technician": visible(opened.technician),
        "part": visible(opened.part),
        "patient": visible(opened.patient),
        "donor": visible(opened.donor),
        "asked": _lines(opened.asked),
    }


def _decision(state: JobState) -> Json | None:
    if state.decision is None:
        return None
    event = state.decision.event
    return {
        "seq": state.decision.seq,
        "at": visible(state.decision.at),
        "decision": event.decision,
        "by": visible(event.by),
        "reason": list(visible_lines(event.reason)),
        **_said(event.decision),
    }


def _review(state: JobState) -> Json | None:
    """Give the review that stands: the newest of the decision that counts."""
    if state.decision is None or not state.reviews:
        return None
    event = state.reviews[-1].event
    return {
        "at": visible(state.reviews[-1].at),
        "by": visible(event.by),
        "verdict": event.verdict,
        "decision": event.decision,
        "reason": _lines(event.reason),
        **_said(event.decision),
    }


def _said(decision: str) -> Json:
    return {"word": DECISION_WORDS[decision], "state": DECISION_STATE[decision]}


def _lines(text: str) -> list[str]:
    return list(visible_lines(text)) if text else []


def _doubt(doubt: Doubt | None) -> Json | None:
    return None if doubt is None else asdict(doubt)


def _stage(state: JobState, place: StagePlace, limits: Limits) -> Json:
    photo = photo_of(state, place)
    row = {
        "stage": place.stage,
        "role": place.role,
        "leads": list(place.leads),
        "title": place.title,
        "ask": place.ask,
        "optional": not is_asked_first(place),
        "photo": None if photo is None else photo.seq,
    }
    if photo is None:
        return {**row, "state": "none", "word": "no photo yet"}
    answer = answer_about(state, photo.seq)
    if answer is None:
        return {**row, "state": "none", "word": "taken, not judged yet"}
    seen = photo_view(answer.event.answer)
    if seen["error"]:
        return {**row, "state": "fault", "word": "cannot be used"}
    if photo_doubt(state, photo.seq):
        return {**row, "state": "unsure", "word": "not judged since"}
    if place.stage == "after":
        return {**row, **_after_word(state, photo.seq, limits)}
    return {**row, "state": seen["state"], "word": seen["word"]}


def _after_word(state: JobState, photo: int, limits: Limits) -> Json:
    """Only a comparison can say that a chip sits right."""
    pair = state.answer_pair
    if pair is None or photo not in pair.event.photos:
        return {"state": "unsure", "word": "not compared"}
    said = _said(state.tool_decision)
    review = _review(state)
    if review is not None and review["decision"] != "no-fault-seen":
        said = {"word": review["word"], "state": review["state"]}
    if said["state"] == "ok" and pair_doubt(state, pair.event, limits):
        return {"state": "unsure", "word": "judge again"}
    return said


def _photo(state: JobState, noted: Noted[PhotoAdded], cache: Path) -> Json:
    event = noted.event
    answer = answer_about(state, noted.seq)
    return {
        "seq": noted.seq,
        "stage": event.stage,
        "role": event.role,
        "name": visible(event.name),
        "by": visible(event.by),
        "at": visible(noted.at),
        "sha256": event.sha256,
        "picture": picture_json(state, cache, photo_key(event.sha256), event.stage),
        "answer": None if answer is None else photo_view(answer.event.answer),
        "doubt": None if answer is None else _doubt(photo_doubt(state, noted.seq)),
        "waits": is_to_compare(state, noted.seq),
        "corrections": [_correction(c) for c in corrections_of(state, noted.seq)],
    }


def _correction(noted: Noted[Corrected]) -> Json:
    event = noted.event
    what = WHAT_WORDS.get(event.what, visible(event.what))
    if event.what == "package":
        what = f"{what} {visible(str(event.value.get('name')))}"
    return {
        "seq": noted.seq,
        "what": visible(event.what),
        "words": f"{what} set by hand by {visible(event.by)}",
        "at": visible(noted.at),
        "reason": visible(event.reason),
    }


def _compared(
    state: JobState,
) -> list[tuple[Noted[PhotoAdded], Noted[PhotoAdded]]]:
    """Give the pairs of photos that count and were compared."""
    by_seq = {noted.seq: noted for noted in state.photos}
    found = {}
    for noted in state.answers:
        photos = noted.event.photos
        if len(photos) > 1 and all(seq in by_seq for seq in photos[:2]):
            found[photos[:2]] = (by_seq[photos[0]], by_seq[photos[1]])
    return list(found.values())


def _matrix(
    state: JobState, before: Noted[PhotoAdded], after: Noted[PhotoAdded]
) -> Any:
    answer = pair_about(state, before.seq, after.seq)
    if answer is None:
        return None
    registration = answer.event.answer.get("registration")
    return registration.get("before_to_after") if registration else None


def _pairs(state: JobState, cache: Path, limits: Limits) -> list[Json]:
    stands = {pair.seq for pair in state.answer_pairs}
    found = []
    for before, after in _compared(state):
        answer = pair_about(state, before.seq, after.seq)
        if answer is not None:
            doubt = _doubt(pair_doubt(state, answer.event, limits))
            pair = _pair(state, cache, before, after, answer)
            found.append({**pair, "stands": answer.seq in stands, "doubt": doubt})
    return found


def _pair(
    state: JobState,
    cache: Path,
    before: Noted[PhotoAdded],
    after: Noted[PhotoAdded],
    answer: Noted[Checked],
) -> Json:
    pictures = [picture_json(state, cache, photo_key(before.event.sha256), "before")]
    matrix = _matrix(state, before, after)
    if matrix is not None:
        key = pair_key(before.event.sha256, after.event.sha256, matrix)
        pictures.append(picture_json(state, cache, key, "after"))
    is_ready = len(pictures) == 2 and None not in pictures
    return {
        "seq": answer.seq,
        "before": before.seq,
        "after": after.seq,
        "role": before.event.role,
        "counts": state.answer_pair is not None and state.answer_pair.seq == answer.seq,
        "laid_over": matrix is not None,
        "pictures": pictures if is_ready else None,
        "answer": pair_view(answer.event.answer),
    }
