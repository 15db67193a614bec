"""Reports as the JSON that other programs read.

A field named here keeps its name and meaning for good; fields may be added.
Every number is a plain finite number, and ``None`` stands for what is not known.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from ui.words import error_words
from vision.errors import PhotoError, VisionError
from vision.results import NotFound
from vision.tables import families

if TYPE_CHECKING:
    from collections.abc import Iterable

    from vision.results import (
        Bridge,
        Finding,
        Joint,
        Lead,
        Package,
        PairReport,
        Photo,
        PhotoReport,
        Pin1,
        Registration,
        SideSeen,
        SideView,
    )

LOOK_FORMAT = "dotward.look/1"
COMPARE_FORMAT = "dotward.compare/1"

Json = dict[str, Any]


def photo_report_json(report: PhotoReport) -> Json:
    """Give the answer of ``look`` for one photo as plain data.

    Parameters
    ----------
    report : PhotoReport

    Returns
    -------
    dict
        Ready for ``json.dumps(..., allow_nan=False)``.
    """
    return {
        "format": LOOK_FORMAT,
        "photo": photo_json(report.photo),
        "quality": _finding(report.quality),
        "meant": _finding(report.meant),
        "packages": [_package(package) for package in report.packages],
    }


def pair_report_json(report: PairReport, pair: str | None = None) -> Json:
    """Give the answer of ``compare`` for one pair as plain data.

    Parameters
    ----------
    report : PairReport
    pair : str, optional
        Name of the pair in the list of pairs it came from.

    Returns
    -------
    dict
        Ready for ``json.dumps(..., allow_nan=False)``.
    """
    turn, alignment = report.orientation, report.alignment
    return {
        "format": COMPARE_FORMAT,
        **({} if pair is None else {"pair": pair}),
        "before": photo_json(report.before.photo),
        "after": photo_json(report.after.photo),
        "registration": _registration(report.registration),
        "orientation": {
            "state": turn.state,
            "turn_deg": turn.turn_deg,
            "confidence": _number(turn.confidence),
            "reasons": list(turn.reasons),
        },
        "limits": report.limits,
        "alignment": {
            "state": alignment.state,
            "dx_mm": _number(alignment.dx_mm),
            "dy_mm": _number(alignment.dy_mm),
            "skew_deg": _number(alignment.skew_deg),
            "u_mm": _number(alignment.u_mm),
            "u_deg": _number(alignment.u_deg),
            "limit_mm": _number(alignment.limit_mm),
            "limit_deg": _number(alignment.limit_deg),
            "reasons": list(alignment.reasons),
        },
        "overhang": [
            {
                "lead": int(row.lead),
                "side_overhang_frac": _number(row.side_overhang_frac),
                "u_frac": _number(row.u_frac),
                "limit_frac": _number(row.limit_frac),
                "state": row.state,
            }
            for row in report.overhang
        ],
        "bridges": _bridges(report.bridges),
        "joints": _joints(report.joints),
        "side": [side_seen_json(seen) for seen in report.side],
        "checks": {name: _finding(found) for name, found in report.checks.items()},
        "before_quality": _finding(report.before.quality),
        "after_quality": _finding(report.after.quality),
        "before_package": _package_or_none(report.before_package),
        "after_package": _package_or_none(report.after_package),
        "decision": report.decision,
        "reasons": list(report.reasons),
        "notes": list(report.notes),
    }


def error_json(
    path: object, error: Exception, *, format_name: str = LOOK_FORMAT
) -> Json:
    """Give the line for a file that could not be judged.

    Parameters
    ----------
    path : path-like
        The file as the person named it.
    error : Exception
        A ``VisionError`` carries its own code; anything else is ``internal``.
    format_name : str, optional
        Which answer the line stands in for.

    Returns
    -------
    dict
        ``photo.file`` and ``error`` with ``code`` and ``message``, no findings.
    """
    return {
        "format": format_name,
        "photo": {"file": str(path)},
        "error": _error(error),
    }


def pair_error_json(
    before: object, after: object, error: Exception, pair: str | None = None
) -> Json:
    """Give the line for a pair that could not be judged.

    Parameters
    ----------
    before, after : path-like
        The files as the person named them.
    error : Exception
        As for `error_json`.
    pair : str, optional
        Name of the pair in the list of pairs it came from.

    Returns
    -------
    dict
        Both file names and ``error``, no findings and no decision.
    """
    return {
        "format": COMPARE_FORMAT,
        **({} if pair is None else {"pair": pair}),
        "before": {"file": str(before)},
        "after": {"file": str(after)},
        "error": _error(error),
    }


def _error(error: Exception) -> Json:
    if isinstance(error, VisionError):
        return {"code": error.code, "message": str(error)}
    if isinstance(error, OSError):
        return {"code": PhotoError.code, "message": error_words(error)}
    return {"code": "internal", "message": f"{type(error).__name__}: {error}"}


def _number(value: float | None) -> float | None:
    """Give a plain float, or None where the value is missing or not finite."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def _point(point: Iterable[float]) -> list[float | None]:
    return [_number(round(float(value), 3)) for value in point]


def _finding(finding: Finding) -> Json:
    return {"state": finding.state, "reasons": list(finding.reasons)}


def photo_json(photo: Photo) -> Json:
    """Give what identifies a photo as plain data.

    Parameters
    ----------
    photo : Photo

    Returns
    -------
    dict
    """
    return {
        "file": str(photo.path),
        "sha256": photo.sha256,
        "width_px": int(photo.width_px),
        "height_px": int(photo.height_px),
    }


def side_seen_json(seen: SideSeen) -> Json:
    """Give a row of feet seen from the side as plain data.

    Parameters
    ----------
    seen : SideSeen

    Returns
    -------
    dict
        ``photo``, ``leads`` (first and last, or None), ``note``, and the fields of
        `side_view_json`; each foot also has its ``lead``.
    """
    data = side_view_json(seen.view)
    leads = [] if isinstance(seen.view, NotFound) else map(seen.lead, seen.view.feet)
    feet = [
        {"lead": lead, **foot} for lead, foot in zip(leads, data["feet"], strict=True)
    ]
    return {
        "photo": photo_json(seen.photo),
        "leads": None if seen.leads is None else [int(n) for n in seen.leads],
        "note": seen.note,
        **data,
        "feet": feet,
    }


def side_view_json(side: SideView | NotFound) -> Json:
    """Give the heights of a row of feet as plain data.

    Parameters
    ----------
    side : SideView or NotFound

    Returns
    -------
    dict
        ``state``, ``reasons`` and ``feet``, empty where the row was not read.
    """
    if isinstance(side, NotFound):
        return {"state": "unsure", "reasons": [side.reason], "feet": []}
    heights = [foot.height_mm for foot in side.feet]
    return {
        "state": side.state,
        "reasons": list(side.reasons),
        "limit_mm": side.limit_mm,
        "coplanarity_mm": round(max(heights) - min(heights), 3),
        "pitch_mm": side.pitch_mm,
        "px_per_mm": round(side.px_per_mm, 2),
        "feet": [
            {
                "from_left": foot.from_left,
                "state": foot.state,
                "height_mm": round(foot.height_mm, 3),
                "u_mm": round(foot.u_mm, 3),
                "seen_frac": round(foot.seen_frac, 3),
                "at_px": [round(value, 1) for value in foot.at_px],
            }
            for foot in side.feet
        ],
    }


def _package_or_none(package: Package | None) -> Json | None:
    return None if package is None else _package(package)


def _package(package: Package) -> Json:
    return {
        "outline_px": [_point(corner) for corner in package.outline_px],
        "confidence": _number(package.confidence),
        "family": package.family if package.family in families() else "other",
        "family_confidence": _number(package.family_confidence),
        "lead_count": None if package.lead_count is None else int(package.lead_count),
        "pin1": _pin1(package.pin1),
        "px_per_mm": _number(package.px_per_mm),
        "variant": package.variant,
        "leads": [_lead(lead) for lead in package.leads],
        "joints": _joints(package.joints),
        "bridges": _bridges(package.bridges),
    }


def _pin1(pin1: Pin1) -> Json:
    return {
        "state": pin1.state,
        "confidence": _number(pin1.confidence),
        "evidence": [
            {
                "kind": cue.kind,
                "at_px": _point(cue.at_px),
                "weight": _number(cue.weight),
            }
            for cue in pin1.evidence
        ],
        "reasons": list(pin1.reasons),
    }


def _lead(lead: Lead) -> Json:
    return {
        "number": int(lead.number),
        "toe_px": _point(lead.toe_px),
        "heel_px": _point(lead.heel_px),
        "width_px": _number(lead.width_px),
    }


def _joints(joints: Iterable[Joint]) -> list[Json]:
    return [
        {"lead": int(j.lead), "state": j.state, "findings": list(j.findings)}
        for j in joints
    ]


def _bridges(bridges: Iterable[Bridge]) -> list[Json]:
    return [
        {
            "between": [int(lead) for lead in bridge.between],
            "confidence": _number(bridge.confidence),
            "at_px": _point(bridge.at_px),
            "state": bridge.state,
        }
        for bridge in bridges
    ]


def _registration(registration: Registration | NotFound) -> Json:
    if isinstance(registration, NotFound):
        return {
            "state": "unsure",
            "before_to_after": None,
            "inliers": 0,
            "residual_px": None,
            "reasons": [registration.reason],
        }
    return {
        "state": "ok",
        "before_to_after": [
            [_number(value) for value in row] for row in registration.before_to_after
        ],
        "inliers": int(registration.inliers),
        "residual_px": _number(registration.residual_px),
        "reasons": [],
    }
