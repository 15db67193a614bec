"""Measures ``look`` on labelled photographs.

    python -m tests.benchmark.bench_look FOLDER [--rows ROWS.jsonl]

FOLDER holds ``labels.jsonl``: one JSON object a photo with ``file``, ``chips`` (each
with ``outline``: four body corners in px, pin 1 first, counter-clockwise; ``family``,
``leads``, ``pin1_certain``, ``difficulty``) and ``training`` (may be learned from).

A package counts as found where its outline overlaps the label's by half or more.
Packages without a label do not count against the answer.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict, dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from vision.errors import VisionError
from vision.overlap import quad_iou_frac
from vision.pipeline import look

MIN_IOU_FRAC = 0.5
FEW_LEADS = (8, 16)
CONFIDENCES = (0.0, 0.5, 0.8, 0.9, 0.96, 0.99, 1.001)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What became of one labelled package."""

    file: str
    difficulty: str
    family: str
    leads: int | None
    is_training: bool
    is_certain: bool
    iou_frac: float = 0.0
    corner_error_frac: float = 0.0
    family_given: str = ""
    leads_given: int | None = None
    is_answered: bool = False
    is_right: bool = False
    confidence: float = 0.0

    @property
    def is_found(self) -> bool:
        return self.iou_frac >= MIN_IOU_FRAC


def measure(folder: Path) -> list[Row]:
    """Look at every photo and hold each labelled package against the answer."""
    rows = []
    for text in (folder / "labels.jsonl").read_text(encoding="utf-8").splitlines():
        label = json.loads(text)
        try:
            packages = look(folder / label["file"]).packages
        except VisionError as error:
            print(error, file=sys.stderr)
            packages = ()
        rows += [
            hold(label, chip, packages)
            for chip in label["chips"]
            if chip.get("state") != "removed-pads"
        ]
        print(label["file"], len(packages), file=sys.stderr, flush=True)
    return rows


def hold(label: dict, chip: dict, packages: tuple) -> Row:
    """Hold one labelled package against what was found."""
    row = {
        "file": label["file"], "difficulty": chip.get("difficulty", "easy"),
        "family": chip["family"], "leads": chip.get("leads"),
        "is_training": bool(label.get("training")),
        "is_certain": bool(chip.get("pin1_certain")),
    }  # fmt: skip
    outline = np.asarray(chip["outline"], float)
    best = max(
        packages, key=lambda p: quad_iou_frac(p.outline_px, outline), default=None
    )
    if best is None:
        return Row(**row)
    found = np.asarray(best.outline_px)
    side = max(np.linalg.norm(outline[0] - outline[k]) for k in (1, 3))
    shifts = [
        np.linalg.norm(np.roll(found, k, axis=0) - outline, axis=1).mean()
        for k in range(4)
    ]
    nearest = int(np.argmin(np.linalg.norm(outline - found[0], axis=1)))
    return Row(
        **row,
        iou_frac=quad_iou_frac(best.outline_px, outline),
        corner_error_frac=float(min(shifts) / side),
        family_given=best.family,
        leads_given=best.lead_count,
        is_answered=best.pin1.state == "ok",
        is_right=nearest == 0,
        confidence=best.pin1.confidence,
    )


def summary(rows: list[Row]) -> str:
    """One line of the table."""
    found = [r for r in rows if r.is_found]
    few = [r for r in found if r.leads and FEW_LEADS[0] <= r.leads <= FEW_LEADS[1]]
    certain = [r for r in found if r.is_certain]
    answered = [r for r in certain if r.is_answered]
    cells = [
        f"{len(rows):4d}",
        _share([r.is_found for r in rows]),
        f"{np.median([r.iou_frac for r in found]):.3f}",
        f"{100 * np.median([r.corner_error_frac for r in found]):.2f}",
        _share([r.is_answered for r in certain]),
        _share([r.is_right for r in answered]),
        f"{sum(not r.is_right for r in answered):5d}",
        _share([r.family_given == r.family for r in found]),
        _share([r.leads_given == r.leads for r in found]),
        _share([r.family_given == r.family for r in few]),
        _share([r.leads_given == r.leads for r in few]),
    ]
    return " | ".join(cells)


def calibration(rows: list[Row]) -> str:
    """Confidence in pin 1 against truth, answered or not."""
    known = [r for r in rows if r.is_found and r.is_certain]
    lines = []
    for low, high in pairwise(CONFIDENCES):
        part = [r for r in known if low <= r.confidence < high]
        if part:
            mean = np.mean([r.confidence for r in part])
            right = _share([r.is_right for r in part])
            lines.append(f"{low:.2f} to {high:.3f}: mean {mean:.3f}, right {right} of "
                         f"{len(part)}")  # fmt: skip
    return "\n".join(lines)


def _share(flags: list[bool]) -> str:
    return f"{np.mean(flags):.3f}" if flags else "  -  "


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--rows", type=Path, help="write one JSON line a package here")
    args = parser.parse_args()
    rows = measure(args.folder)
    print(
        "n | found | IoU | corner % | pin 1 answered | right | wrong | family | leads"
        " | family and leads of 8 to 16 leads"
    )
    for name, group in (
        ("all", rows),
        ("easy and medium", [r for r in rows if r.difficulty != "hard"]),
        ("never trained on", [r for r in rows if not r.is_training]),
        (
            "never trained on, easy and medium",
            [r for r in rows if not r.is_training and r.difficulty != "hard"],
        ),
    ):
        if any(r.is_found for r in group):
            print(f"{name}: {summary(group)}")
    print("confidence in pin 1, photos never trained on:")
    print(calibration([r for r in rows if not r.is_training]))
    if args.rows:
        args.rows.write_text("".join(json.dumps(asdict(r)) + "\n" for r in rows))


if __name__ == "__main__":
    main()
