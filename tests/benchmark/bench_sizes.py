"""Measures how often a size is given, and rightly, from one photo and from two.

    python -m tests.benchmark.bench_sizes FOLDER [--views 2] [--seed 1]

FOLDER holds labelled photographs as for ``bench_look``.  Each labelled package is seen
as it was photographed and in further views: turned, tilted, lighter, blurred, noisy.
Every two views of one package are a pair, as before and after.  A size is wrong where
its lead count is.  Photographs learned from are counted apart.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from vision.find_packages import read_package
from vision.geometry import apply_homography, side_lengths, to_points
from vision.load import load_photo
from vision.locate import Outline
from vision.results import Package, Photo, Registration
from vision.shared_size import share_size
from vision.tables import families, variants_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from vision.packages import Variant

FRAME_BODIES, MOST_PX = 3.2, 1800
OUTLINE_SD_FRAC = 0.03
"""How far a view's outline lies off the label, as a share of the diagonal."""

View = tuple[Package, np.ndarray]
"""A package as read, and the map from the photo to the view it was read in."""


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--views", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    counts: dict[bool, Counter[str]] = {True: Counter(), False: Counter()}
    rng = np.random.default_rng(args.seed)
    lines = (args.folder / "labels.jsonl").read_text(encoding="utf-8").splitlines()
    for row in map(json.loads, lines):
        photo = load_photo(args.folder / row["file"])
        for chip in row["chips"]:
            if chip.get("leads"):
                views = list(_views(photo, chip, args.views, rng))
                counts[row["training"]].update(_tally(views, chip["leads"]))
    for is_training, found in counts.items():
        print("learned from:" if is_training else "never learned from:")
        for kind in ("one", "pair"):
            total = found[f"{kind} seen"]
            print(f"  {kind}: {found[f'{kind} sized']} of {total} given a size, "
                  f"{found[f'{kind} wrong']} of them a wrong one")  # fmt: skip


def _views(
    photo: Photo, chip: dict[str, Any], count: int, rng: np.random.Generator
) -> Iterator[View]:
    outline = np.asarray(chip["outline"], float)
    for number in range(count + 1):
        seen, to_view = (
            (photo, np.eye(3)) if number == 0 else _anew(photo, outline, rng)
        )
        corners = apply_homography(to_view, outline)
        spread = OUTLINE_SD_FRAC * float(np.linalg.norm(corners[0] - corners[2]))
        a, b, c, d = to_points(corners + rng.normal(0, spread, (1, 2)))
        package = read_package(seen, Outline(corners_px=(a, b, c, d), score=1.0))
        if package is not None:
            yield package, to_view


def _anew(
    photo: Photo, outline: np.ndarray, rng: np.random.Generator
) -> tuple[Photo, np.ndarray]:
    """Photograph the place of one package again."""
    long_px = float(side_lengths(outline).max())
    side = int(min(MOST_PX, long_px * FRAME_BODIES * rng.uniform(0.7, 1.1)))
    scale, angle = side / (long_px * FRAME_BODIES), rng.uniform(0, 2 * np.pi)
    c, s = np.cos(angle) * scale, np.sin(angle) * scale
    x, y = outline.mean(axis=0)
    to_middle = np.array([[1, 0, -x], [0, 1, -y], [0, 0, 1]])
    spin = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    lean = np.array([[1, 0, 0], [0, 1, 0], [*rng.normal(0, 0.1, 2) / side, 1]])
    from_middle = np.array([[1, 0, side / 2], [0, 1, side / 2], [0, 0, 1]])
    to_view = from_middle @ lean @ spin @ to_middle
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    seen = cv2.warpPerspective(photo.pixels, to_view, (side, side), flags=how)
    seen = cv2.GaussianBlur(seen, (0, 0), rng.uniform(0.3, 1.2))
    light = (seen / 255.0) ** rng.uniform(0.8, 1.25) * rng.uniform(0.8, 1.15)
    grain = rng.normal(0, 0.008, light.shape)
    pixels = ((light + grain).clip(0, 1) * 255).astype(np.uint8)
    return replace(photo, pixels=pixels, width_px=side, height_px=side), to_view


def _tally(views: list[View], leads: int) -> Counter[str]:
    found: Counter[str] = Counter()
    for package, _ in views:
        found.update(_kinds("one", [package], leads))
    for (before, first), (after, second) in combinations(views, 2):
        a, b, c = (second @ np.linalg.inv(first)).tolist()
        registration = Registration(
            before_to_after=(tuple(a), tuple(b), tuple(c)), inliers=99, residual_px=0.5
        )
        found.update(_kinds("pair", share_size(before, after, registration), leads))
    return found


def _kinds(kind: str, packages: Iterable[Package], leads: int) -> Iterator[str]:
    """Say what became of one package, or of both of a pair."""
    yield f"{kind} seen"
    sizes = [_size_of(p) for p in packages]
    if all(sizes):
        yield f"{kind} sized"
        if any(size.lead_count != leads for size in sizes if size):
            yield f"{kind} wrong"


def _size_of(package: Package) -> Variant | None:
    """Give its size; one taken from the other photo may be of another family."""
    every = (v for family in families() for v in variants_of(family))
    return next((v for v in every if v.name == package.variant), None)


if __name__ == "__main__":
    main()
