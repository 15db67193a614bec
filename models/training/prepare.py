"""Gather what training needs into one small folder.

    python -m models.training.prepare PHOTOS OUT [--seed 1]

PHOTOS holds ``labels.jsonl`` and the pictures; only photos marked
``"training": true`` are taken.  OUT gets ``words.npz`` (printed words) and
``photos.npz`` (crops round every labelled package and whole photos, as JPEG
bytes, with their labels and the repository each came from).
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import cv2
import numpy as np

from models.scenes.shaded.packages import FAMILIES, LEAD_COUNTS
from models.scenes.shaded.text import text_bank

CROP_PX = 640
CROP_LONG_PX = 210.0
PHOTO_PX = 1280
WORDS = 1600


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("photos", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(args.seed)
    words = {}
    for name in ("marking", "silkscreen"):
        strips, aspect = text_bank(WORDS, rng=rng, silkscreen=name == "silkscreen")
        words[f"{name}_strips"], words[f"{name}_aspect"] = strips, aspect
    np.savez_compressed(args.out / "words.npz", **words)
    lines = (args.photos / "labels.jsonl").read_text().splitlines()
    labels = [row for row in map(json.loads, lines) if row["training"]]
    np.savez(args.out / "photos.npz", **gather(labels, args.photos))
    print(f"{len(labels)} photos in {args.out}")


def gather(labels: list[dict], folder: Path) -> dict[str, np.ndarray]:
    """Cut the crops and shrink the photos; arrays ready for ``numpy.savez``."""
    repositories = sorted({row["repo"] for row in labels})
    crops, crop_rows, photos, quads, owners = [], [], [], [], []
    for row in labels:
        image = cv2.imread(str(folder / row["file"]))
        owner = repositories.index(row["repo"])
        chips = [c for c in row["chips"] if c.get("state") != "removed-pads"]
        for chip in chips:
            quad = np.asarray(chip["outline"], float)
            crop, corners = cut(image, quad)
            crops.append(encode(crop))
            count = chip.get("leads")
            crop_rows.append(
                [
                    owner,
                    FAMILIES.index(chip["family"]),
                    LEAD_COUNTS.index(count) if count in LEAD_COUNTS else -1,
                    float(bool(chip["pin1_certain"])),
                    *corners.ravel(),
                ]
            )
        scale = min(1.0, PHOTO_PX / max(image.shape[:2]))
        small = cv2.resize(
            image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA
        )
        photos.append(encode(small))
        owners.append(owner)
        padded = np.full((8, 4, 2), np.nan)
        for k, chip in enumerate(chips[:8]):
            padded[k] = (np.asarray(chip["outline"], float) + 0.5) * scale - 0.5
        quads.append(padded)
    return {
        "repositories": np.array(repositories),
        "crops": np.array(crops, dtype=object),
        "crop_rows": np.array(crop_rows, np.float32),
        "photos": np.array(photos, dtype=object),
        "photo_quads": np.array(quads, np.float32),
        "photo_owner": np.array(owners),
    }


def cut(image: np.ndarray, quad: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A square round the package with its longer side CROP_LONG_PX long."""
    long = max(np.linalg.norm(quad[0] - quad[1]), np.linalg.norm(quad[1] - quad[2]))
    scale = CROP_LONG_PX / long
    shift = CROP_PX / 2 - quad.mean(0) * scale
    if scale < 1:
        step = cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        matrix = np.float32([[1, 0, shift[0]], [0, 1, shift[1]]])
    else:
        step, matrix = image, np.float32([[scale, 0, shift[0]], [0, scale, shift[1]]])
    crop = cv2.warpAffine(
        step,
        matrix,
        (CROP_PX, CROP_PX),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REFLECT_101,
    )
    return crop, quad * scale + shift


def encode(image: np.ndarray) -> bytes:
    return cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 93])[1].tobytes()


if __name__ == "__main__":
    main()
