"""The answer about bare lands as the screens see it."""

from __future__ import annotations

import math
from typing import Any

from ui.page.view_parts import NOTHING, finding_row
from ui.plain_text import visible
from ui.words import BEFORE_LANDS, STATE_WORDS
from vision.errors import RecordError
from vision.packages import land_name

Json = dict[str, Any]
NOT_PINS = (
    "L1, L2 and so on only name the lands, counted from one end: they do not say where "
    "pin 1 goes."
)
RETAKE_LANDS = (
    "Photograph the place from straight above, chip off, sharp, the lands a third of "
    "the frame."
)


def lands_view(answer: Json) -> Json:
    """Give the answer about a photo of bare lands.

    Parameters
    ----------
    answer : dict
        A recorded ``dotward.lands`` answer.

    Returns
    -------
    dict
        As ``answer_view.photo_view`` gives it.

    Raises
    ------
    RecordError
        A field is missing or of another form.
    """
    try:
        return _view(answer)
    except (KeyError, TypeError, ValueError, IndexError) as error:
        message = (
            f"the recorded answer has another form than this version knows ({error!r})."
        )
        raise RecordError(message) from error


def _view(answer: Json) -> Json:
    state = answer["state"]
    word = STATE_WORDS[state]
    reasons = [visible(str(reason)) for reason in answer["reasons"]]
    lands = list(answer["lands"])
    findings = [finding_row(f"Lands: {reason}", state) for reason in reasons]
    findings += [_of_land(land) for land in lands if land["state"] != "ok"]
    marks = [
        {
            "kind": "land",
            "points": _points(land["corners_px"]),
            "state": land["state"],
            "text": land_name(int(land["number"])),
        }
        for land in lands
        if land.get("corners_px")
    ]
    return {
        **NOTHING,
        "state": state,
        "word": word,
        "headline": f"Lands: {word}",
        "details": reasons,
        "next": [NOT_PINS] if lands else [RETAKE_LANDS],
        "cautions": [] if state == "ok" else [BEFORE_LANDS],
        "findings": findings,
        "marks": marks,
        "lead_count": len(lands) or None,
    }


def _of_land(land: Json) -> Json:
    said = [STATE_WORDS[land["state"]], *(str(text) for text in land["findings"])]
    row = finding_row(
        f"Land {land_name(land['number'])}: {'; '.join(said)}", land["state"]
    )
    if not land.get("corners_px"):
        return row
    points = _points(land["corners_px"])
    middle = [sum(point[axis] for point in points) / len(points) for axis in (0, 1)]
    reach = max(math.dist(point, middle) for point in points)
    return {**row, "at": middle, "radius_px": 3 * reach}


def _points(rows: Any) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in rows]
