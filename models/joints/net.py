"""The network that reads joints: one window, with or without the photo before."""

from __future__ import annotations

import torch
from torch import nn

from models.joints.gather import CLASSES
from models.training.nets import Residual

CHANNELS = 7


def _conv(inputs: int, outputs: int, stride: int) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, 3, stride, 1, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
    )


class JointNets(nn.Module):
    """Several networks trained apart; their answers are averaged."""

    def __init__(self, count: int) -> None:
        super().__init__()
        self.nets = nn.ModuleList(JointNet() for _ in range(count))

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """Like ``JointNet``."""
        said, cover = zip(*(net(x) for net in self.nets), strict=True)
        return torch.stack(said).mean(0), torch.stack(cover).mean(0)


class JointNet(nn.Module):
    """About 90 million multiplications a window."""

    def __init__(self) -> None:
        super().__init__()
        self.fine = nn.Sequential(_conv(CHANNELS, 16, 2), Residual(16))
        self.middle = nn.Sequential(_conv(16, 40, 2), Residual(40), Residual(40))
        self.coarse = nn.Sequential(_conv(40, 80, 2), Residual(80), Residual(80))
        self.last = nn.Sequential(_conv(80, 128, 2), Residual(128))
        self.side = nn.Conv2d(80, 40, 1, bias=False)
        self.cover = nn.Sequential(_conv(40, 24, 1), nn.Conv2d(24, 1, 1))
        self.squeeze = nn.Sequential(
            nn.Conv2d(128, 40, 1, bias=False), nn.BatchNorm2d(40), nn.ReLU()
        )
        self.neck = nn.Sequential(
            nn.Linear(40 * 5 * 6 + 128, 160), nn.ReLU(), nn.Dropout(0.2)
        )
        self.say = nn.Linear(160, 2 + 2 * len(CLASSES))

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """x (B, 7, 80, 96) in 0..1 -> answers (B, 12) logits, cover (B, 1, 20, 24).

        Answers: bridged, window lies square on a gap, classes of the left lead,
        classes of the right lead.
        """
        middle = self.middle(self.fine(x - 0.4))
        coarse = self.coarse(middle)
        last = self.last(coarse)
        wide = nn.functional.interpolate(
            self.side(coarse), scale_factor=2.0, mode="nearest"
        )
        cover = self.cover(torch.relu(middle + wide))
        flat = torch.cat([self.squeeze(last).flatten(1), last.amax((2, 3))], 1)
        return self.say(self.neck(flat)), cover


class BallNet(nn.Module):
    """Tells of a loose ball of solder in a gap; 17 million multiplications."""

    def __init__(self) -> None:
        super().__init__()
        self.trunk = nn.Sequential(
            _conv(CHANNELS, 12, 2), Residual(12),
            _conv(12, 24, 2), Residual(24),
            _conv(24, 48, 2), Residual(48),
        )  # fmt: skip
        self.squeeze = nn.Sequential(
            nn.Conv2d(48, 16, 1, bias=False), nn.BatchNorm2d(16), nn.ReLU()
        )
        self.neck = nn.Sequential(
            nn.Linear(16 * 10 * 12 + 48, 64), nn.ReLU(), nn.Dropout(0.2)
        )
        self.say = nn.Linear(64, 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """x (B, 7, 80, 96) in 0..1 -> logit (B, 1)."""
        seen = self.trunk(x - 0.4)
        flat = torch.cat([self.squeeze(seen).flatten(1), seen.amax((2, 3))], 1)
        logit: torch.Tensor = self.say(self.neck(flat))
        return logit
