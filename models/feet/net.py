"""The network that measures a foot from above: its toe and its two sides.

Patches as ``vision.foot_patches`` lays them.
"""

from __future__ import annotations

import torch
from torch import nn

from models.training.nets import Stairs
from vision.foot_patches import CHANNELS, COLS, EDGE_ROW

STEP_PX = 2
WIDTHS = (16, 32, 48, 64)
TOE_COLS, EDGE_ROWS = 12, 12
"""Cells over which the answers are averaged: across the toe, along the sides."""


class FeetNet(Stairs):
    """Encoder and decoder, then three profiles."""

    def __init__(self) -> None:
        super().__init__(CHANNELS, WIDTHS)
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
        seen, smallest = self.climb(x - 0.5)
        lean = self.lean(torch.cat([smallest.mean((2, 3)), smallest.amax((2, 3))], 1))
        maps = self.say(seen)
        mid, ref = COLS // 2 // STEP_PX, EDGE_ROW // STEP_PX
        toe = maps[:, 0, :, mid - TOE_COLS // 2 : mid + TOE_COLS // 2].mean(2)
        sides = maps[:, 1:, ref - EDGE_ROWS // 2 : ref + EDGE_ROWS // 2].mean(2)
        return toe, sides, lean
