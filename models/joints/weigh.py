"""Set how much one trained network counts when several are averaged.

    python -m models.joints.weigh RUN.pt OUT.pt --bridge 0.75 --leads 1.5

1 is an equal share; the factors of all networks of one file must average to 1.
``models.export.onnx_files`` averages the answers, which are linear in the last layer.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import torch

BRIDGE_ROWS = 2
"""The first answers: bridged, and lies on a gap; the others are those of the leads."""


def weighed(
    state: dict[str, torch.Tensor], bridge: float, leads: float
) -> dict[str, torch.Tensor]:
    """Scale the answers of a network, those of the gap and those of the leads."""
    out = dict(state)
    for key in ("say.weight", "say.bias"):
        rows = state[key].float().clone()
        rows[:BRIDGE_ROWS] *= bridge
        rows[BRIDGE_ROWS:] *= leads
        out[key] = rows.half()
    for key in ("cover.1.weight", "cover.1.bias"):
        out[key] = (state[key].float() * bridge).half()
    return out


def main() -> None:
    """Rewrite one file of weights."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("run", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--bridge", type=float, required=True)
    parser.add_argument("--leads", type=float, required=True)
    args = parser.parse_args()
    state = torch.load(args.run, map_location="cpu")
    torch.save(weighed(state, args.bridge, args.leads), args.out)


if __name__ == "__main__":
    main()
