"""Measures the note on flux and charring: false ones, and painted stains found.

    python -m tests.benchmark.bench_residue PAIRS [--every 4]

PAIRS is a folder with ``truth.jsonl`` and ``NNNN_before.jpg``, ``NNNN_after.jpg``, none
of which has a stain.  Each pair is noted as it is, and with a brown or a black stain
painted into the after photo: beside one side of the chip, 0.9 by 0.3 body lengths.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path

import numpy as np

from vision.geometry import longest_side
from vision.pipeline import compare_looks, look
from vision.residue import find_residue

STAINS = {"brown": (0.45, 0.75, 0.9), "black": (0.45, 0.45, 0.45)}
HALF_LONG, HALF_WIDE = 0.45, 0.16


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("pairs", type=Path)
    parser.add_argument("--every", type=int, default=4)
    args = parser.parse_args()
    rng = np.random.default_rng(1)
    lines = (args.pairs / "truth.jsonl").read_text(encoding="utf-8").splitlines()
    seen, found = 0, dict.fromkeys(("none", *STAINS), 0)
    for row in map(json.loads, lines[:: args.every]):
        said = noted(args.pairs, row["pair"], rng)
        seen += bool(said)
        for name, is_said in said.items():
            found[name] += is_said
    print(f"{seen} of {len(lines[:: args.every])} pairs with enough plain board")
    for name, count in found.items():
        print(f"  stain {name}: noted in {count}")


def noted(folder: Path, pair: str, rng: np.random.Generator) -> dict[str, bool]:
    """Whether a stain is noted, by the stain; empty where none could be."""
    before, after = (look(folder / f"{pair}_{k}.jpg") for k in ("before", "after"))
    report = compare_looks(before, after)
    chips = report.before_package, report.after_package
    if chips[0] is None or chips[1] is None or not report.registration:
        return {}
    said = {}
    cover = stain(chips[1], after.photo.pixels.shape[:2], rng)[..., None]
    for name, tone in {"none": (1.0, 1.0, 1.0), **STAINS}.items():
        pixels = after.photo.pixels * (1 - cover * (1 - np.array(tone)))
        photo = replace(after.photo, pixels=pixels.astype(np.uint8))
        found = find_residue(
            before.photo, chips[0], photo, chips[1], report.registration
        )
        if found is None:
            return {}
        said[name] = bool(found.sentence)
    return said


def stain(package, shape, rng):
    """Cover of a stain beside one side of the chip, past its leads, 0 to 1."""
    outline = np.array(package.outline_px)
    long_px, centre, side = longest_side(outline), outline.mean(0), rng.integers(4)
    middle = (outline[side] + outline[(side + 1) % 4]) / 2
    out = (middle - centre) / np.linalg.norm(middle - centre)
    toes = [np.array(lead.toe_px) for lead in package.leads]
    reach = max([0.0, *(float((toe - middle) @ out) for toe in toes)])
    at = middle + out * (reach + 0.15 * long_px)
    rows, cols = np.indices(shape)
    x, y = cols - at[0], rows - at[1]
    along = (x * -out[1] + y * out[0]) / (HALF_LONG * long_px)
    outward = (x * out[0] + y * out[1]) / (HALF_WIDE * long_px)
    return np.clip((1.1 - np.hypot(along, outward)) / 0.2, 0, 1)


if __name__ == "__main__":
    main()
