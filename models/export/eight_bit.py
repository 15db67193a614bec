"""Bring the finder and the close look to eight bits: a third of the time or less.

    python -m models.export.eight_bit DATA [--folder models]

DATA is the folder made by ``models.training.prepare``; its photos give the ranges of
the activations.  First and last layers stay in floating point, and weights use seven
bits, since processors without VNNI saturate on eight.  Rewrites the files and their
rows of ``registry.toml``; run it once, after ``models.export.onnx_files``.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import onnx
from onnxruntime.quantization import (
    CalibrationDataReader,
    CalibrationMethod,
    QuantType,
    quantize_static,
)
from onnxruntime.quantization.shape_inference import quant_pre_process
from PIL import Image

from models.export.onnx_files import read_registry, write_registry
from vision.locate import padded
from vision.refine import cut
from vision.small import shrunk

PHOTOS, PHOTO_PX = 24, 768
OUTLINE_SD_FRAC = 0.05
"""How far the finder's outlines lie off the body, as a share of its diagonal."""


class Pictures(CalibrationDataReader):
    """Hands pictures to the quantiser, one at a time."""

    def __init__(self, pictures: Iterator[np.ndarray]) -> None:
        self.pictures = pictures

    def get_next(self) -> dict[str, np.ndarray] | None:
        picture = next(self.pictures, None)
        if picture is None:
            return None
        rgb = np.ascontiguousarray(picture[None][..., ::-1].transpose(0, 3, 1, 2))
        return {"picture": rgb.astype(np.float32) / 255}


def crops(data: np.lib.npyio.NpzFile) -> Iterator[np.ndarray]:
    """Close looks at the photos' packages, turned at random, BGR."""
    rng = np.random.default_rng(0)
    for row, coded in zip(data["crop_rows"], data["crops"], strict=True):
        corners = row[4:].reshape(4, 2).astype(float)
        off = OUTLINE_SD_FRAC * np.linalg.norm(corners[0] - corners[2])
        crop, _ = cut(_decoded(coded), corners + rng.normal(0, off, (1, 2)))
        yield np.rot90(crop, int(rng.integers(4)))


def boards(data: np.lib.npyio.NpzFile) -> Iterator[np.ndarray]:
    """Whole photos as the finder sees them, BGR."""
    for coded in data["photos"][:PHOTOS]:
        yield padded(shrunk(_decoded(coded), PHOTO_PX))


def quantise(source: Path, pictures: Iterator[np.ndarray]) -> None:
    """Rewrite one network file."""
    with tempfile.TemporaryDirectory() as folder:
        plain = Path(folder) / "plain.onnx"
        quant_pre_process(str(source), str(plain), skip_symbolic_shape=True)
        layers = [
            n.name
            for n in onnx.load(str(plain)).graph.node
            if n.op_type in ("Conv", "Gemm")
        ]
        kept = [n for n in layers if n.startswith("/maps") or "trunk" not in n]
        quantize_static(
            str(plain), str(source), Pictures(pictures), per_channel=True,
            reduce_range=True, activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8, nodes_to_exclude=[layers[0], *kept],
            calibrate_method=CalibrationMethod.MinMax,
        )  # fmt: skip


def _decoded(coded: bytes) -> np.ndarray:
    rgb = np.asarray(Image.open(io.BytesIO(coded)).convert("RGB"))
    return np.ascontiguousarray(rgb[..., ::-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("--folder", type=Path, default=Path("models"))
    args = parser.parse_args()
    rows = read_registry(args.folder)
    with np.load(args.data / "photos.npz", allow_pickle=True) as data:
        for name, pictures in (("board", boards(data)), ("crop", crops(data))):
            file = args.folder / f"{name}.onnx"
            quantise(file, pictures)
            rows[name]["sha256"] = hashlib.sha256(file.read_bytes()).hexdigest()
            print(f"{name}: {file.stat().st_size / 2**20:.1f} MiB")
    write_registry(args.folder, rows)


if __name__ == "__main__":
    main()
