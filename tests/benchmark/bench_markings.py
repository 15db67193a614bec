"""Counts on labelled photographs where pin 1 lies when the marking stands upright.

    python -m tests.benchmark.bench_markings FOLDER

FOLDER is that of ``bench_look``.  A marking counts where ``vision.markings`` reads it
within the labelled outline; photos whose pin 1 a person could not tell are left out.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from pathlib import Path

import numpy as np

from vision.load import load_photo
from vision.markings import read_marking
from vision.pin1 import UPRIGHT

PLACES = ("lower left", "lower right", "upper right", "upper left")
"""Of the corners, counter-clockwise from the one lower left of the upright text."""


def count(folder: Path) -> dict[str, Counter[str]]:
    """Places of pin 1 by family."""
    found: dict[str, Counter[str]] = {}
    for line in (folder / "labels.jsonl").read_text(encoding="utf-8").splitlines():
        label = json.loads(line)
        chips = [c for c in label["chips"] if c.get("pin1_certain")]
        photo = load_photo(folder / label["file"]) if chips else None
        for chip in chips:
            if photo is None or chip.get("state") == "removed-pads":
                continue
            marking = read_marking(photo.pixels, np.asarray(chip["outline"], float))
            place = PLACES[-marking.lower_left % 4] if marking else "not read"
            found.setdefault(chip["family"], Counter())[place] += 1
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    found = count(parser.parse_args().folder)
    for family, places in sorted(found.items()):
        print(f"{family}: " + ", ".join(f"{p} {n}" for p, n in places.most_common()))
    rule = [found[f] for f in UPRIGHT if f in found]
    read = sum(c.total() - c["not read"] for c in rule)
    lower_left = sum(c["lower left"] for c in rule)
    print(f"{', '.join(UPRIGHT)}: pin 1 lower left in {lower_left} of {read} read")


if __name__ == "__main__":
    main()
