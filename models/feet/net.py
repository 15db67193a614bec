"""The network that measures a foot from above: its toe and its two sides.

Patches as ``vision.foot_patches`` lays them.
"""

from __future__ import annotations

from itertools import pairwise

import torch
from torch import nn

from models.training.nets import Residual
from vision.foot_patches import CHANNELS, COLS, EDGE_ROW

STEP_PX = 2
WIDTHS = (16, 32, 48, 64)
TOE_COLS, EDGE_ROWS = 12, 12
"""Cells over which the answers are averaged: across the toe, along the sides."""


def _down(inputs: int, outputs: int) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, 3, 2, 1, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
        Residual(outputs),
    )


class FeetNet(nn.Module):
    """Encoder and decoder, then three profiles."""

    def __init__(self) -> None:
        super().__init__()
        self.down = nn.ModuleList(_down(a, b) for a, b in pairwise((CHANNELS, *WIDTHS)))
        self.side = nn.ModuleList(
            nn.Conv2d(b, a, 1, bias=False) for a, b in pairwise(WIDTHS)
        )
        self.up = nn.ModuleList(Residual(a) for a in WIDTHS[:-1])
        self.say = nn.Conv2d(WIDTHS[0], 3, 1)
        self.lean = nn.Sequential(
            nn.Linear(2 * WIDTHS[-1], 64), nn.ReLU(), nn.Linear(64, 4)
        )

    def forward(
        self, x: torch.Tensor
    ) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """Read x (B, 6, 96, 64) in 0..1.

        Gives logits of the toe (B, 48), of both sides (B, 2, 32), and (B, 4): how far
        walls show, outward and across, in lead widths, and the logarithms of their
        standard deviations.
        """
        x, seen = x - 0.5, []
        for down in self.down:
            x = down(x)
            seen.append(x)
        lean = self.lean(torch.cat([x.mean((2, 3)), x.amax((2, 3))], 1))
        for k in reversed(range(len(self.up))):
            wide = nn.functional.interpolate(
                self.side[k](x), scale_factor=2.0, mode="nearest"
            )
            x = self.up[k](torch.relu(seen[k] + wide))
        maps = self.say(x)
        mid, ref = COLS // 2 // STEP_PX, EDGE_ROW // STEP_PX
        toe = maps[:, 0, :, mid - TOE_COLS // 2 : mid + TOE_COLS // 2].mean(2)
        sides = maps[:, 1:, ref - EDGE_ROWS // 2 : ref + EDGE_ROWS // 2].mean(2)
        return toe, sides, lean
