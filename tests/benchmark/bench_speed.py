"""Measures the time of ``look`` and ``compare`` against decoding, and peak memory.

    python -m tests.benchmark.bench_speed [BEFORE AFTER]
    python -m tests.benchmark.bench_speed --as-they-are PHOTO...

The photos are brought to 12 megapixels and saved as JPEG, quality 92; without
photos those of the demo are taken.  Warm, one process, the median of fifteen.
``--as-they-are`` measures ``look`` on each photo as it is, the median of three.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from vision.pipeline import compare, look

SAMPLES = Path(__file__).parents[2] / "sample_images"
MEGAPIXELS = 12.0
REPEATS, FEW_REPEATS = 15, 3


def enlarged(source: Path, folder: Path) -> Path:
    """Write a 12-megapixel copy with the grain that a phone's photo has."""
    picture = cv2.imread(str(source))
    factor = (MEGAPIXELS * 1e6 / (picture.shape[0] * picture.shape[1])) ** 0.5
    large = cv2.resize(
        picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_CUBIC
    )
    grain = np.random.default_rng(1).normal(0, 3, large.shape)
    target = folder / f"{source.stem}.jpg"
    cv2.imwrite(str(target), (large + grain).clip(0, 255).astype(np.uint8),
                [cv2.IMWRITE_JPEG_QUALITY, 92])  # fmt: skip
    return target


def in_turn(*works: Callable[[], object], repeats: int = REPEATS) -> list[float]:
    """Median times of several works after one round that warms up.

    They take turns, so that what else the machine does slows all of them alike.
    """
    for work in works:
        work()
    rounds = [[once(work) for work in works] for _ in range(repeats)]
    return [statistics.median(times) for times in zip(*rounds, strict=True)]


def once(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def decode(path: Path) -> object:
    return cv2.imdecode(np.frombuffer(path.read_bytes(), np.uint8), cv2.IMREAD_COLOR)


def tell_each(photos: list[Path]) -> None:
    """Print how long ``look`` takes on each photo, and the median."""
    looks, ratios = [], []
    for photo in photos:
        one, looked = in_turn(
            partial(decode, photo), partial(look, photo), repeats=FEW_REPEATS
        )
        looks.append(looked)
        ratios.append(looked / one)
        print(
            f"{photo.name}: {1e3 * looks[-1]:.0f} ms, {ratios[-1]:.1f} times decoding"
        )
    print(
        f"{len(looks)} photos: look {statistics.median(looks):.2f} s, "
        f"{statistics.median(ratios):.1f} times decoding (medians)"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("photos", type=Path, nargs="*")
    parser.add_argument("--as-they-are", action="store_true")
    args = parser.parse_args()
    if args.as_they_are:
        tell_each(args.photos)
        return
    before, after = args.photos or (
        SAMPLES / "patient_before.jpg",
        SAMPLES / "after_good.jpg",
    )
    with tempfile.TemporaryDirectory() as folder:
        before, after = (enlarged(p, Path(folder)) for p in (before, after))
        size_mb = before.stat().st_size / 1e6
        one, other, looked, compared = in_turn(
            lambda: decode(before),
            lambda: decode(after),
            lambda: look(before),
            lambda: compare(before, after),
        )
    two = one + other
    print(f"decode {1e3 * one:.0f} ms for {size_mb:.1f} MB")
    print(f"look {1e3 * looked:.0f} ms, {looked / one:.1f} times decoding")
    print(f"compare {1e3 * compared:.0f} ms, {compared / two:.1f} times decoding both")
    peak_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"peak memory {peak_kib / 2**20:.2f} GiB")


if __name__ == "__main__":
    main()
