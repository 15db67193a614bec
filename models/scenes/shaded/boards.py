"""Whole boards with many packages, for the network that finds them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F

from models.scenes.shaded import board, marks
from models.scenes.shaded.camera import develop, draw_camera
from models.scenes.shaded.crops import Bank, draw_light
from models.scenes.shaded.packages import draw_packages
from models.scenes.shaded.primitives import Dice, column

PATCH_PX = 192


@dataclass(frozen=True, slots=True)
class BoardBatch:
    """Pictures of boards; corners start anywhere and run counter-clockwise."""

    image: torch.Tensor  # (B, 3, H, W) 0..1
    corners: torch.Tensor  # (B, K, 4, 2) px
    is_there: torch.Tensor  # (B, K) 0 or 1


def shade_boards(
    batch: int, size: int, generator: torch.Generator, banks: tuple[Bank, Bank],
    *, packages: int = 4,
) -> BoardBatch:  # fmt: skip
    """Draw boards that carry up to ``packages`` packages of very different sizes."""
    dice = Dice(batch, generator)
    base = board.draw_mask_colour(dice)
    image = _draw_ground(dice, size, base, banks[1])
    many = Dice(batch * packages, generator)
    drawn, taken = draw_light(
        many, PATCH_PX, banks, base.repeat_interleave(packages, 0), fill=(0.4, 0.62)
    )
    corners = drawn.corners.reshape(batch, packages, 4, 2)
    light = drawn.image.reshape(batch, packages, 3, PATCH_PX, PATCH_PX)
    window = taken.reshape(batch, packages, 1, PATCH_PX, PATCH_PX)
    centre, zoom, angle, is_there = _place(dice, size, packages)
    placed = []
    for k in range(packages):
        inverse, forward = _similarity(centre[:, k], zoom[:, k], angle[:, k], size)
        grid = F.affine_grid(inverse, [batch, 3, size, size], align_corners=False)
        stack = torch.cat([light[:, k], window[:, k]], 1)
        small = _shrunk(stack, zoom[:, k])
        warped = F.grid_sample(small, grid, align_corners=False)
        cover = warped[:, 3:] * column(is_there[:, k])
        image = image + (warped[:, :3] - image) * cover
        ones = torch.ones_like(corners[:, k, :, :1])
        placed.append(torch.cat([corners[:, k], ones], -1) @ forward.transpose(1, 2))
    image = marks.draw_decoys_over(dice, image)
    return BoardBatch(
        image=develop(image, dice), corners=torch.stack(placed, 1), is_there=is_there
    )


def _draw_ground(dice: Dice, size: int, base: torch.Tensor, bank: Bank) -> torch.Tensor:
    """A board full of everything but packages, sometimes beside its edge."""
    empty = draw_packages(dice.batch, dice.generator)
    camera = draw_camera(dice, empty.half, size, (0.08, 0.3))
    soft = column(1.2 / camera.px_per_mm)
    ground = camera.grid(torch.zeros_like(empty.height), size)
    image = board.draw_board(dice, ground, soft, empty, base)
    for k in range(4):
        reach = 0.4 * size / camera.px_per_mm[:, None]
        shift = dice.uniform(-1, 1, 2) * reach * (k > 0)
        moved = (ground[0] - column(shift[:, 0]), ground[1] - column(shift[:, 1]))
        image, _, _ = board.draw_silkscreen(dice, image, moved, soft, empty, bank)
        image = board.draw_neighbours(
            dice, image, moved, soft, empty, with_packages=False
        )
    axis = torch.linspace(-1, 1, size, device=dice.device)
    angle, edge = column(dice.uniform(0, 2 * math.pi)), column(dice.uniform(0.0, 1.2))
    beyond = (
        torch.cos(angle) * axis[None, None, None, :]
        + torch.sin(angle) * axis[None, None, :, None]
        - edge
    )
    desk = column(dice.uniform(0.02, 0.95, 3))
    off = (beyond > 0).float() * column(dice.chance(0.3))
    return image + (desk - image) * off


def _place(
    dice: Dice, size: int, packages: int
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor, torch.Tensor]:
    """Centres, sizes and angles; a package upon an earlier one is left out."""
    zoom = torch.exp(dice.uniform(math.log(0.13), math.log(1.5), packages))
    zoom[:, 0] = torch.exp(dice.uniform(math.log(0.16), math.log(3.5)))
    centre = dice.uniform(0.03, 0.97, packages, 2) * size
    is_there = dice.chance(0.8, packages)
    radius = zoom * PATCH_PX * 0.42
    for k in range(1, packages):
        apart = (centre[:, :k] - centre[:, k : k + 1]).norm(dim=-1)
        clash = (apart < radius[:, :k] + radius[:, k : k + 1]) & (is_there[:, :k] > 0)
        is_there[:, k] *= 1 - clash.any(1).float()
    return centre, zoom, dice.uniform(-math.pi, math.pi, packages), is_there


def _similarity(
    centre: torch.Tensor, zoom: torch.Tensor, angle: torch.Tensor, size: int
) -> tuple[torch.Tensor, torch.Tensor]:
    """Maps for affine_grid (picture to patch, -1..1), and patch px to picture px."""
    c, s = torch.cos(angle), torch.sin(angle)
    turn = torch.stack([torch.stack([c, -s], 1), torch.stack([s, c], 1)], 1)
    forward = zoom[:, None, None] * turn
    middle = torch.full_like(centre, (PATCH_PX - 1) / 2)
    shift = centre - (forward @ middle[:, :, None])[:, :, 0]
    back = turn.transpose(1, 2) / zoom[:, None, None]
    scale = size / PATCH_PX
    at = centre / size * 2 - 1 + 1 / size
    offset = -(back * scale @ at[:, :, None])
    return torch.cat([back * scale, offset], 2), torch.cat(
        [forward, shift[:, :, None]], 2
    )


def _shrunk(patch: torch.Tensor, zoom: torch.Tensor) -> torch.Tensor:
    """The patch without the detail that a smaller copy cannot hold."""
    half = F.interpolate(F.avg_pool2d(patch, 2), size=PATCH_PX, mode="bilinear")
    fourth = F.interpolate(F.avg_pool2d(patch, 4), size=PATCH_PX, mode="bilinear")
    level = column(zoom)
    return torch.where(level > 0.6, patch, torch.where(level > 0.3, half, fourth))
