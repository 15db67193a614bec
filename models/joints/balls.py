"""Measure how loose balls of solder are told, painted into pairs of photographs.

    python -m models.joints.balls PAIRS

PAIRS is a folder as for ``models.joints.measure pairs``; its sound pairs take part,
some of photographs that were learned from.  Each gap is looked at as it is, and with
a ball of ``paint.py`` in it or before it.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import torch

from models.joints import paint
from models.joints.draws import plain
from models.joints.gather import CANVAS
from models.joints.measure import pair_windows
from models.scenes.shaded.primitives import Dice
from vision.balls import find_balls
from vision.beside_before import cut_both
from vision.strips import cut_windows

SEED = 1


def main() -> None:
    """Print shares of gaps, and of pairs, in which a ball is told."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("pairs", type=Path)
    folder = parser.parse_args().pairs
    lines = (folder / "truth.jsonl").read_text().splitlines()
    counts = []
    for truth in map(json.loads, lines):
        placed = pair_windows(folder, truth) if truth["fault"] == "none" else None
        if placed is None:
            continue
        photo, windows, before = placed
        gaps = [w for w in windows if w.second is not None]
        pictures = cut_both(photo, gaps, before)
        balled = with_ball(cut_windows(photo, gaps, grow=CANVAS))
        counts.append(
            (
                len(find_balls(gaps, pictures)),
                len(find_balls(gaps, replace(pictures, now=balled))),
                int(pictures.was_seen.sum()),
            )
        )
    as_they_are, painted, of = np.array(counts).sum(axis=0)
    false_pairs = sum(row[0] > 0 for row in counts)
    print(
        f"{len(counts)} pairs, {of} gaps: told as they are {as_they_are / of:.4f} (in "
        f"{false_pairs} pairs), with a ball {painted / of:.3f}"
    )


def with_ball(canvas: np.ndarray) -> np.ndarray:
    """Paint a ball into every window cut with room round it, and cut it as in use."""
    image = torch.from_numpy(canvas).permute(0, 3, 1, 2).float() / 255
    dice = Dice(len(image), torch.Generator().manual_seed(SEED))
    painted, _ = paint.paint_ball(paint.canvas(image), dice)
    seen = plain(painted).permute(0, 2, 3, 1).clamp(0, 1)
    return np.asarray((seen * 255).byte().numpy())


if __name__ == "__main__":
    main()
