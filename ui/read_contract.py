"""Recorded answers read back into the records that words and pictures are made from.

The inverse of ``ui.contract``, so that an old answer is told in the same words as a
fresh one.  Pixels are not part of an answer and stay empty.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from vision.errors import RecordError
from vision.results import (
    Alignment,
    Bridge,
    Cue,
    Finding,
    Joint,
    Lead,
    NotFound,
    Orientation,
    Overhang,
    Package,
    PairReport,
    Photo,
    PhotoReport,
    Pin1,
    Registration,
    SideFoot,
    SideSeen,
    SideView,
    worst_state,
)

if TYPE_CHECKING:
    from vision.results import State

Json = dict[str, Any]
OLD_SURE_BRIDGE = 0.70
"""Told a sure bridge from a doubt before answers recorded a bridge's state."""
_STRANGE = (KeyError, TypeError, ValueError, IndexError, AttributeError)


def read_photo_report(answer: Json) -> PhotoReport:
    """Read the answer of ``look``.

    Parameters
    ----------
    answer : dict
        As ``ui.contract.photo_report_json`` made it.

    Returns
    -------
    PhotoReport
        With empty pixels.

    Raises
    ------
    RecordError
        It is an error line, or a field is missing or of another form.
    """
    try:
        _refuse_error(answer)
        return PhotoReport(
            photo=_photo(answer["photo"]),
            quality=_finding(answer["quality"]),
            packages=tuple(_package(row) for row in answer["packages"]),
            meant=_finding(answer.get("meant", {"state": "ok"})),
        )
    except _STRANGE as error:
        raise _strange(error) from error


def read_pair_report(answer: Json) -> PairReport:
    """Read the answer of ``compare``.

    Parameters
    ----------
    answer : dict
        As ``ui.contract.pair_report_json`` made it.

    Returns
    -------
    PairReport
        With empty pixels; of the packages only the two compared.

    Raises
    ------
    RecordError
        It is an error line, or a field is missing or of another form.
    """
    try:
        _refuse_error(answer)
        before = _package_or_none(answer.get("before_package"))
        after = _package_or_none(answer.get("after_package"))
        return PairReport(
            before=_side(answer, "before", before),
            after=_side(answer, "after", after),
            before_package=before,
            after_package=after,
            registration=_registration(answer["registration"]),
            orientation=_orientation(answer["orientation"]),
            alignment=_alignment(answer["alignment"]),
            overhang=tuple(_overhang(row) for row in answer["overhang"]),
            bridges=tuple(_bridge(row) for row in answer["bridges"]),
            joints=tuple(_joint(row) for row in answer["joints"]),
            side=tuple(_side_seen(row) for row in answer.get("side") or ()),
            checks={k: _finding(row) for k, row in answer.get("checks", {}).items()},
            decision=_one_of(answer["decision"], _DECISIONS),
            reasons=_texts(answer["reasons"]),
            notes=_texts(answer.get("notes", ())),
            limits=str(answer.get("limits") or ""),
        )
    except _STRANGE as error:
        raise _strange(error) from error


def read_side_seen(answer: Json) -> SideSeen:
    """Read the answer about a photo of a row of feet.

    Parameters
    ----------
    answer : dict
        As ``ui.contract.side_seen_json`` made it.

    Returns
    -------
    SideSeen
        With empty pixels.

    Raises
    ------
    RecordError
        It is an error line, or a field is missing or of another form.
    """
    try:
        _refuse_error(answer)
        return _side_seen(answer)
    except _STRANGE as error:
        raise _strange(error) from error


_STATES = ("ok", "fault", "unsure")
_DECISIONS = ("no-fault-seen", "stop", "check-by-hand", "retake")


def _refuse_error(answer: Json) -> None:
    if "error" in answer:
        raise RecordError(str(answer["error"]["message"]))


def _strange(error: Exception) -> RecordError:
    return RecordError(
        f"the recorded answer has another form than this version knows ({error!r}). "
        "Judge the photos again, or open the job with the version that wrote it."
    )


def _one_of(value: Any, allowed: tuple[object, ...]) -> Any:
    if value not in allowed:
        message = f"{value!r} is none of {allowed}"
        raise ValueError(message)
    return value


def _texts(rows: Any) -> tuple[str, ...]:
    return tuple(str(row) for row in rows)


def _point(row: Any) -> tuple[float, float]:
    x, y = row
    return float(x), float(y)


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


def _photo(row: Json) -> Photo:
    return Photo(
        path=Path(row["file"]),
        sha256=str(row.get("sha256", "")),
        width_px=int(row["width_px"]),
        height_px=int(row["height_px"]),
        pixels=np.empty((0, 0, 3), np.uint8),
    )


def _side(answer: Json, name: str, package: Package | None) -> PhotoReport:
    return PhotoReport(
        photo=_photo(answer[name]),
        quality=_finding(answer.get(f"{name}_quality", {"state": "unsure"})),
        packages=() if package is None else (package,),
    )


def _finding(row: Json) -> Finding:
    state = _one_of(row["state"], _STATES)
    return Finding(state=state, reasons=_texts(row.get("reasons", ())))


def _package_or_none(row: Json | None) -> Package | None:
    return None if row is None else _package(row)


def _package(row: Json) -> Package:
    a, b, c, d = (_point(corner) for corner in row["outline_px"])
    count = row["lead_count"]
    return Package(
        outline_px=(a, b, c, d),
        confidence=float(row["confidence"]),
        family=str(row["family"]),
        family_confidence=float(row.get("family_confidence") or 0.0),
        lead_count=None if count is None else int(count),
        pin1=_pin1(row["pin1"]),
        px_per_mm=_number(row["px_per_mm"]),
        variant=row.get("variant"),
        leads=tuple(_lead(lead) for lead in row["leads"]),
        joints=tuple(_joint(joint) for joint in row["joints"]),
        bridges=tuple(_bridge(bridge) for bridge in row["bridges"]),
    )


def _pin1(row: Json) -> Pin1:
    cues = (
        Cue(kind=str(c["kind"]), at_px=_point(c["at_px"]), weight=float(c["weight"]))
        for c in row["evidence"]
    )
    return Pin1(
        state=_one_of(row["state"], _STATES),
        confidence=float(row["confidence"] or 0.0),
        evidence=tuple(cues),
        reasons=_texts(row.get("reasons", ())),
    )


def _lead(row: Json) -> Lead:
    return Lead(
        number=int(row["number"]),
        toe_px=_point(row["toe_px"]),
        heel_px=_point(row["heel_px"]),
        width_px=float(row["width_px"]),
    )


def _joint(row: Json) -> Joint:
    return Joint(
        lead=int(row["lead"]),
        state=_one_of(row["state"], _STATES),
        findings=_texts(row["findings"]),
    )


def _bridge(row: Json) -> Bridge:
    one, two = row["between"]
    return Bridge(
        between=(int(one), int(two)),
        confidence=float(row["confidence"]),
        at_px=_point(row["at_px"]),
        state=bridge_state(row),
    )


def bridge_state(row: Json) -> State:
    """Give the state of a recorded bridge.

    Parameters
    ----------
    row : dict
        A bridge of an answer.

    Returns
    -------
    str
        Where no state was recorded ``unsure`` below a confidence of
        ``OLD_SURE_BRIDGE``, else ``fault``.
    """
    state, confidence = row.get("state"), row.get("confidence")
    if state in _STATES:
        return cast("State", state)
    is_doubt = isinstance(confidence, int | float) and confidence < OLD_SURE_BRIDGE
    return "unsure" if is_doubt else "fault"


def _overhang(row: Json) -> Overhang:
    return Overhang(
        lead=int(row["lead"]),
        side_overhang_frac=float(row["side_overhang_frac"]),
        u_frac=float(row["u_frac"]),
        limit_frac=float(row["limit_frac"]),
        state=_one_of(row["state"], _STATES),
    )


def _side_seen(row: Json) -> SideSeen:
    leads = row.get("leads")
    first, last = (0, 0) if leads is None else leads
    return SideSeen(
        photo=_photo(row["photo"]),
        leads=None if leads is None else (int(first), int(last)),
        view=_side_view(row),
        note=str(row.get("note") or ""),
    )


def _side_view(row: Json) -> SideView | NotFound:
    state = _one_of(row["state"], _STATES)
    feet = tuple(_side_foot(foot) for foot in row.get("feet") or ())
    if not feet:
        reasons = _texts(row["reasons"])
        return NotFound(reason="; ".join(reasons) or "no reason was recorded")
    return SideView(
        # No better than its worst foot, whatever is recorded of it.
        state=worst_state((state, *(foot.state for foot in feet))),
        feet=feet,
        limit_mm=float(row["limit_mm"]),
        pitch_mm=float(row["pitch_mm"]),
        px_per_mm=float(row["px_per_mm"]),
        reasons=_texts(row.get("reasons") or ()),
    )


def _side_foot(row: Json) -> SideFoot:
    return SideFoot(
        from_left=int(row["from_left"]),
        height_mm=float(row["height_mm"]),
        u_mm=float(row["u_mm"]),
        seen_frac=float(row.get("seen_frac") or 0.0),
        at_px=_point(row["at_px"]),
        state=_one_of(row["state"], _STATES),
    )


def _orientation(row: Json) -> Orientation:
    turn = row["turn_deg"]
    return Orientation(
        state=_one_of(row["state"], _STATES),
        turn_deg=None if turn is None else int(_one_of(turn, (0, 90, 180, 270))),
        confidence=float(row["confidence"] or 0.0),
        reasons=_texts(row.get("reasons", ())),
    )


def _alignment(row: Json) -> Alignment:
    names = ("dx_mm", "dy_mm", "skew_deg", "u_mm", "u_deg")
    return Alignment(
        state=_one_of(row["state"], _STATES),
        reasons=_texts(row.get("reasons", ())),
        **{name: _number(row[name]) for name in names},
        **{name: _number(row.get(name)) for name in ("limit_mm", "limit_deg")},
    )


def _registration(row: Json) -> Registration | NotFound:
    matrix = row["before_to_after"]
    if matrix is None:
        reasons = _texts(row.get("reasons", ()))
        return NotFound(reason="; ".join(reasons) or "no reason was recorded")
    return Registration(
        before_to_after=tuple(_triple(line) for line in matrix),
        inliers=int(row["inliers"]),
        residual_px=float(row["residual_px"]),
    )


def _triple(line: Any) -> tuple[float, float, float]:
    a, b, c = line
    return float(a), float(b), float(c)
