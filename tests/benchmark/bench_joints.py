"""Time the reading of joints on chips of several sizes.

    python -m tests.benchmark.bench_joints [--runs 9] [--seed 1]

Prints the best time of each in milliseconds, alone and beside the photo before, on
noise of 12 megapixels: no row of leads is made out in it, so that each is looked for,
which takes longest.
"""

from __future__ import annotations

import argparse
import os
import platform
import time

import numpy as np

from vision.geometry import body_corners_mm
from vision.joints import read_joints
from vision.leads import place_leads
from vision.results import Package, Pin1
from vision.tables import variants_of

SIZES = (("SOIC", 8), ("SOIC", 16), ("TSSOP", 20), ("QFP", 64))
PX_PER_MM = 90.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    python = platform.python_version()
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {python}")
    picture = np.random.default_rng(args.seed).integers(
        0, 255, (3000, 4000, 3), np.uint8
    )
    for family, count in SIZES:
        variant = variants_of(family, count)[0]
        quad = body_corners_mm(variant.body_x_mm[1], variant.body_y_mm[1])
        quad = quad * PX_PER_MM + [2000, 1500]
        leads, scale = place_leads(quad, variant)
        package = Package(
            outline_px=tuple((float(x), float(y)) for x, y in quad),
            confidence=1.0,
            family=family,
            family_confidence=1.0,
            lead_count=count,
            pin1=Pin1(state="ok", confidence=1.0),
            px_per_mm=scale,
            variant=variant.name,
            leads=leads,
        )
        times = []
        for before in (None, (picture, np.eye(3))):
            best = np.inf
            for _ in range(args.runs):
                began = time.perf_counter()
                read_joints(picture, package, before=before)
                best = min(best, time.perf_counter() - began)
            times.append(1000 * best)
        print(f"{family}-{count}: alone {times[0]:.0f} ms, beside {times[1]:.0f} ms")


if __name__ == "__main__":
    main()
