"""Where the camera stands, and what a phone makes of the light that it gets."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F

from models.scenes.shaded.primitives import Dice, blur, column, value_noise


@dataclass(frozen=True, slots=True)
class Camera:
    """A perspective camera over the package frame, z up towards it.

    ``rotation`` (B, 3, 3), ``px_per_mm`` (B,), ``centre`` (B, 2) px, ``distance``
    (B,) mm from the origin.
    """

    rotation: torch.Tensor
    px_per_mm: torch.Tensor
    centre: torch.Tensor
    distance: torch.Tensor

    def plane(self, z: torch.Tensor) -> torch.Tensor:
        """Homography (B, 3, 3) from mm on the plane at height z (B,) to px."""
        r, s, d = self.rotation, self.px_per_mm, self.distance
        w = torch.stack(
            [-r[:, 2, 0] / d, -r[:, 2, 1] / d, 1 - r[:, 2, 2] * z / d], dim=1
        )
        rows = [
            torch.stack([s * r[:, i, 0], s * r[:, i, 1], s * r[:, i, 2] * z], dim=1)
            + self.centre[:, i : i + 1] * w
            for i in (0, 1)
        ]
        return torch.stack([*rows, w], dim=1)

    def project(self, points: torch.Tensor, z: torch.Tensor) -> torch.Tensor:
        """Pixels (B, n, 2) of points (B, n, 2) mm at height z (B,)."""
        ones = torch.ones_like(points[..., :1])
        mapped = torch.cat([points, ones], dim=-1) @ self.plane(z).transpose(1, 2)
        return mapped[..., :2] / mapped[..., 2:]

    def grid(self, z: torch.Tensor, size: int) -> tuple[torch.Tensor, torch.Tensor]:
        """Coordinates in mm, each (B, 1, size, size), of every pixel on a plane."""
        inverse = torch.linalg.inv(self.plane(z))
        axis = torch.arange(size, device=z.device).float()
        ys, xs = torch.meshgrid(axis, axis, indexing="ij")
        pixels = torch.stack([xs, ys, torch.ones_like(xs)]).reshape(3, -1)
        mapped = (inverse @ pixels).reshape(-1, 3, size, size)
        safe = torch.where(mapped[:, 2:].abs() < 1e-4, 1e-4, mapped[:, 2:])
        return mapped[:, :1] / safe, mapped[:, 1:2] / safe


def draw_camera(
    dice: Dice, half: torch.Tensor, size: int, fill: tuple[float, float]
) -> Camera:
    """Place a camera so that the longer body side takes ``fill`` of the frame."""
    long = 2 * half.max(1).values
    is_oblique = dice.chance(0.25)
    tilt = torch.where(
        is_oblique > 0, dice.uniform(0.2, 0.75), dice.normal(0.12).abs().clamp(max=0.5)
    )
    axis = dice.uniform(0, 2 * math.pi)
    roll = dice.index(4).float() * math.pi / 2 + torch.where(
        dice.chance(0.3) > 0, dice.uniform(-0.78, 0.78), dice.normal(0.12)
    )
    x, y = torch.cos(axis), torch.sin(axis)
    c, s = torch.cos(tilt), torch.sin(tilt)
    tilted = torch.stack(
        [
            torch.stack([c + x * x * (1 - c), x * y * (1 - c), y * s], 1),
            torch.stack([x * y * (1 - c), c + y * y * (1 - c), -x * s], 1),
            torch.stack([-y * s, x * s, c], 1),
        ],
        1,
    )
    zero, one = torch.zeros_like(roll), torch.ones_like(roll)
    spin = torch.stack(
        [
            torch.stack([torch.cos(roll), -torch.sin(roll), zero], 1),
            torch.stack([torch.sin(roll), torch.cos(roll), zero], 1),
            torch.stack([zero, zero, one], 1),
        ],
        1,
    )
    return Camera(
        rotation=spin @ tilted,
        px_per_mm=size * dice.uniform(*fill) / long,
        centre=size / 2 + size * dice.normal(0.03, 2).clamp(-0.09, 0.09),
        distance=long * torch.exp(dice.uniform(math.log(3.5), math.log(25.0))),
    )


def develop(image: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Turn light into a phone's picture: glare, blur, colour, edges, noise, JPEG."""
    size = image.shape[-1]
    ramp = torch.linspace(-1, 1, size, device=image.device)
    slope_x, slope_y = column(dice.normal(0.2)), column(dice.normal(0.2))
    light = (
        1 + slope_x * ramp[None, None, None, :] + slope_y * ramp[None, None, :, None]
    )
    light = light + 0.15 * column(dice.chance(0.4)) * value_noise(dice, size, 4)
    image = image * light.clamp(0.25, 1.9) * column(torch.exp(dice.normal(0.3)))
    image = image * torch.exp(column(dice.normal(0.12, 3)))
    haze = column(dice.chance(0.2) * dice.uniform(0, 0.25))
    image = image * (1 - haze) + haze * column(dice.uniform(0.4, 1, 3))
    sigma = torch.where(
        dice.chance(0.2) > 0, dice.uniform(1.2, 3.2), dice.uniform(0.3, 1.2)
    )
    image = blur(image.clamp(0, 1.5), sigma)
    image = _resampled(image, dice)
    sharp = column(dice.chance(0.4) * dice.uniform(0.3, 2.0))
    image = image + sharp * (image - blur(image, torch.full_like(sigma, 1.0)))
    gamma = column(torch.exp(dice.normal(0.22)))
    image = image.clamp(1e-4, 1) ** gamma
    grey = image.mean(1, keepdim=True)
    image = grey + (image - grey) * column(dice.uniform(0.3, 1.4))
    noise = column(dice.uniform(0.002, 0.03) * dice.uniform(0.2, 1))
    image = image + noise * torch.randn(
        image.shape, generator=dice.generator, device=image.device
    )
    return _jpeg(image.clamp(0, 1), dice)


def _resampled(image: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Lose detail as a small photo does, for a third of the batch."""
    size, lost = image.shape[-1], dice.chance(0.33)
    scale = float(torch.rand((), generator=dice.generator, device=dice.device))
    small = max(24, round(size * (0.22 + 0.5 * scale)))
    coarse = F.interpolate(image, size=(small, small), mode="area")
    coarse = F.interpolate(
        coarse, size=(size, size), mode="bicubic", align_corners=False
    )
    return torch.where(column(lost) > 0, coarse, image)


def _jpeg(image: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Quantise the 8x8 cosine coefficients as JPEG does, for half of the batch."""
    device, (batch, channels, rows, cols) = image.device, image.shape
    k = torch.arange(8, device=device).float()
    basis = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * 0.5
    basis[0] *= math.sqrt(0.5)
    blocks = image.reshape(batch, channels, rows // 8, 8, cols // 8, 8)
    blocks = blocks.permute(0, 1, 2, 4, 3, 5)
    coefficients = basis @ blocks @ basis.T
    frequency = k[:, None] + k[None]
    step = (0.03 + 0.022 * frequency) * torch.exp(dice.uniform(-2.5, 0.4)).reshape(
        -1, 1, 1, 1, 1, 1
    )
    rough = torch.round(coefficients / step) * step
    back = (basis.T @ rough @ basis).permute(0, 1, 2, 4, 3, 5)
    back = back.reshape(batch, channels, rows, cols)
    return torch.where(column(dice.chance(0.5)) > 0, back, image).clamp(0, 1)
