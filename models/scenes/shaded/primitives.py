"""Random numbers, distances and compositing for the shaded scenes.

Distances are signed (negative inside) and in mm; a picture is a float tensor
``(B, 3, H, W)`` in 0..1, a coverage ``(B, 1, H, W)``.
"""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F


class Dice:
    """A seeded source of batched random numbers on one device."""

    def __init__(self, batch: int, generator: torch.Generator) -> None:
        self.batch = batch
        self.generator = generator
        self.device = generator.device

    def uniform(self, low: float, high: float, *shape: int) -> torch.Tensor:
        """Return numbers of shape (B, *shape) between low and high."""
        unit = torch.rand(
            self.batch, *shape, generator=self.generator, device=self.device
        )
        return low + (high - low) * unit

    def normal(self, sd: float, *shape: int) -> torch.Tensor:
        """Return normal numbers of shape (B, *shape)."""
        return sd * torch.randn(
            self.batch, *shape, generator=self.generator, device=self.device
        )

    def chance(self, probability: float | torch.Tensor, *shape: int) -> torch.Tensor:
        """Return 1.0 with the probability given, else 0.0."""
        return (self.uniform(0, 1, *shape) < probability).float()

    def index(self, count: int, *shape: int) -> torch.Tensor:
        """Return whole numbers 0..count-1."""
        return (self.uniform(0, 1, *shape) * count).long().clamp(max=count - 1)

    def pick(self, weights: torch.Tensor) -> torch.Tensor:
        """Return a column number for each row of weights (B, n), or for one row."""
        if weights.dim() == 1:
            weights = weights.expand(self.batch, -1)
        return torch.multinomial(weights, 1, generator=self.generator)[:, 0]


def column(values: torch.Tensor) -> torch.Tensor:
    """Shape (B,) as (B, 1, 1, 1), (B, n) as (B, n, 1, 1)."""
    return values.reshape(values.shape[0], -1, 1, 1)


def palette(
    dice: Dice, colours: tuple[tuple[float, float, float], ...]
) -> torch.Tensor:
    """One colour of a list for every sample, (B, 3, 1, 1)."""
    table = torch.tensor(colours, device=dice.device)
    return column(table[dice.index(len(colours))])


def over(
    image: torch.Tensor, colour: torch.Tensor, cover: torch.Tensor
) -> torch.Tensor:
    """Lay a colour over the picture by its coverage."""
    return image + (colour - image) * cover


def coverage(distance: torch.Tensor, soft: torch.Tensor | float) -> torch.Tensor:
    """Coverage of the inside of a signed distance; ``soft`` is the edge's width."""
    return (0.5 - distance / soft).clamp(0, 1)


def box(
    x: torch.Tensor, y: torch.Tensor, half_x: torch.Tensor | float,
    half_y: torch.Tensor | float, radius: torch.Tensor | float = 0.0,
) -> torch.Tensor:  # fmt: skip
    """Signed distance to a box with rounded corners."""
    dx = x.abs() - half_x + radius
    dy = y.abs() - half_y + radius
    outside = torch.sqrt(dx.clamp(min=0) ** 2 + dy.clamp(min=0) ** 2 + 1e-12)
    return outside + torch.maximum(dx, dy).clamp(max=0) - radius


def segment(
    x: torch.Tensor, y: torch.Tensor, a: torch.Tensor, b: torch.Tensor
) -> torch.Tensor:
    """Distance to the segment from a to b, each (B, 2)."""
    ax, ay, bx, by = (column(v) for v in (a[:, 0], a[:, 1], b[:, 0], b[:, 1]))
    ux, uy = bx - ax, by - ay
    along = ((x - ax) * ux + (y - ay) * uy) / (ux**2 + uy**2 + 1e-9)
    along = along.clamp(0, 1)
    return torch.sqrt((x - ax - along * ux) ** 2 + (y - ay - along * uy) ** 2 + 1e-12)


def turned(
    x: torch.Tensor, y: torch.Tensor, angle: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor]:
    """Coordinates in a frame turned by ``angle`` (radian, (B, 1, 1, 1))."""
    c, s = torch.cos(angle), torch.sin(angle)
    return c * x + s * y, -s * x + c * y


def value_noise(dice: Dice, size: int, cells: int, channels: int = 1) -> torch.Tensor:
    """Smooth noise in -1..1 of shape (B, channels, size, size)."""
    coarse = dice.uniform(-1, 1, channels, cells, cells)
    return F.interpolate(coarse, size=(size, size), mode="bilinear", align_corners=True)


def printed(
    bank: tuple[torch.Tensor, torch.Tensor], pick: torch.Tensor,
    x: torch.Tensor, y: torch.Tensor, height: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    """Coverage of one word a sample.

    ``bank`` is (strips (N, h, w) in 0..1, aspect (N,)); x runs along the text
    from the word's middle, y down; ``height`` (B, 1, 1, 1) in the same unit.
    """
    strips, aspect = bank
    chosen = strips[pick][:, None]
    wide = column(aspect[pick]) * height
    u = (x + wide / 2) / height * chosen.shape[2] / chosen.shape[3] * 2 - 1
    v = y / height * 2
    grid = torch.stack([u[:, 0], v[:, 0]], dim=-1)
    inside = (x.abs() < wide / 2).float()
    return F.grid_sample(chosen, grid, align_corners=False) * inside


def blur(image: torch.Tensor, sigma: torch.Tensor) -> torch.Tensor:
    """Gaussian blur with its own sigma (px, (B,)) for every sample."""
    reach = max(1, math.ceil(3 * float(sigma.max())))
    steps = torch.arange(-reach, reach + 1, device=image.device).float()
    kernel = torch.exp(-0.5 * (steps[None] / sigma[:, None].clamp(min=0.05)) ** 2)
    kernel = kernel / kernel.sum(1, keepdim=True)
    batch, channels, rows, cols = image.shape
    flat = image.reshape(1, batch * channels, rows, cols)
    weights = kernel.repeat_interleave(channels, 0)[:, None]
    flat = F.pad(flat, (reach, reach, reach, reach), mode="replicate")
    flat = F.conv2d(flat, weights[:, :, None, :], groups=batch * channels)
    flat = F.conv2d(flat, weights[:, :, :, None], groups=batch * channels)
    return flat.reshape(batch, channels, rows, cols)
