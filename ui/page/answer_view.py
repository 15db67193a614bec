"""An answer of the tool as the screens see it: words, findings with places, marks."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ui.joint_words import bridge_words, joint_groups, leads_words
from ui.look_words import has_leads, look_answer, look_state
from ui.page.lands_view import lands_view
from ui.page.marks import moved_package, package_marks, point_back, spot_mark
from ui.page.side_view import side_view
from ui.page.view_parts import NOTHING, finding_row
from ui.pair_steps import CHECK_NAME
from ui.pair_words import (
    SHOWN_APART,
    alignment_words,
    check_lines,
    is_half_turned,
    note_lines,
    orientation_words,
    pair_answer,
    pair_name_doubt,
    registration_words,
)
from ui.plain_text import visible
from ui.read_contract import read_pair_report, read_photo_report
from ui.side_words import unread_words
from ui.words import (
    STATE_WORDS,
    as_sentence,
    because,
    name_doubt,
    percent,
    pin1_words,
    what_was_seen,
)
from vision.errors import RecordError
from vision.results import WORST_FIRST, Registration

if TYPE_CHECKING:
    from ui.words import Answer
    from vision.results import Bridge, Joint, Package, PairReport, PhotoReport

Json = dict[str, Any]
_STORED_NAME = re.compile(r"([0-9a-f]{64})\.\w+: ", flags=re.ASCII)
NOT_READ = (
    "cannot tell: the size of the chip was not read, so no lead can be placed or "
    "measured. Take the photo closer, or name the package"
)
NO_PLACE = ("quality", "side")
"""Checks that are about a whole photo, or about another one."""


def photo_view(answer: Json) -> Json:
    """Give the answer about one photo.

    Parameters
    ----------
    answer : dict
        A recorded ``dotward.look`` answer.

    Returns
    -------
    dict
        ``error`` is a sentence where the photo could not be judged, else empty.
    """
    try:
        if str(answer.get("format", "")).startswith("dotward.lands/"):
            return lands_view(answer)
        if str(answer.get("format", "")).startswith("dotward.side/"):
            return side_view(answer)
        report = read_photo_report(answer)
    except RecordError as error:
        return _unusable(str(error))
    main = replace(report, packages=report.packages[:1])
    # Joints that one photo cannot judge are named among the findings; whether the chip
    # may be powered is for the comparison to say, which counts them all.
    state = look_state(main, counts_joints=False)
    doubt = _name_doubt(answer)
    told = _doubted(replace(look_answer(main), state=state), doubt)
    view = _words(told)
    found = _photo_findings(report)
    found += [finding_row(as_sentence(doubt), "unsure")] if doubt else []
    package = report.packages[0] if report.packages else None
    view |= {
        "word": STATE_WORDS[view["state"]],
        "more_chips": max(0, len(report.packages) - 1),
        "findings": _worst_first(found, as_sentence(doubt)),
        "marks": [] if package is None else package_marks(package),
        **_to_set_right(package if report.meant.state == "ok" else None),
    }
    return view


def _to_set_right(package: Package | None) -> Json:
    """Give what a person starts from; nothing where another chip may be meant."""
    return {
        "outline_px": None if package is None else _corners(package),
        "pin1_known": package is not None and package.pin1.state == "ok",
        "lead_count": None if package is None else package.lead_count,
    }


def _name_doubt(answer: Json) -> str:
    """Say that the chip of a photo is not what a person named it."""
    named = answer.get("named")
    reasons = named.get("reasons") if isinstance(named, dict) else None
    return name_doubt(map(str, reasons)) if isinstance(reasons, list) else ""


def _doubted(told: Answer, doubt: str) -> Answer:
    """Let a name that does not fit lead an answer."""
    if not doubt:
        return told
    return replace(
        told,
        state="fault" if told.state == "fault" else "unsure",
        headline=as_sentence(what_was_seen(doubt)),
        details=(told.headline, *told.details),
        next_steps=(CHECK_NAME, *told.next_steps),
    )


def pair_view(answer: Json) -> Json:
    """Give the answer about a pair; places are in the frame of the before photo.

    Parameters
    ----------
    answer : dict
        A recorded ``dotward.compare`` answer.

    Returns
    -------
    dict
        ``error`` is a sentence where the pair could not be judged, else empty.
    """
    try:
        report = read_pair_report(answer)
    except RecordError as error:
        view = _unusable(str(error), _names_of_pair(answer))
        return {**view, "headline": "The two photos cannot be compared"}
    view = _words(pair_answer(report))
    view |= {
        "word": STATE_WORDS[view["state"]],
        "decision": report.decision,
        "findings": _worst_first(_pair_findings(report), pair_name_doubt(report)),
        "marks": _pair_marks(report),
        "lead_count": report.after_package.lead_count if report.after_package else None,
        "is_half_turned": is_half_turned(report.orientation),
    }
    return view


def _names_of_pair(answer: Json) -> dict[str, str]:
    """Give the words for the photos of a pair by their hash."""
    words = {"before": "Photo before lifting", "after": "Photo after reflow"}
    found = {}
    for side, name in words.items():
        photo = answer.get(side)
        if isinstance(photo, dict):
            found[str(photo.get("sha256"))] = name
    return found


def _unusable(sentence: str, names: dict[str, str] | None = None) -> Json:
    """Give the view of no answer; the name in the store says nothing to a person."""
    stored = _STORED_NAME.match(sentence)
    if stored:
        name = (names or {}).get(stored[1], "This photo")
        sentence = f"{name}: {sentence[stored.end() :]}"
    return {
        **NOTHING,
        "error": visible(sentence),
        "state": "fault",
        "word": "cannot be used",
        "headline": "This photo cannot be used",
    }


def _words(found: Answer) -> Json:
    return {
        "error": "",
        "state": found.state,
        "headline": visible(found.headline),
        "details": [visible(line) for line in found.details],
        "next": [visible(line) for line in found.next_steps],
        "cautions": [visible(line) for line in found.cautions],
    }


def _corners(package: Package) -> list[list[float]]:
    return [list(corner) for corner in package.outline_px]


def _worst_first(findings: list[Json], leading: str) -> list[Json]:
    """Sort findings; one that holds a text comes first, as the others rest on it."""

    def place(row: Json) -> tuple[bool, int]:
        leads = bool(leading) and leading in row["text"]
        return not leads, WORST_FIRST.index(row["state"])

    return sorted(findings, key=place)


def _photo_findings(report: PhotoReport) -> list[Json]:
    found = [
        finding_row(f"Photo: {reason}", report.quality.state)
        for reason in report.quality.reasons
    ] or [finding_row("Photo: sharp, large and even enough", report.quality.state)]
    if not report.packages:
        return found
    if report.meant.state != "ok":
        said = f"Which chip is meant: cannot tell{because(report.meant.reasons)}"
        found.append(finding_row(said, report.meant.state))
    package = report.packages[0]
    size_px = _size_px(package)
    corner = package.outline_px[0] if package.pin1.state == "ok" else _middle(package)
    words = pin1_words(package.pin1, package.outline_px)
    if report.meant.state != "ok":
        words = f"The chip found best, which may be another: {words}"
    found.append(finding_row(words, package.pin1.state, corner, size_px / 3))
    if not has_leads(package):
        found.append(finding_row(f"Leads: {NOT_READ}", "unsure"))
    found += _lead_findings(package, package.joints, package.bridges)
    return found


def _lead_findings(
    package: Package, joints: tuple[Joint, ...], bridges: tuple[Bridge, ...]
) -> list[Json]:
    toes = {lead.number: lead.toe_px for lead in package.leads}
    near_px = _size_px(package) / 8
    found = [
        finding_row(
            f"{bridge_words(b).capitalize()}, sure to {percent(b.confidence)}",
            b.state,
            b.at_px,
            near_px,
        )
        for b in bridges
    ]
    found += [
        finding_row(
            f"{leads_words([j.lead for j in group]).capitalize()}: "
            f"{STATE_WORDS[group[0].state]}{because(group[0].findings)}",
            group[0].state,
            toes.get(group[0].lead),
            near_px,
        )
        for group in joint_groups(joints)
    ]
    return found


def _pair_findings(report: PairReport) -> list[Json]:
    package = report.before_package
    place = None if package is None else _middle(package)
    near_px = None if package is None else _size_px(package) * 0.8
    registration = report.registration
    is_laid = isinstance(registration, Registration)
    found = [
        finding_row(
            orientation_words(report.orientation),
            report.orientation.state,
            place,
            near_px,
        ),
        finding_row(
            alignment_words(report.alignment), report.alignment.state, place, near_px
        ),
        finding_row(registration_words(report), "ok" if is_laid else "unsure"),
    ]
    others = [name for name in report.checks if name not in SHOWN_APART]
    for name, line in zip(others, check_lines(report), strict=True):
        where = None if name in NO_PLACE else place
        found.append(finding_row(line, report.checks[name].state, where, near_px))
    found += [finding_row(line, "unsure") for line in unread_words(report.side)]
    found += [
        finding_row(line, "unsure", place, near_px) for line in note_lines(report)
    ]
    after = report.after_package
    if after is None:
        return found
    leads = _lead_findings(after, report.joints, report.bridges)
    if isinstance(registration, Registration):
        for row in leads:
            if row["at"] is not None:
                row["at"] = point_back(tuple(row["at"]), registration.before_to_after)
    return [*found, *leads]


def _pair_marks(report: PairReport) -> list[Json]:
    marks: list[Json] = []
    if report.before_package is not None:
        marks += package_marks(report.before_package, style="before", with_leads=False)
    registration = report.registration
    if report.after_package is None or not isinstance(registration, Registration):
        return marks
    bad = replace(report.after_package, joints=report.joints, bridges=report.bridges)
    after = moved_package(bad, registration.before_to_after)
    marks += package_marks(after)
    near_px = _size_px(report.after_package) / 10
    marks += [spot_mark(b.at_px, near_px, b.state) for b in after.bridges]
    return marks


def _middle(package: Package) -> tuple[float, float]:
    x, y = np.mean(package.outline_px, axis=0)
    return float(x), float(y)


def _size_px(package: Package) -> float:
    corners = np.array(package.outline_px)
    return float(np.hypot(*(corners[2] - corners[0])))
