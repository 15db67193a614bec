"""What is known of the sample pictures, and whether an answer agrees with it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ui import pair_words, words
from vision.errors import TableError
from vision.geometry import apply_homography
from vision.orientation import SURE_FAMILY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import (
        Finding,
        Package,
        PairReport,
        PhotoReport,
        Point,
        Quad,
    )

Outcome = Literal["right", "wrong", "not judged"]
TRUTH_FILE = "truth.toml"
BEFORE = "donor_before.jpg"
SIDE_VIEW = "side_"
OFF_PLACE_MM = 0.30  # half of the 0.60 mm land of the SOIC-8 footprint
SHIFT_TOLERANCE_MM = 0.05
SKEW_TOLERANCE_DEG = 0.5
NOT_YET = "not judged by this version"


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPhoto:
    """What a sample photo shows.  ``outline_px`` is None where no chip is seen."""

    file: str
    title: str
    outline_px: Quad | None
    family: str | None
    lead_count: int | None
    is_side_view: bool = False
    toes_px: tuple[Point, ...] = ()
    lifted: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPair:
    """What happened between two sample photos."""

    before: str
    after: str
    title: str
    turn_deg: int
    dx_mm: float | None
    dy_mm: float | None
    skew_deg: float | None
    bridges: tuple[tuple[int, int], ...] = ()
    lifted: tuple[int, ...] = ()
    is_faulty: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One question put to the sample pictures, the answer and the known truth."""

    question: str
    answer: str
    known: str
    outcome: Outcome


def sample_folder() -> Path:
    """Find the sample pictures: beside the program, else where the command runs.

    Returns
    -------
    Path

    Raises
    ------
    TableError
        There are none.
    """
    beside = Path(__file__).resolve().parent.parent / "sample_images"
    for folder in (beside, Path.cwd() / "sample_images"):
        if (folder / TRUTH_FILE).is_file():
            return folder
    message = (
        f"sample_images/{TRUTH_FILE}: not found; the demo needs the sample pictures. "
        "Install dotward from its full source, or run the demo in the source folder."
    )
    raise TableError(message)


def read_truth(folder: Path) -> tuple[tuple[KnownPhoto, ...], tuple[KnownPair, ...]]:
    """Read what is known of the sample pictures.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    tuple
        Photos, then pairs, in the order of the file.

    Raises
    ------
    TableError
        The file breaks its form.
    """
    path = folder / TRUTH_FILE
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        rows = {row["file"]: row for row in table["photo"]}
        photos = tuple(_photo(row) for row in rows.values())
        pairs = tuple(
            _pair(rows[BEFORE], row)
            for file, row in rows.items()
            if row["stage"] == "after" and not file.startswith(SIDE_VIEW)
        )
    except (ValueError, KeyError, TypeError) as error:
        message = f"{path.name}: not in its form: {error!r}"
        raise TableError(message) from None
    return photos, pairs


def judge_photo(known: KnownPhoto, report: PhotoReport) -> tuple[Row, ...]:
    """Hold the answer for one photo against what is known.

    Parameters
    ----------
    known : KnownPhoto
    report : PhotoReport

    Returns
    -------
    tuple of Row
    """
    if known.outline_px is None:
        return (_no_chip_row(report),)
    package = _package_at(known.outline_px, report)
    if package is None:
        return (
            Row(
                question="Chip",
                answer="not found",
                known=words.corner_words(known.outline_px, 0),
                outcome="wrong",
            ),
        )
    return (_pin1_row(known.outline_px, package), _kind_row(known, package))


def judge_pair(known: KnownPair, report: PairReport) -> tuple[Row, ...]:
    """Hold the answer for one pair against what is known.

    Parameters
    ----------
    known : KnownPair
    report : PairReport

    Returns
    -------
    tuple of Row
    """
    orientation = report.orientation
    turn = Row(
        question="Way round",
        answer=pair_words.orientation_words(orientation).split(": ", 1)[1],
        known=pair_words.turn_words(known.turn_deg),
        outcome="right" if orientation.turn_deg == known.turn_deg else "wrong",
    )
    rows = [turn, _place_row(known, report), _bridge_row(known, report)]
    rows += _unjudged_rows(known, report)
    passed = report.decision == "no-fault-seen"
    rows.append(
        Row(
            question="Decision",
            answer=pair_words.DECISION_WORDS[report.decision].lower(),
            known="faulty" if known.is_faulty else "sound",
            outcome=_decision_outcome(known, report, passed=passed),
        )
    )
    return tuple(rows)


def _photo(row: dict[str, Any]) -> KnownPhoto:
    chip = row.get("chip")
    shows = str(row["shows"])
    return KnownPhoto(
        file=row["file"],
        title=words.as_sentence(shows),
        outline_px=_quad(chip["outline_px"]) if chip else None,
        family=chip["family"] if chip else None,
        lead_count=chip["lead_count"] if chip else None,
        is_side_view=row["file"].startswith(SIDE_VIEW),
        toes_px=tuple((float(x), float(y)) for x, y in chip.get("lead_toe_px", ()))
        if chip
        else (),
        lifted=tuple(int(lead) for lead in chip["lifted_leads"]) if chip else (),
    )


def _quad(points: Sequence[Sequence[float]]) -> Quad:
    one, two, three, four = ((float(x), float(y)) for x, y in points)
    return one, two, three, four


def _pair(before: dict[str, Any], after: dict[str, Any]) -> KnownPair:
    """Work out what happened between two photos of one board from where each chip lies.

    Notes
    -----
    Shifts are given on the board; the map of the before photo turns them into that
    photo's axes, at the chip.
    """
    was, now = before["chip"], after["chip"]
    on_board_mm = np.subtract(now["shift_mm"], was["shift_mm"])
    dx_mm, dy_mm = _in_photo_axes(before, on_board_mm)
    lifted = tuple(int(lead) for lead in now["lifted_leads"])
    bridges = tuple((int(one), int(two)) for one, two in now["bridges"])
    turn_deg = (now["turn_deg"] - was["turn_deg"]) % 360
    off_place = float(np.hypot(*now["shift_mm"])) > OFF_PLACE_MM
    shows = str(after["shows"])
    return KnownPair(
        before=before["file"],
        after=after["file"],
        title=words.as_sentence(shows),
        turn_deg=turn_deg,
        dx_mm=dx_mm,
        dy_mm=dy_mm,
        skew_deg=float(now["skew_deg"] - was["skew_deg"]),
        bridges=bridges,
        lifted=lifted,
        is_faulty=bool(turn_deg or bridges or lifted or off_place),
    )


def _in_photo_axes(
    photo: dict[str, Any], on_board_mm: np.ndarray
) -> tuple[float, float]:
    board_to_px = np.asarray(photo["board_mm_to_px"], float)
    middle_px = np.mean(photo["chip"]["outline_px"], axis=0)
    here = apply_homography(np.linalg.inv(board_to_px), [middle_px])[0]
    ends = apply_homography(board_to_px, [here, here + on_board_mm])
    dx_mm, dy_mm = (ends[1] - ends[0]) / float(photo["px_per_mm"])
    return float(dx_mm), float(dy_mm)


def _package_at(outline_px: Quad, report: PhotoReport) -> Package | None:
    """Find the package whose middle lies in the middle of a known outline."""
    known = np.asarray(outline_px, float)
    reach = float(np.linalg.norm(known[0] - known[2])) / 4
    for package in report.packages:
        middle = np.mean(package.outline_px, axis=0)
        if float(np.linalg.norm(middle - known.mean(axis=0))) < reach:
            return package
    return None


def _no_chip_row(report: PhotoReport) -> Row:
    count = len(report.packages)
    return Row(
        question="Chip",
        answer=f"{count} found" if count else "none found",
        known="bare lands in the middle; the other chips are the board's own",
        outcome="not judged",
    )


def _pin1_row(outline_px: Quad, package: Package) -> Row:
    known = np.asarray(outline_px, float)
    found = np.asarray(package.outline_px[0], float)
    nearest = int(np.argmin(np.linalg.norm(known - found, axis=1)))
    right = package.pin1.state == "ok" and nearest == 0
    return Row(
        question="Pin 1",
        answer=words.pin1_words(package.pin1, package.outline_px).split(": ", 1)[1],
        known=words.corner_words(outline_px, 0),
        outcome="right" if right else "wrong",
    )


def _kind_row(known: KnownPhoto, package: Package) -> Row:
    same = (package.family, package.lead_count) == (known.family, known.lead_count)
    is_told = package.px_per_mm is not None
    is_told &= package.family_confidence >= SURE_FAMILY
    unsure = "" if is_told else ", but not sure"
    return Row(
        question="Chip",
        answer=words.chip_words(package).split(": ", 1)[1] + unsure,
        known=f"{known.family}, {known.lead_count} leads",
        outcome="right" if same else "wrong" if is_told else "not judged",
    )


def _place_row(known: KnownPair, report: PairReport) -> Row:
    alignment = report.alignment
    truth = "not known"
    if known.dx_mm is not None and known.dy_mm is not None:
        truth = pair_words.shift_words(known.dx_mm, known.dy_mm)
    if known.skew_deg is not None:
        truth += f"; {pair_words.skew_words(known.skew_deg)}"
    return Row(
        question="Place",
        answer=pair_words.alignment_words(alignment).split(": ", 1)[-1],
        known=truth,
        outcome=_place_outcome(known, report),
    )


def _place_outcome(known: KnownPair, report: PairReport) -> Outcome:
    alignment = report.alignment
    if known.dx_mm is None or known.dy_mm is None:
        return "not judged"
    if alignment.dx_mm is None or alignment.dy_mm is None:
        return "wrong"
    # The uncertainty is that along each axis.
    miss_mm = max(
        abs(alignment.dx_mm - known.dx_mm), abs(alignment.dy_mm - known.dy_mm)
    )
    good = miss_mm <= max(alignment.u_mm or 0.0, SHIFT_TOLERANCE_MM)
    if known.skew_deg is not None and alignment.skew_deg is not None:
        miss_deg = abs(alignment.skew_deg - known.skew_deg)
        good &= miss_deg <= max(alignment.u_deg or 0.0, SKEW_TOLERANCE_DEG)
    return "right" if good else "wrong"


def _bridge_row(known: KnownPair, report: PairReport) -> Row:
    found = {tuple(sorted(bridge.between)) for bridge in report.bridges}
    truth = {tuple(sorted(between)) for between in known.bridges}
    check = report.checks.get("bridges")
    judged = bool(found) or _is_judged(check)
    outcome: Outcome = "right" if found == truth else "wrong"
    unsaid = f"cannot tell: {'. '.join(check.reasons)}" if check else NOT_YET
    return Row(
        question="Solder bridges",
        answer=_leads_between(found) if judged else unsaid,
        known=_leads_between(truth),
        outcome=outcome if judged else "not judged",
    )


def _unjudged_rows(known: KnownPair, report: PairReport) -> list[Row]:
    joints = report.checks.get("joints")
    bridged = {lead for bridge in report.bridges for lead in bridge.between}
    bad = tuple(
        joint.lead
        for joint in report.joints
        if joint.state == "fault" and joint.lead not in bridged
    )
    doubts = tuple(j.lead for j in report.joints if j.state == "unsure")
    unsaid = f"cannot tell of {_listed(doubts)}" if doubts else NOT_YET
    judged = bool(bad) or _is_judged(joints)
    agrees = set(known.lifted) == set(bad)
    joint_row = Row(
        question="Lifted leads",
        answer=_listed(bad) if judged else unsaid,
        known=_listed(known.lifted),
        outcome=("right" if agrees else "wrong") if judged else "not judged",
    )
    return [joint_row]


def _decision_outcome(known: KnownPair, report: PairReport, *, passed: bool) -> Outcome:
    """Call it wrong to pass a faulty board or stop a sound one; to ask is neither."""
    if known.is_faulty and passed:
        return "wrong"
    if not known.is_faulty and report.decision == "stop":
        return "wrong"
    is_told = report.decision == ("stop" if known.is_faulty else "no-fault-seen")
    return "right" if is_told else "not judged"


def _is_judged(finding: Finding | None) -> bool:
    return finding is not None and finding.state != "unsure"


def _leads_between(pairs: set[tuple[int, ...]]) -> str:
    listed = ", ".join("-".join(map(str, pair)) for pair in sorted(pairs))
    return f"between leads {listed}" if listed else "none"


def _listed(leads: tuple[int, ...]) -> str:
    return ", ".join(map(str, leads)) or "none"
