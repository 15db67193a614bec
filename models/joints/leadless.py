"""Measure what is read beside leadless bodies, with bridges painted into photos.

    python -m models.joints.leadless PHOTOS

PHOTOS holds ``labels.jsonl``; every soldered QFN and SON with 12 px or more from lead
to lead takes part.  Each gap is judged as it is and with a bridge of ``paint.py`` over
it, alone and beside the photo itself as the one before.  No network learned from
leadless parts.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch

from models.joints import paint
from models.joints.draws import plain
from models.joints.gather import CANVAS, soldered_windows
from models.scenes.shaded.primitives import Dice
from vision.joint_beliefs import believe_pictures
from vision.joint_cuts import ALONE, LEAST_SPACING_PX, PAIR, SQUARE
from vision.strips import GapWindow, cut_windows

FAMILIES = ("QFN", "SON")
SEED = 1


def main() -> None:
    """Print shares of gaps called, sound and painted, alone and beside before."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("photos", type=Path)
    folder = parser.parse_args().photos
    rows = [
        beliefs(cut_windows(image, windows, grow=CANVAS), windows)
        for image, windows in leadless_windows(folder)
    ]
    count = sum(len(row["sound, alone"]) for row in rows)
    print(f"{len(rows)} packages, {count} gaps")
    for name in rows[0]:
        said = np.array([b for row in rows for b in row[name]])
        cuts = ALONE if name.endswith("alone") else PAIR
        square, bridged = said[:, 1] >= SQUARE, said[:, 0]
        called = square & (bridged >= cuts.bridge_fault)
        doubted = ~called & (~square | (bridged >= cuts.bridge_doubt))
        print(f"  {name}: fault {called.mean():.3f}, unsure {doubted.mean():.3f}")


def leadless_windows(
    folder: Path,
) -> list[tuple[np.ndarray, list[GapWindow]]]:
    """Every leadless package with enough pixels, with its photo."""
    out = []
    for row in map(json.loads, (folder / "labels.jsonl").read_text().splitlines()):
        for chip in row["chips"]:
            windows = _windows(chip)
            if windows:
                out.append((cv2.imread(str(folder / row["file"])), windows))
    return out


def _windows(chip: dict[str, Any]) -> list[GapWindow]:
    if chip["family"] not in FAMILIES:
        return []
    windows = [w for w in soldered_windows(chip) if w.second is not None]
    if not windows or np.median([w.spacing_px for w in windows]) < LEAST_SPACING_PX:
        return []
    return windows


def beliefs(canvas: np.ndarray, windows: list[GapWindow]) -> dict[str, np.ndarray]:
    """Belief in a bridge and in a gap, (n, 2) each, of a package seen in four ways."""
    image = torch.from_numpy(canvas).permute(0, 3, 1, 2).float() / 255
    dice = Dice(len(image), torch.Generator().manual_seed(SEED))
    painted, _ = paint.paint_bridges(paint.canvas(image), dice)
    sound, bridged = _bytes(plain(image)), _bytes(plain(painted))
    seen = {
        "sound, alone": believe_pictures(windows, sound),
        "sound, beside before": believe_pictures(windows, sound, sound),
        "painted, alone": believe_pictures(windows, bridged),
        "painted, beside before": believe_pictures(windows, bridged, sound),
    }
    return {
        name: np.array([(b.bridged, b.square) for b in found])
        for name, found in seen.items()
    }


def _bytes(image: torch.Tensor) -> np.ndarray:
    return (image.permute(0, 2, 3, 1).clamp(0, 1) * 255).byte().numpy()


if __name__ == "__main__":
    main()
