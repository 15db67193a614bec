"""Measures how rows of leads are found again whose windows lie beside their gaps.

    python -m tests.benchmark.bench_rows FOLDER

FOLDER holds labelled photographs as for ``bench_look``.  Rows that are well made out
where the label puts them are moved by shares of the distance of two leads, at their
first and at their last gap, and looked for.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from models.joints.gather import chip_windows
from vision.joint_beliefs import believe
from vision.joint_cuts import LEAST_SPACING_PX, SQUARE
from vision.lead_rows import rows_of, see_gaps
from vision.strips import PITCH_PX

if TYPE_CHECKING:
    from collections.abc import Iterator

    from vision.strips import GapWindow

MOVES = (
    (0.0, 0.0),
    (0.25, 0.25),
    (0.4, 0.4),
    (-0.4, -0.4),
    (0.5, 0.5),
    (0.25, 0.4),
    (0.4, 0.25),
)
WELL_MADE_OUT = 0.8
BACK, ONE_OFF = 0.19, 0.5
"""Pitches from its place, on average, within which a row is back, and from which it is
taken to lie one lead farther along."""


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    counts: dict[tuple[float, float], Counter[str]] = {m: Counter() for m in MOVES}
    for image, row in _rows(folder):
        for ends, found in counts.items():
            found[_looked_for(image, row, *ends)] += 1
    for (first, last), found in counts.items():
        said = ", ".join(f"{name} {n}" for name, n in sorted(found.items()))
        print(f"off by {first:+.2f} to {last:+.2f} pitches: {said}")


def _rows(folder: Path) -> Iterator[tuple[np.ndarray, list[GapWindow]]]:
    lines = (folder / "labels.jsonl").read_text(encoding="utf-8").splitlines()
    for labels in map(json.loads, lines):
        image = cv2.imread(str(folder / labels["file"]))
        for chip in labels["chips"]:
            windows = [w for w in chip_windows(chip) if w.second is not None]
            if not windows:
                continue
            if np.median([w.spacing_px for w in windows]) < LEAST_SPACING_PX:
                continue
            for row in rows_of(windows):
                if min(b.square for b in believe(image, row)) >= WELL_MADE_OUT:
                    yield image, row


def _looked_for(
    image: np.ndarray, row: list[GapWindow], first: float, last: float
) -> str:
    """Say what came of a row that was moved."""
    off = [
        replace(w, to_photo=w.to_photo @ _along(step * PITCH_PX))
        for w, step in zip(row, np.linspace(first, last, len(row)), strict=True)
    ]
    seen = see_gaps(image, off)
    if not seen.moves:
        is_read = min(b.square for b in seen.beliefs) >= SQUARE
        return "stayed, read" if is_read else "stayed, cannot tell"
    left = [
        (np.linalg.inv(true.to_photo) @ found.to_photo)[0, 2] / PITCH_PX
        for true, found in zip(row, seen.windows, strict=True)
    ]
    apart = float(np.abs(left).mean())
    if apart > ONE_OFF:
        return "moved one lead farther"
    return "moved back" if apart < BACK else "moved, not quite back"


def _along(px: float) -> np.ndarray:
    return np.array([[1, 0, px], [0, 1, 0], [0, 0, 1.0]])


if __name__ == "__main__":
    main()
