"""The network that finds feet in a photo from the side: one map a kind of place."""

from __future__ import annotations

from itertools import pairwise

import torch
from torch import nn

from models.side.scenes import PLACES
from models.training.nets import Residual

MAP_STEP_PX = 2
WIDTHS = (16, 32, 40, 64, 64)


def _down(inputs: int, outputs: int) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, 3, 2, 1, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
        Residual(outputs),
    )


class SideNet(nn.Module):
    """Encoder and decoder; pictures of any size in whole steps of 32 px."""

    def __init__(self) -> None:
        super().__init__()
        self.down = nn.ModuleList(_down(a, b) for a, b in pairwise((3, *WIDTHS)))
        self.side = nn.ModuleList(
            nn.Conv2d(b, a, 1, bias=False) for a, b in pairwise(WIDTHS)
        )
        self.up = nn.ModuleList(Residual(a) for a in WIDTHS[:-1])
        self.maps = nn.Conv2d(WIDTHS[0], len(PLACES), 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """x (B, 3, rows, cols) RGB in 0..1 -> logits (B, 3, rows / 2, cols / 2)."""
        x, seen = x - 0.5, []
        for down in self.down:
            x = down(x)
            seen.append(x)
        for k in reversed(range(len(self.up))):
            wide = nn.functional.interpolate(
                self.side[k](x), scale_factor=2.0, mode="nearest"
            )
            x = self.up[k](torch.relu(seen[k] + wide))
        logits: torch.Tensor = self.maps(x)
        return logits
