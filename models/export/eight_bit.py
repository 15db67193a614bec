"""Bring networks to eight bits: a third to two thirds of the time.

    python -m models.export.eight_bit --photos DATA        # the finder, the close look
    python -m models.export.eight_bit --windows WINDOWS.npz     # the reader of joints

DATA is the folder made by ``models.training.prepare``, WINDOWS.npz was written by
``models.joints.gather``; their pictures give the ranges of the activations.  First and
last layers stay in floating point, and weights use seven bits, since processors without
VNNI saturate on eight.  Rewrites the files and their rows of ``registry.toml``; run it
once, after ``models.export.onnx_files``.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
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

from models.export.onnx_files import halved, read_registry, write_registry
from models.joints.gather import CANVAS
from vision.locate import padded
from vision.refine import cut
from vision.small import shrunk
from vision.strips import COLS, ROWS

PHOTOS, PHOTO_PX = 24, 768
WINDOWS, BEFORE_SHARE = 64, 0.6
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


def windows(data: np.lib.npyio.NpzFile) -> Iterator[np.ndarray]:
    """Windows on gaps, most beside themselves in another light as the photo before."""
    rng = np.random.default_rng(0)
    scale, rows, cols = CANVAS
    corner = (cols - 1 - scale * (COLS - 1)) / 2, (rows - 1 - scale * (ROWS - 1)) / 2
    to_canvas = np.array([[scale, 0, corner[0]], [0, scale, corner[1]]])
    for k in rng.permutation(len(data["after"]))[:WINDOWS]:
        window = cv2.warpAffine(
            _decoded(data["after"][k]), to_canvas, (COLS, ROWS),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        )  # fmt: skip
        stack = np.zeros((ROWS, COLS, 7), np.uint8)
        stack[..., 4:] = window
        if rng.random() < BEFORE_SHARE:
            stack[..., 1:4] = (window * rng.uniform(0.7, 1.3)).clip(0, 255)
            stack[..., 0] = 255
        yield stack


def stays_in_maps(layer: str) -> bool:
    """Whether a layer of the finder or the close look is among the last."""
    return layer.startswith("/maps") or "trunk" not in layer


def stays_in_joints(layer: str) -> bool:
    """Whether a layer of the reader of joints is among the first or the last."""
    ends = ("fine/fine.0/", "/cover/", "/neck/", "/say/")
    return any(end in layer for end in ends)


def quantise(
    source: Path, pictures: Iterator[np.ndarray], stays: Callable[[str], bool]
) -> None:
    """Rewrite one network file."""
    with tempfile.TemporaryDirectory() as folder:
        plain = Path(folder) / "plain.onnx"
        quant_pre_process(str(source), str(plain), skip_symbolic_shape=True)
        layers = [
            n.name
            for n in onnx.load(str(plain)).graph.node
            if n.op_type in ("Conv", "Gemm")
        ]
        kept = [layers[0], *(n for n in layers if stays(n))]
        quantize_static(
            str(plain), str(source), Pictures(pictures), per_channel=True,
            reduce_range=True, activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8, nodes_to_exclude=kept,
            calibrate_method=CalibrationMethod.MinMax,
        )  # fmt: skip
    onnx.save(halved(onnx.load(str(source))), str(source))


def _decoded(coded: bytes) -> np.ndarray:
    rgb = np.asarray(Image.open(io.BytesIO(coded)).convert("RGB"))
    return np.ascontiguousarray(rgb[..., ::-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--photos", type=Path)
    parser.add_argument("--windows", type=Path)
    parser.add_argument("--folder", type=Path, default=Path("models"))
    args = parser.parse_args()
    todo: list[tuple[str, Path, Callable[..., Iterator[np.ndarray]]]] = []
    if args.photos:
        photos = args.photos / "photos.npz"
        todo += [("board", photos, boards), ("crop", photos, crops)]
    if args.windows:
        todo += [("joints", args.windows, windows)]
    if not todo:
        parser.error("name the pictures: --photos DATA or --windows WINDOWS.npz")
    rows = read_registry(args.folder)
    for name, pictures, drawn in todo:
        file = args.folder / f"{name}.onnx"
        stays = stays_in_joints if name == "joints" else stays_in_maps
        with np.load(pictures, allow_pickle=True) as data:
            quantise(file, drawn(data), stays)
        rows[name]["sha256"] = hashlib.sha256(file.read_bytes()).hexdigest()
        print(f"{name}: {file.stat().st_size / 2**20:.1f} MiB")
    write_registry(args.folder, rows)


if __name__ == "__main__":
    main()
