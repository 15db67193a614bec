"""Score registration, turn and shift on pairs with known truth, outlines given.

    python tests/benchmark/bench_compare.py PAIRS... [--pin1 0.98] [--noise 0.02]

PAIRS are folders with ``truth.jsonl`` and ``NNNN_before.jpg``, ``NNNN_after.jpg``.
The outlines of the truth stand in for the networks': each corner off by a normal error
of ``--noise`` body lengths, the start random unless ``--pin1`` gives the confidence
with which pin 1 is known.  The scale is off by 2 %.  ``--unlike N`` draws pairs of
other boards and counts those taken for the same one.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from vision.compare import Comparison, compare_packages
from vision.geometry import apply_homography, roll
from vision.match import match_packages
from vision.results import Lead, NotFound, Package, Photo, Pin1

SCALE_SD_FRAC = 0.02
PITCH_MM, REACH_MM = 1.27, 1.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    truth: dict
    result: Comparison
    reason: str
    error_mm: float | None
    skew_error_deg: float | None
    seconds: float
    decode_seconds: float


def read_photo(path: Path) -> Photo:
    pixels = cv2.imread(str(path))
    if pixels is None:
        raise SystemExit(f"{path}: cannot be read; a pairs folder is needed.")
    rows, cols = pixels.shape[:2]
    return Photo(path=path, sha256="", width_px=cols, height_px=rows, pixels=pixels)


def true_shift_px(truth: dict) -> np.ndarray:
    """Shift of the middle in before pixels, from the chip's own axes."""
    quad = np.asarray(truth["outline_before_px"])
    along, across = quad[1] - quad[0], quad[3] - quad[0]
    dx, dy = truth["chip_shift_mm"] or (0.0, 0.0)
    moved = dx * along / np.linalg.norm(along) + dy * across / np.linalg.norm(across)
    return moved * (truth["px_per_mm"] or 0.0)


def leads_of(truth: dict) -> tuple[Lead, ...]:
    """Stand in for the leads that a SOIC shows: MS-012 pitch and reach, millimetres."""
    if truth["px_per_mm"] is None:
        return ()
    quad, px = np.asarray(truth["outline_before_px"]), truth["px_per_mm"]
    row, out = (quad[1] - quad[0]), (quad[0] - quad[3])
    row, out = row / np.linalg.norm(row), out / np.linalg.norm(out)
    half, found = truth["leads"] // 2, []
    for side, (start, end), away in ((0, quad[:2], out), (1, quad[2:], -out)):
        for k in range(half):
            along = (k - (half - 1) / 2) * PITCH_MM * px * row * (1 - 2 * side)
            root = (start + end) / 2 + along
            toe, heel = root + away * REACH_MM * px, root + away * 0.4 * REACH_MM * px
            found.append(
                Lead(
                    number=side * half + k + 1,
                    toe_px=tuple(toe),
                    heel_px=tuple(heel),
                    width_px=0.41 * px,
                )
            )
    return tuple(found)


def package(quad: np.ndarray, truth: dict, args, rng, px_per_mm) -> Package:
    longest = np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1).max()
    noisy = quad + rng.normal(0, args.noise * longest, (4, 2))
    known = args.pin1 is not None
    if not known:
        noisy = roll(noisy, int(rng.integers(4)))
    elif rng.random() > args.pin1:  # a judgement as wrong as it says it is
        noisy = roll(noisy, 2)
    return Package(
        outline_px=tuple(map(tuple, noisy)),
        confidence=0.9,
        family=truth["family"],
        family_confidence=0.95,
        lead_count=truth["leads"],
        pin1=Pin1(
            state="ok" if known else "unsure", confidence=args.pin1 if known else 0.0
        ),
        px_per_mm=px_per_mm,
        leads=leads_of(truth) if px_per_mm else (),
    )


def run_pair(folder: Path, truth: dict, args, rng) -> Row:
    start = time.perf_counter()
    before = read_photo(folder / f"{truth['pair']}_before.jpg")
    after = read_photo(folder / f"{truth['pair']}_after.jpg")
    decoded = time.perf_counter()
    quad = np.asarray(truth["outline_before_px"])
    board = np.asarray(truth["before_to_after"])
    placed = apply_homography(board, quad + true_shift_px(truth))
    placed = roll(placed, truth["turn_deg"] // 90)
    scale = truth["px_per_mm"]
    if scale is not None:
        scale *= rng.normal(1, SCALE_SD_FRAC)
    first = package(quad, truth, args, rng, scale)
    second = package(placed, truth, args, rng, None)
    ready = time.perf_counter()
    match = match_packages(before, first, after, [second])
    registration = match if isinstance(match, NotFound) else match[2]
    result = compare_packages(before, first, after, second, registration)
    done = time.perf_counter()
    error = skew_error = None
    if result.alignment.dx_mm is not None and truth["chip_shift_mm"] is not None:
        measured = np.array([result.alignment.dx_mm, result.alignment.dy_mm])
        error = float(np.hypot(*(measured - true_shift_px(truth) / truth["px_per_mm"])))
        skew_error = abs(result.alignment.skew_deg - truth["skew_deg"])
    return Row(
        truth=truth,
        result=result,
        reason=match.reason if isinstance(match, NotFound) else "",
        error_mm=error,
        skew_error_deg=skew_error,
        seconds=done - ready,
        decode_seconds=decoded - start,
    )


def summary(rows: list[Row]) -> str:
    given = [r for r in rows if r.result.orientation.turn_deg is not None]
    wrong = [r for r in given if r.result.orientation.turn_deg != r.truth["turn_deg"]]
    measured = [r for r in rows if r.error_mm is not None]
    text = (
        f"pairs {len(rows):4d}  registered "
        f"{sum(not r.reason for r in rows) / len(rows):.3f}  turn given "
        f"{len(given) / len(rows):.3f}  wrong {len(wrong)}"
    )
    if measured:
        errors = np.array([r.error_mm for r in measured])
        u = np.array([r.result.alignment.u_mm for r in measured])
        skew = np.array([r.skew_error_deg for r in measured])
        u_deg = np.array([r.result.alignment.u_deg for r in measured])
        text += (
            f"  shift n {len(errors)} median {np.median(errors):.4f} p95 "
            f"{np.percentile(errors, 95):.4f} mm  U median {np.median(u):.3f} covers "
            f"{np.mean(errors <= u):.3f}  skew median {np.median(skew):.3f} p95 "
            f"{np.percentile(skew, 95):.3f} deg covers {np.mean(skew <= u_deg):.3f}"
        )
    return text


def other_boards(folders: list[Path], truths: list[list[dict]], args, rng) -> str:
    """Lay photos of different boards over one another; count what comes through."""
    tried = passed = 0
    while tried < args.unlike:
        k = int(rng.integers(len(folders)))
        one, two = (truths[k][int(i)] for i in rng.integers(len(truths[k]), size=2))
        if one["source"] == two["source"]:
            continue
        tried += 1
        before = read_photo(folders[k] / f"{one['pair']}_before.jpg")
        after = read_photo(folders[k] / f"{two['pair']}_before.jpg")
        first = package(np.asarray(one["outline_before_px"]), one, args, rng, None)
        second = package(np.asarray(two["outline_before_px"]), two, args, rng, None)
        match = match_packages(before, first, after, [second])
        if not isinstance(match, NotFound):
            passed += 1
            print("laid over another board:", one["source"], two["source"])
    return f"other boards: {passed} of {tried} taken for the same"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("pairs", type=Path, nargs="+")
    parser.add_argument("--noise", type=float, default=0.02, help="body lengths")
    parser.add_argument("--pin1", type=float, help="known with this confidence")
    parser.add_argument("--unlike", type=int, default=0, help="draws of other boards")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", type=int, default=1, help="every n-th pair only")
    parser.add_argument("--rows", action="store_true", help="show what went wrong")
    args = parser.parse_args()
    cv2.setNumThreads(1)
    rng = np.random.default_rng(args.seed)
    print(
        f"python {platform.python_version()} opencv {cv2.__version__} cores "
        f"{os.cpu_count()} (1 used) seed {args.seed} noise {args.noise} "
        f"pin1 {args.pin1}"
    )
    truths = [
        [json.loads(t) for t in (f / "truth.jsonl").read_text().splitlines()]
        for f in args.pairs
    ]
    rows = []
    for folder, lines in zip(args.pairs, truths, strict=True):
        for truth in lines[:: args.every]:
            row = run_pair(folder, truth, args, rng)
            rows.append(row)
            turn = row.result.orientation.turn_deg
            bad_turn = turn is not None and turn != truth["turn_deg"]
            far = row.error_mm is not None and row.error_mm > 0.05
            if args.rows and (turn is None or bad_turn or far):
                a = row.result.alignment
                print(
                    folder.name,
                    truth["pair"],
                    truth["family"],
                    truth["leads"],
                    truth["fault"],
                    truth["turn_deg"],
                    "->",
                    turn,
                    row.error_mm,
                    a.u_mm,
                    row.reason[:60] or row.result.orientation.reasons[0][:90],
                )
    groups = {"all": rows}
    for key in ("fault", "family"):
        for value in sorted({r.truth[key] for r in rows}):
            groups[f"{key}={value}"] = [r for r in rows if r.truth[key] == value]
    for name, group in groups.items():
        print(f"{name:14s} {summary(group)}")
    seconds, decode = (
        np.array([getattr(r, n) for r in rows]) for n in ("seconds", "decode_seconds")
    )
    print(
        f"time a pair: median {np.median(seconds):.3f} p95 "
        f"{np.percentile(seconds, 95):.3f} s; decoding both: median "
        f"{np.median(decode):.3f} s; peak memory "
        f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB"
    )
    states = [r.result.checks["package"].state for r in rows if not r.reason]
    print("package check:", {s: states.count(s) for s in sorted(set(states))})
    if args.unlike:
        print(other_boards(args.pairs, truths, args, rng))


if __name__ == "__main__":
    main()
