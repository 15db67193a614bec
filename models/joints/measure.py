"""Measure the network that reads joints, on what it never learned from.

    python -m models.joints.measure photos PHOTOS     # gaps of sound joints
    python -m models.joints.measure renders RENDERS   # path-traced, most with faults
    python -m models.joints.measure pairs PAIRS       # real photos, painted bridges
    python -m models.joints.measure crops CROPS       # published crops of joints

PHOTOS holds ``labels.jsonl``; photos learned from are counted apart.  RENDERS is a
folder of ``models.joints.render`` with a seed of its own.  PAIRS is a folder with
``truth.jsonl`` and ``NNNN_before.jpg``, ``NNNN_after.jpg``; the truth's outline, each
corner off by 1.2 % of the body, and its homography stand in for the other steps, and
pairs turned or moved are left out.  CROPS holds the folders
``normal``, ``short``, ``insufficient_solder`` of Ulger, Yuksel, Yilmaz, Gokcen,
"Solder joint inspection on printed circuit boards: a survey and a data set", IEEE
Trans. Instrum. Meas. 72 (2023) 2515121; they are measured on and nothing else.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from models.joints.gather import (
    LEADLESS,
    LEAST_BALL_PX,
    LEAST_SPACING_PX,
    LIFT_MM,
    ball_in,
    chip_windows,
    lead_classes,
    lifts_mm,
    variant_by_shape,
)
from vision.balls import find_balls
from vision.geometry import apply_homography
from vision.high_rows import doubt_high_rows, high_rows
from vision.joint_beliefs import CLASSES
from vision.joint_cuts import ALONE, PAIR, SQUARE, Cuts
from vision.joint_cuts import LEAST_SPACING_PX as NEEDED_PX
from vision.joints import judge, read_windows
from vision.lead_rows import see_gaps
from vision.networks import run
from vision.packages import lead_rows
from vision.strips import COLS, ROWS, gap_windows
from vision.tables import variants_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.joint_beliefs import GapBelief
    from vision.joints import JointsSeen
    from vision.packages import Variant
    from vision.results import Joint
    from vision.strips import GapWindow

CROP_TURNS = 4
CLEAR_LIFT_MM = 0.1
EVEN_MM = 0.02
SPACINGS_PX = (9, 12, 15, 20, 100)
BELIEFS = (0.0, 0.05, 0.2, 0.5, 0.7, 0.95, 1.1)
ROW_HEIGHTS_MM = (-0.1, LIFT_MM / 2, CLEAR_LIFT_MM, 0.2, 0.5)
BALL_SIZES_PX = (0, LEAST_BALL_PX, 2.5, 4, 100)
"""Radii in the window, of 32 px from lead to lead."""


def main() -> None:
    """Print the figures of one kind of data."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=("photos", "renders", "pairs", "crops"))
    parser.add_argument("folder", type=Path)
    args = parser.parse_args()
    kinds = {"photos": photos, "renders": renders, "pairs": pairs, "crops": crops}
    kinds[args.what](args.folder)


def photos(folder: Path) -> None:
    """Count false calls on labelled photos, all of them of sound joints."""
    lines = (folder / "labels.jsonl").read_text().splitlines()
    seen: dict[bool, list[tuple[GapBelief, ...]]] = {True: [], False: []}
    for row in map(json.loads, lines):
        image = None
        for chip in row["chips"]:
            windows = [w for w in chip_windows(chip) if w.second is not None]
            dense = float(np.median([w.spacing_px for w in windows])) if windows else 0
            if dense < LEAST_SPACING_PX:
                continue
            if image is None:
                image = cv2.imread(str(folder / row["file"]))
            looked = see_gaps(image, windows)
            seen[row["training"]].append(looked.beliefs)
    for learned, chips in seen.items():
        gaps = [b for chip in chips for b in chip]
        states = [judge(chip, ALONE) for chip in chips]
        called = sum(len(s.bridges) for s in states)
        unsure = sum(
            b.square < SQUARE or ALONE.bridge_doubt <= b.bridged < ALONE.bridge_fault
            for b in gaps
        )
        joints = [j.state for s in states for j in s.joints]
        print(
            f"{'learned from' if learned else 'never seen'}: {len(chips)} chips, "
            f"{len(gaps)} gaps, {called} called bridged "
            f"({called / len(gaps):.4f}), {unsure} unsure ({unsure / len(gaps):.4f}); "
            f"{len(joints)} leads, fault {joints.count('fault') / len(joints):.4f}, "
            f"unsure {joints.count('unsure') / len(joints):.4f}"
        )


def renders(folder: Path) -> None:
    """Print bridges found and false, and a table of lead classes against states."""
    for with_before in (False, True):
        rows = [
            result
            for path in sorted(folder.rglob("*.json"))
            for result in _board(path, with_before=with_before)
        ]
        cuts = PAIR if with_before else ALONE
        said = "with" if with_before else "without"
        print(f"{said} the photo before: {len(rows)} photos")
        gaps = [gap for row in rows for gap in row.gaps]
        for kind in sorted({kind for _, kind in gaps}):
            beliefs = np.array([b.bridged for b, k in gaps if k == kind])
            called = beliefs >= cuts.bridge_fault
            unsure = (beliefs >= cuts.bridge_doubt) & ~called
            print(
                f"  {f'bridge, {kind}' if kind else 'sound gap'}: fault "
                f"{called.mean():.4f}, unsure {unsure.mean():.4f} of {len(beliefs)}"
            )
        _tell_spacings(gaps, cuts)
        _tell_beliefs(gaps)
        _tell_balls([ball for row in rows for ball in row.balls])
        _tell_rows([side for row in rows for side in row.rows])
        leads = [lead for row in rows for lead in row.leads]
        for k, name in enumerate(CLASSES):
            _tell(name, [s for s, t, _ in leads if t == k])
        lifted = CLASSES.index("lifted")
        high = [s for s, t, lift in leads if t == lifted and lift >= CLEAR_LIFT_MM]
        _tell(f"lifted by {CLEAR_LIFT_MM} mm or more", high)


def _tell_spacings(gaps: list[tuple[GapBelief, str]], cuts: Cuts) -> None:
    """Print what became of bridges at toes and shoulders by the distance of leads."""
    for low, high in pairwise(SPACINGS_PX):
        bridged = [
            belief.bridged
            for belief, kind in gaps
            if kind in ("toe", "shoulder") and low <= belief.window.spacing_px < high
        ]
        if bridged:
            called, doubted = (
                float(np.mean(np.array(bridged) >= cut))
                for cut in (cuts.bridge_fault, cuts.bridge_doubt)
            )
            print(
                f"  bridge, {low} to {high} px between leads: fault {called:.3f}, "
                f"passed {1 - doubted:.3f} of {len(bridged)}"
            )


def _tell_beliefs(gaps: list[tuple[GapBelief, str]]) -> None:
    """Print which share of the gaps believed alike were bridged."""
    for low, high in pairwise(BELIEFS):
        bridged = [bool(kind) for b, kind in gaps if low <= b.bridged < high]
        if bridged:
            print(
                f"  belief {low} to {min(high, 1.0)}: bridged {np.mean(bridged):.3f} "
                f"of {len(bridged)}"
            )


def _tell_balls(balls: list[tuple[bool, float]]) -> None:
    """Print in what share of gaps with and without a loose ball one was told."""
    for low, high in pairwise(BALL_SIZES_PX):
        told = [is_told for is_told, size in balls if low <= size < high]
        if told:
            what = f"ball of radius {low} to {high} px" if low else "no ball"
            print(f"  {what}: told {np.mean(told):.4f} of {len(told)}")


def _tell_rows(rows: list[tuple[bool, bool, float]]) -> None:
    """Print how many level and high rows were said to stand high, or passed."""
    for low, high in pairwise(ROW_HEIGHTS_MM):
        told = [(is_told, is_ok) for is_told, is_ok, mm in rows if low <= mm < high]
        if told:
            what = f"row {low} to {high} mm high" if low > 0 else "level row"
            named, passed = np.sum(told, axis=0)
            print(
                f"  {what}: said to stand high {named}, all called sound {passed} of "
                f"{len(told)}"
            )


def _tell(name: str, states: list[str]) -> None:
    """Print what share of leads was given each state."""
    if states:
        shares = {s: states.count(s) / len(states) for s in sorted(set(states))}
        said = ", ".join(f"{s} {v:.3f}" for s, v in shares.items())
        print(f"  {name}: {said} of {len(states)}")


@dataclass(frozen=True, slots=True)
class _Rendered:
    """What was said of one rendered photo beside the truth.

    ``gaps``: belief, and the kind of its bridge or nothing; ``leads``: state, class and
    how far it is lifted, mm; ``balls``: whether one was told, and its radius in the
    window, px; ``rows``: whether a row that is level in itself was said to stand high,
    whether all of it was called sound, and how high it stands, mm.
    """

    gaps: list[tuple[GapBelief, str]]
    leads: list[tuple[str, int, float]]
    balls: list[tuple[bool, float]]
    rows: list[tuple[bool, bool, float]]


def _board(path: Path, *, with_before: bool) -> list[_Rendered]:
    """Judge the after photos of one rendered board."""
    rows = [json.loads(line) for line in path.read_text().splitlines()]
    first = next(row for row in rows if row["stage"] == "before")
    before = cv2.imread(str(path.parent / first["file"]))
    out = []
    for row in rows:
        if row["stage"] == "before":
            continue
        variant = next(
            v for v in variants_of(row["family"]) if v.name == row["variant"]
        )
        windows = gap_windows(row["outline_px"], variant)
        photo = cv2.imread(str(path.parent / row["file"]))
        to_mm = np.linalg.inv(row["board_mm_to_px"])
        board = np.array(first["board_mm_to_px"]) @ to_mm
        laid = (before, board) if with_before else None
        seen = see_gaps(photo, windows, laid)
        cuts = PAIR if with_before else ALONE
        judged = judge(seen.beliefs, cuts, usual=seen.usual)
        joints = doubt_high_rows(judged.joints, lead_rows(variant))
        states = {j.lead: j.state for j in joints}
        bridged = dict(
            zip(map(tuple, row["bridges"]), row["bridge_kinds"], strict=True)
        )
        gaps = [
            (b, bridged.get((b.window.first, b.window.second), ""))
            for b in seen.beliefs
            if b.window.second is not None
        ]
        truths = lead_classes(row, variant)
        lifts = lifts_mm(row, variant)
        leads = [
            (states[n], truth, lift)
            for n, (truth, lift) in enumerate(zip(truths, lifts, strict=True), 1)
            if n in states
        ]
        told = {w.first for w in find_balls(seen.windows, seen.pictures)}
        balls = [
            (w.first in told, size)
            for w in seen.windows
            if w.second is not None
            and (size := ball_in(w, row.get("balls_px", []))) is not None
        ]
        out.append(_Rendered(gaps, leads, balls, _rows_told(row, variant, joints)))
    return out


def _rows_told(
    row: dict[str, Any], variant: Variant, joints: Sequence[Joint]
) -> list[tuple[bool, bool, float]]:
    """Say of each row of leads alike high what was said of it, and its height, mm."""
    rows = lead_rows(variant)
    told = high_rows(joints, rows)
    sound = {joint.lead for joint in joints if joint.state == "ok"}
    lifts = lifts_mm(row, variant)
    return [
        (
            (first, last) in told,
            sound >= {*range(first, last + 1)},
            float(np.mean(lifts[first - 1 : last])),
        )
        for first, last in rows
        if last > first and np.ptp(lifts[first - 1 : last]) < EVEN_MM
    ]


def pairs(folder: Path) -> None:
    """Count bridges found and false, and what is said of sound pairs."""
    states = []
    for line in (folder / "truth.jsonl").read_text().splitlines():
        truth = json.loads(line)
        if truth["fault"] in ("none", "bridge"):
            seen = _pair(folder, truth)
            states += [(seen, truth)] if seen else []
    bridged = [(s, t) for s, t in states if t["bridge"]]
    sound = [s for s, t in states if not t["bridge"]]
    right = [
        s for s, t in bridged if any([*b.between] == t["bridge"] for b in s.bridges)
    ]
    stopped = [s for s, _ in bridged if s.bridges_check.state == "fault"]
    passed = [s for s, _ in bridged if s.bridges_check.state == "ok"]
    print(
        f"{len(bridged)} bridged pairs: named at the right leads {len(right)}, "
        f"stopped {len(stopped)}, passed {len(passed)}; {len(sound)} sound pairs:"
    )
    for name in ("bridges_check", "joints_check"):
        found = [getattr(s, name).state for s in sound]
        counts = {state: found.count(state) for state in ("ok", "unsure", "fault")}
        print(f"  {name.removesuffix('_check')}: {counts}")


def _pair(folder: Path, truth: dict[str, Any]) -> JointsSeen | None:
    """Judge the joints of one pair; None where the chip has none that can be seen."""
    placed = pair_windows(folder, truth)
    if placed is None:
        return None
    photo, windows, before = placed
    return read_windows(photo, windows, before=before)


def pair_windows(
    folder: Path, truth: dict[str, Any]
) -> tuple[np.ndarray, tuple[GapWindow, ...], tuple[np.ndarray, np.ndarray]] | None:
    """Place windows in the photo after; the photo before, and the map to it."""
    rng = np.random.default_rng(int(truth["pair"]))
    quad = np.asarray(truth["outline_before_px"], float)
    board = np.array(truth["before_to_after"])
    variant = variant_by_shape(truth["family"], truth["leads"], quad)
    if truth["family"] in LEADLESS or variant is None:
        return None
    after = apply_homography(board, quad)
    side = float(np.linalg.norm(after[0] - after[1]))
    windows = gap_windows(after + rng.normal(0, 0.012 * side, (4, 2)), variant)
    if float(np.median([w.spacing_px for w in windows])) < NEEDED_PX:
        return None
    before, photo = (
        cv2.imread(str(folder / f"{truth['pair']}_{name}.jpg"))
        for name in ("before", "after")
    )
    return photo, windows, (before, np.linalg.inv(board))


def crops(folder: Path) -> None:
    """Print areas under the curve of two faults against sound joints."""
    logits = {
        name: np.array(
            [_crop_answers(path) for path in sorted((folder / name).iterdir())]
        )
        for name in ("normal", "short", "insufficient_solder")
    }
    sound = logits["normal"]
    short = area(logits["short"][:, 0], sound[:, 0])
    little = area(logits["insufficient_solder"][:, 1], sound[:, 1])
    counts = ", ".join(f"{len(v)} {k}" for k, v in logits.items())
    print(f"{counts}: short against normal {short:.3f}, insufficient {little:.3f}")


def _crop_answers(path: Path) -> tuple[float, float]:
    """Strongest logit of a bridge, and of little solder, over four turns of a crop."""
    crop = cv2.imread(str(path))
    stack = np.zeros((CROP_TURNS, ROWS, COLS, 7), np.uint8)
    for turn in range(CROP_TURNS):
        turned = np.rot90(crop, turn)
        stack[turn, ..., 4:] = cv2.resize(
            np.ascontiguousarray(turned), (COLS, ROWS), interpolation=cv2.INTER_AREA
        )
    said, _ = run("joints", stack)
    n = len(CLASSES)
    little = CLASSES.index("little")
    leads = np.maximum(said[:, 2 + little], said[:, 2 + n + little])
    return float(said[:, 0].max()), float(leads.max())


def area(high: np.ndarray, low: np.ndarray) -> float:
    """Area under the ROC curve: the share of pairs in the right order."""
    above = (high[:, None] > low[None]).mean()
    return float(above + 0.5 * (high[:, None] == low[None]).mean())


if __name__ == "__main__":
    main()
