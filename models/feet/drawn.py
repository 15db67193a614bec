"""Feet drawn flat, surface by surface, for the network that measures them.

Brightness, gradients and edges are drawn at random: what path tracing leaves out.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
import torch.nn.functional as F

from models.scenes.shaded.primitives import Dice, box, column, coverage, over
from vision.foot_patches import COLS, EDGE_ROW, PX_PER_WIDTH, ROWS, TOE_ROW

WALL_STEPS = 6
HALF_COLS = (COLS - 1) / 2


@dataclass(frozen=True, slots=True)
class Drawn:
    """Pictures (B, 3, ROWS, COLS), land (B, 1, ROWS, COLS), wall (B, 2) lead widths.

    Toe (B,) and sides (B, 2) in px.
    """

    picture: torch.Tensor
    land: torch.Tensor
    wall: torch.Tensor
    toe: torch.Tensor
    sides: torch.Tensor


def draw_flat(dice: Dice) -> Drawn:
    """Draw a batch of feet on their lands."""
    off = torch.stack([dice.uniform(-0.5, 0.5), dice.uniform(-0.3, 0.3)], -1)
    turn = dice.normal(0.035)
    width = torch.exp(dice.normal(0.08))
    u, v = _frame(dice, off, turn)
    pitch, wide = dice.uniform(1.9, 3.6), dice.uniform(1.0, 2.0)
    wide = torch.minimum(wide, pitch - 0.35)
    past = dice.uniform(-0.2, 2.2)
    aside = dice.uniform(-0.35, 0.35) * wide
    length = dice.uniform(0.6, 2.4)
    wall_len, way = dice.uniform(0, 0.5) * dice.chance(0.8), dice.uniform(0, 6.2832)
    wall = wall_len[:, None] * torch.stack([torch.cos(way), torch.sin(way)], -1)
    image = _surface(dice, u, v, dice.uniform(0.05, 0.45)) + _cloud(dice)
    land = _surface(dice, u, v, dice.uniform(0.3, 0.95))
    at_land = _land(u, v, past, aside, wide)
    for k in (-1, 0, 1):
        beside = _land(u, v - column(pitch) * k, past, aside, wide)
        image = over(image, land, coverage(beside, 1.0))
    image = _soldered(dice, image, u, v, width, length)
    image = _leads(dice, image, u, v, width, length, wall, pitch)
    toe, sides = _truth(off, turn, width)
    return Drawn(image.clamp(0, 1), coverage(at_land, 2.0), wall, toe, sides)


def _frame(
    dice: Dice, off: torch.Tensor, turn: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor]:
    """Outward from the toe and across, in lead widths, of every pixel."""
    rows, cols = torch.meshgrid(
        torch.arange(ROWS, device=dice.device) - float(TOE_ROW),
        torch.arange(COLS, device=dice.device) - HALF_COLS, indexing="ij",
    )  # fmt: skip
    u = rows[None, None] / PX_PER_WIDTH - column(off[:, 0])
    v = cols[None, None] / PX_PER_WIDTH - column(off[:, 1])
    c, s = column(torch.cos(turn)), column(torch.sin(turn))
    return c * u + s * v, -s * u + c * v


def _truth(
    off: torch.Tensor, turn: torch.Tensor, width: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor]:
    """Row of the toe's middle, columns of both sides at the row where they count."""
    c, s = torch.cos(turn), torch.sin(turn)
    toe = TOE_ROW + PX_PER_WIDTH * off[:, 0]
    row = (EDGE_ROW - TOE_ROW) / PX_PER_WIDTH - off[:, 0]
    sides = [
        HALF_COLS + PX_PER_WIDTH * (off[:, 1] + (half * width + s * row) / c)
        for half in (-0.5, 0.5)
    ]
    return toe, torch.stack(sides, -1)


def _land(
    u: torch.Tensor, v: torch.Tensor, past: torch.Tensor, aside: torch.Tensor,
    wide: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    """Signed distance in px to a land that reaches far inward."""
    half = 2.5
    return PX_PER_WIDTH * box(
        u - column(past) + half, v - column(aside), half, column(wide) / 2, 0.1
    )


def _soldered(
    dice: Dice, image: torch.Tensor, u: torch.Tensor, v: torch.Tensor,
    width: torch.Tensor, length: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    """Lay solder beside the foot and past its toe."""
    left, right = (dice.uniform(0, 0.25) for _ in range(2))
    past = dice.uniform(0, 0.7)
    half_u, half_v = (length + past) / 2 + 0.4, (width + left + right) / 2
    away = PX_PER_WIDTH * box(
        u - column(past - half_u), v - column((right - left) / 2),
        column(half_u), column(half_v), column(dice.uniform(0.02, 0.3)),
    )  # fmt: skip
    colour = _surface(dice, u, v, dice.uniform(0.2, 1.0))
    there = column(dice.chance(0.9))
    return over(image, colour, there * coverage(away, column(dice.uniform(1.0, 4.0))))


def _leads(
    dice: Dice, image: torch.Tensor, u: torch.Tensor, v: torch.Tensor,
    width: torch.Tensor, length: torch.Tensor, wall: torch.Tensor,
    pitch: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    """Lay walls, upper faces, bends, shoulders and the body, neighbours too.

    Shoulders stand a few times as high as feet and are seen that much further aside.
    """
    level = dice.uniform(0.35, 1.0)
    round_by = column(dice.uniform(0.02, 0.15))
    dark, bend, upper = (
        _surface(dice, u, v, x)
        for x in (dice.uniform(0.05, 0.6), dice.uniform(0.1, 0.95), level * 1.03)
    )
    face = _surface(dice, u, v, level)
    higher = dice.uniform(1.0, 4.0)
    heel = column(-length)
    rise = (dice.uniform(0.2, 1.0) - higher * wall[:, 0]).clamp(min=0.08)
    bend_end = heel - column(rise)
    leaning = ((heel - u) / column(rise)).clamp(0, 1) * column(higher * wall[:, 1])
    for k in (-1, 1, 0):
        across = v - column(pitch) * k
        down = torch.stack(
            [
                _foot(u + column(wall[:, 0]) * t, across + column(wall[:, 1]) * t,
                      width, length, round_by)
                for t in torch.linspace(0, 1, WALL_STEPS).tolist()
            ]
        ).amin(0)  # fmt: skip
        on_foot = PX_PER_WIDTH * (heel - u)
        down = torch.maximum(down, on_foot)
        image = over(image, dark, coverage(down, 1.0))
        top = _foot(u, across, width, length, round_by)
        image = over(image, face, coverage(torch.maximum(top, on_foot), 1.0))
        aside = _foot(u, across - leaning, width, length, round_by)
        bent = torch.maximum(aside, -on_foot)
        image = over(image, bend, coverage(bent, 1.0))
        level_part = torch.maximum(aside, PX_PER_WIDTH * (u - bend_end))
        image = over(image, upper, coverage(level_part, 1.0))
    body_end = torch.minimum(
        bend_end - column(dice.uniform(-0.5, 1.5)), heel + column(dice.uniform(-1, 0.4))
    )
    body = PX_PER_WIDTH * (u - body_end)
    return over(
        image, _surface(dice, u, v, dice.uniform(0.03, 0.25)), coverage(body, 1.0)
    )


def _foot(
    u: torch.Tensor, v: torch.Tensor, width: torch.Tensor, length: torch.Tensor,
    round_by: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    """Signed distance in px to a lead as seen from above, its toe at u = 0."""
    half = column(length) / 2 + 2.0
    return PX_PER_WIDTH * box(u + half, v, half, column(width) / 2, round_by)


def _surface(
    dice: Dice, u: torch.Tensor, v: torch.Tensor, level: torch.Tensor
) -> torch.Tensor:
    """Colour of a surface, brighter to one side."""
    tint = 1 + dice.normal(0.06, 3)
    slope = dice.uniform(0, 0.25) * dice.chance(0.7)
    way = dice.uniform(0, 6.2832)
    run = column(torch.cos(way)) * u + column(torch.sin(way)) * v
    return column(level[:, None] * tint) * (1 + column(slope) * run)


def _cloud(dice: Dice) -> torch.Tensor:
    coarse = dice.normal(0.03, 1, 12, 8)
    return F.interpolate(coarse, size=(ROWS, COLS), mode="bicubic")
