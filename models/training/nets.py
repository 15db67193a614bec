"""The two networks: one finds packages on a board, one reads a package closely.

Both are plain residual U-shapes; sizes were chosen for two processor cores.  ``Stairs``
is what the networks for feet share.
"""

from __future__ import annotations

from itertools import pairwise

import torch
from torch import nn

from models.scenes.shaded.crops import MARK_KINDS
from models.scenes.shaded.packages import FAMILIES, LEAD_COUNTS

CROP_PX = 256
CORNER_MAPS = 4
BODY_MAP = 4
LEAD_MAP = 5
FIRST_MARK_MAP = 6
CROP_MAPS = FIRST_MARK_MAP + len(MARK_KINDS)
BOARD_MAPS = 7  # centre, log size, shape a, shape b, cos 4 theta, sin 4 theta, body


def _conv(
    inputs: int, outputs: int, *, stride: int = 1, kernel: int = 3
) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, kernel, stride, kernel // 2, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
    )


class Residual(nn.Module):
    """Two 3x3 convolutions beside the way straight through."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.first = _conv(width, width)
        self.second = nn.Sequential(
            nn.Conv2d(width, width, 3, 1, 1, bias=False), nn.BatchNorm2d(width)
        )

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return torch.relu(x + self.second(self.first(x)))


class UShape(nn.Module):
    """Encoder and decoder; ``widths`` a level, the first after one or two strides."""

    def __init__(
        self, stem: tuple[int, ...], widths: tuple[int, ...], depth: int
    ) -> None:
        super().__init__()
        layers: list[nn.Module] = []
        before = 3
        for width in stem:
            layers.append(_conv(before, width, stride=2))
            before = width
        self.stem = nn.Sequential(*layers)
        self.down = nn.ModuleList()
        for level, width in enumerate(widths):
            enter = _conv(before, width, stride=1 if level == 0 else 2)
            blocks = [Residual(width) for _ in range(1 if level == 0 else depth)]
            self.down.append(nn.Sequential(enter, *blocks))
            before = width
        self.side = nn.ModuleList(
            nn.Conv2d(widths[k + 1], widths[k], 1, bias=False)
            for k in range(len(widths) - 1)
        )
        self.up = nn.ModuleList(Residual(widths[k]) for k in range(len(widths) - 1))

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, list[torch.Tensor]]:
        """Return the finest decoded level and every encoded one."""
        levels = []
        x = self.stem(x - 0.4)
        for down in self.down:
            x = down(x)
            levels.append(x)
        for k in reversed(range(len(self.up))):
            wide = nn.functional.interpolate(
                self.side[k](x), scale_factor=2.0, mode="nearest"
            )
            x = self.up[k](levels[k] + wide)
        return x, levels


class CropNet(nn.Module):
    """Reads one package: maps of corner, body, lead, mark; family and count."""

    def __init__(self) -> None:
        super().__init__()
        widths = (32, 64, 96, 160, 256)
        self.trunk = UShape((32,), widths, 2)
        self.maps = nn.Sequential(_conv(32, 32), nn.Conv2d(32, CROP_MAPS, 1))
        self.neck = nn.Sequential(
            nn.Linear(2 * (widths[2] + widths[4]), 256), nn.ReLU(), nn.Dropout(0.2)
        )
        _start_low(self.maps[1], slice(FIRST_MARK_MAP, None))
        self.family = nn.Linear(256, len(FAMILIES))
        self.count = nn.Linear(256, len(LEAD_COUNTS))

    def forward(
        self, x: torch.Tensor
    ) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """x (B, 3, 256, 256) RGB 0..1 -> maps (B, 12, 128, 128), family, count."""
        fine, levels = self.trunk(x)
        pooled = torch.cat(
            [f(levels[k]) for k in (2, 4) for f in (_mean, _peak)], dim=1
        )
        neck = self.neck(pooled)
        return self.maps(fine), self.family(neck), self.count(neck)


class BoardNet(nn.Module):
    """Finds packages on a whole board: BOARD_MAPS maps at a quarter of the size."""

    def __init__(self) -> None:
        super().__init__()
        self.trunk = UShape((16, 32), (32, 64, 96, 128, 160), 2)
        self.maps = nn.Sequential(_conv(32, 48), nn.Conv2d(48, BOARD_MAPS, 1))
        _start_low(self.maps[1], slice(0, 1))

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """x (B, 3, H, W) RGB 0..1, H and W multiples of 64 -> (B, 7, H/4, W/4)."""
        fine, _ = self.trunk(x)
        return self.maps(fine)


def _start_low(layer: nn.Module, maps: slice) -> None:
    """Let spot maps begin near nought, as nearly all of their pixels are."""
    assert isinstance(layer, nn.Conv2d)
    assert layer.bias is not None
    with torch.no_grad():
        layer.bias[maps] = -4.0


def _mean(x: torch.Tensor) -> torch.Tensor:
    return x.mean((2, 3))


def _peak(x: torch.Tensor) -> torch.Tensor:
    return x.amax((2, 3))


class Stairs(nn.Module):
    """Halves a picture step by step and doubles it again, beside what was seen before.

    ``climb`` takes pictures whose sides are whole multiples of two to the steps.
    """

    def __init__(self, inputs: int, widths: tuple[int, ...]) -> None:
        super().__init__()
        self.down = nn.ModuleList(
            nn.Sequential(*_conv(a, b, stride=2), Residual(b))
            for a, b in pairwise((inputs, *widths))
        )
        self.side = nn.ModuleList(
            nn.Conv2d(b, a, 1, bias=False) for a, b in pairwise(widths)
        )
        self.up = nn.ModuleList(Residual(a) for a in widths[:-1])

    def climb(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """Give what is seen at half the size, and at the smallest."""
        seen = []
        for down in self.down:
            x = down(x)
            seen.append(x)
        smallest = x
        for k in reversed(range(len(self.up))):
            wide = nn.functional.interpolate(
                self.side[k](x), scale_factor=2.0, mode="nearest"
            )
            x = self.up[k](torch.relu(seen[k] + wide))
        return x, smallest
