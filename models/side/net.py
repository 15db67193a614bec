"""The network that finds feet in a photo from the side: one map a kind of place."""

from __future__ import annotations

import torch
from torch import nn

from models.side.scenes import PLACES
from models.training.nets import Stairs

MAP_STEP_PX = 2
WIDTHS = (16, 32, 40, 64, 64)


class SideNet(Stairs):
    """Encoder and decoder; pictures of any size in whole steps of 32 px."""

    def __init__(self) -> None:
        super().__init__(3, WIDTHS)
        self.maps = nn.Conv2d(WIDTHS[0], len(PLACES), 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """x (B, 3, rows, cols) RGB in 0..1 -> logits (B, 3, rows / 2, cols / 2)."""
        seen, _ = self.climb(x - 0.5)
        logits: torch.Tensor = self.maps(seen)
        return logits
