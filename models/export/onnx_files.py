"""Turn trained weights into the ONNX files that dotward runs.

    python -m models.export.onnx_files WEIGHTS [--out models]

WEIGHTS holds some of ``crop.pt``, ``board.pt``, ``joints*.pt``, ``balls.pt``,
``side.pt`` and ``feet.pt``.
Weights are stored in half precision and widened when the file is loaded; the printed
difference is against the same network in PyTorch on fixed inputs.  Rewrites the files'
rows of ``registry.toml``.
"""

from __future__ import annotations

import argparse
import hashlib
import tomllib
from pathlib import Path

import numpy as np
import onnx
import onnxruntime
import torch
from onnx import TensorProto, helper, numpy_helper
from torch import nn

from models.feet.net import FeetNet
from models.joints.net import CHANNELS, BallNet, JointNets
from models.scenes.shaded.packages import FAMILIES, LEAD_COUNTS
from models.side.net import SideNet
from models.training.nets import CROP_PX, BoardNet, CropNet
from vision.foot_patches import CHANNELS as PATCH_CHANNELS
from vision.foot_patches import COLS as PATCH_COLS
from vision.foot_patches import ROWS as PATCH_ROWS
from vision.strips import COLS, ROWS

OUTPUTS = {
    "CropNet": ["maps", "family", "count"],
    "BoardNet": ["maps"],
    "JointNets": ["answers", "cover"],
    "BallNet": ["answer"],
    "SideNet": ["maps"],
    "FeetNet": ["toe", "sides", "lean"],
}
UNCALIBRATED = {"alone": [1.0, 0.0], "pair": [1.0, 0.0]}
MANY = 256  # tensors with more elements than this are stored in half precision


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("weights", type=Path)
    parser.add_argument("--out", type=Path, default=Path("models"))
    args = parser.parse_args()
    rows = read_registry(args.out)
    joints = sorted(args.weights.glob("joints*.pt"))
    for name, net, size in (
        ("board", BoardNet(), (1, 3, 448, 384)),
        ("crop", CropNet(), (2, 3, CROP_PX, CROP_PX)),
        ("joints", JointNets(len(joints)), (2, CHANNELS, ROWS, COLS)),
        ("balls", BallNet(), (2, CHANNELS, ROWS, COLS)),
        ("side", SideNet(), (1, 3, 224, 384)),
        ("feet", FeetNet(), (2, PATCH_CHANNELS, PATCH_ROWS, PATCH_COLS)),
    ):
        weights = args.weights / f"{name}.pt"
        if not (joints if name == "joints" else weights.exists()):
            continue
        state = merged(joints) if name == "joints" else torch.load(weights, "cpu")
        target = args.out / f"{name}.onnx"
        difference = export(net, state, target, size)
        known = rows.get(name, {})
        digest = hashlib.sha256(target.read_bytes()).hexdigest()
        rows[name] = {"file": target.name, "sha256": digest}
        if name == "joints":
            rows[name]["calibration"] = known.get("calibration", UNCALIBRATED)
        if name == "crop":
            rows[name] |= {"families": list(FAMILIES), "lead_counts": list(LEAD_COUNTS)}
        print(
            f"{name}: {target.stat().st_size / 2**20:.1f} MiB, "
            f"largest difference {difference:.4f}"
        )
    write_registry(args.out, rows)


def merged(files: list[Path]) -> dict[str, torch.Tensor]:
    """Put the weights of networks trained apart beside each other."""
    return {
        f"nets.{k}.{key}": value
        for k, file in enumerate(files)
        for key, value in torch.load(file, "cpu").items()
    }


def export(
    net: nn.Module, state: dict[str, torch.Tensor], target: Path, size: tuple[int, ...]
) -> float:
    """Write one network; return the largest difference from PyTorch."""
    net.load_state_dict({k: v.float() for k, v in state.items()})
    net.eval()
    sample = torch.rand(*size, generator=torch.Generator().manual_seed(1))
    is_free = isinstance(net, (BoardNet, CropNet, SideNet))
    axes = {0: "batch", 2: "rows", 3: "cols"} if is_free else {0: "batch"}
    outputs = OUTPUTS[type(net).__name__]
    torch.onnx.export(
        net, (sample,), str(target), input_names=["picture"], output_names=outputs,
        dynamic_axes={"picture": axes, **{name: {0: "batch"} for name in outputs}},
        opset_version=17, dynamo=False,
    )  # fmt: skip
    onnx.save(halved(onnx.load(str(target))), str(target))
    session = onnxruntime.InferenceSession(
        str(target), providers=["CPUExecutionProvider"]
    )
    got = session.run(None, {"picture": sample.numpy()})
    with torch.no_grad():
        want = net(sample)
    want = want if isinstance(want, tuple) else (want,)
    return max(
        float(np.abs(g - w.numpy()).max()) for g, w in zip(got, want, strict=True)
    )


def halved(model: onnx.ModelProto) -> onnx.ModelProto:
    """Store large weights in half precision with a cast that the runtime folds away."""
    kept, casts = [], []
    for weight in model.graph.initializer:
        values = numpy_helper.to_array(weight)
        if weight.data_type != TensorProto.FLOAT or values.size < MANY:
            kept.append(weight)
            continue
        name = f"{weight.name}_half"
        kept.append(numpy_helper.from_array(values.astype(np.float16), name))
        casts.append(
            helper.make_node("Cast", [name], [weight.name], to=TensorProto.FLOAT)
        )
    del model.graph.initializer[:]
    model.graph.initializer.extend(kept)
    nodes = casts + list(model.graph.node)
    del model.graph.node[:]
    model.graph.node.extend(nodes)
    return model


def read_registry(folder: Path) -> dict[str, dict[str, object]]:
    path = folder / "registry.toml"
    return tomllib.loads(path.read_text()) if path.exists() else {}


def write_registry(folder: Path, rows: dict[str, dict[str, object]]) -> None:
    lines = ["# Written by models.export.onnx_files; the cards lie in cards/.", ""]
    for name, row in sorted(rows.items()):
        lines.append(f"[{name}]")
        for key, value in row.items():
            lines.append(f"{key} = {_text(value)}")
        lines.append("")
    (folder / "registry.toml").write_text("\n".join(lines))


def _text(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_text(v)}" for k, v in value.items()) + " }"
    is_list = isinstance(value, list)
    return str(value).replace("'", '"') if is_list else f'"{value}"'


if __name__ == "__main__":
    main()
