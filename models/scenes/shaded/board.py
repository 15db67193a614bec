"""The board under and around the package: mask, copper, silkscreen, neighbours."""

from __future__ import annotations

import math

import torch

from models.scenes.shaded.packages import PackageBatch
from models.scenes.shaded.primitives import (
    Dice,
    box,
    column,
    coverage,
    over,
    palette,
    printed,
    segment,
    turned,
    value_noise,
)

MASK_COLOURS = (
    (0.05, 0.30, 0.14), (0.10, 0.42, 0.20), (0.03, 0.18, 0.10), (0.18, 0.52, 0.35),
    (0.05, 0.12, 0.38), (0.04, 0.22, 0.50), (0.03, 0.05, 0.16), (0.50, 0.06, 0.05),
    (0.75, 0.15, 0.10), (0.04, 0.04, 0.05), (0.09, 0.08, 0.08), (0.20, 0.06, 0.32),
    (0.80, 0.80, 0.78), (0.55, 0.35, 0.15), (0.10, 0.45, 0.45), (0.22, 0.24, 0.24),
)  # fmt: skip
METALS = (
    (0.72, 0.72, 0.70),
    (0.60, 0.60, 0.62),
    (0.85, 0.70, 0.40),
    (0.80, 0.60, 0.45),
)
INKS = ((0.92, 0.92, 0.90), (0.85, 0.87, 0.80), (0.95, 0.90, 0.60))
CHIP_TONES = (
    (0.45, 0.33, 0.22), (0.05, 0.05, 0.05), (0.60, 0.50, 0.40), (0.25, 0.20, 0.15),
    (0.80, 0.60, 0.10),
)  # fmt: skip
LIGHT_TONES = ((0.6, 0.6, 0.6), (0.85, 0.85, 0.8), (0.7, 0.65, 0.5), (0.8, 0.2, 0.1))
DARK_TONES = ((0.05, 0.05, 0.06), (0.1, 0.1, 0.1), (0.03, 0.03, 0.03), (0.2, 0.2, 0.22))

Plane = tuple[torch.Tensor, torch.Tensor]


def draw_mask_colour(dice: Dice) -> torch.Tensor:
    """A solder mask's colour, (B, 3, 1, 1)."""
    return palette(dice, MASK_COLOURS) * torch.exp(column(dice.normal(0.15, 3)))


def draw_board(
    dice: Dice, plane: Plane, soft: torch.Tensor, package: PackageBatch,
    base: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    """Mask over copper with traces, vias and flux, before any part stands on it."""
    size = plane[0].shape[-1]
    reach = 2.2 * package.half.max(1).values
    lift = column(dice.uniform(0.03, 0.5)) * (column(dice.chance(0.75)) * 2 - 1)
    copper = (base * (1 + lift) + 0.06 * lift.clamp(min=0)).clamp(0, 1)
    image = base.expand(-1, -1, size, size)
    pour = value_noise(dice, size, 5) > column(dice.uniform(-0.3, 0.6))
    image = over(image, copper, pour.float() * column(dice.chance(0.6)))
    for _ in range(12):
        image = _draw_trace(dice, image, copper, plane, soft, reach)
    image = _draw_vias(dice, image, plane, soft, reach, base)
    uneven = 0.05 * value_noise(dice, size, 24) + 0.06 * value_noise(dice, size, 9)
    image = image * (1 + uneven)
    flux = (value_noise(dice, size, 7) > 0.3).float()
    amount = column(dice.chance(0.2) * dice.uniform(0, 0.2))
    return over(image, column(dice.uniform(0.3, 0.7, 3)), flux * amount)


def _draw_trace(
    dice: Dice, image: torch.Tensor, copper: torch.Tensor, plane: Plane,
    soft: torch.Tensor, reach: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    start = dice.uniform(-1, 1, 2) * reach[:, None]
    angle = dice.index(8).float() * math.pi / 4
    bend = angle + (dice.index(3).float() - 1) * math.pi / 4
    middle = start + (dice.uniform(0.1, 0.9) * reach)[:, None] * torch.stack(
        [torch.cos(angle), torch.sin(angle)], 1
    )
    end = middle + (dice.uniform(0.1, 1.2) * reach)[:, None] * torch.stack(
        [torch.cos(bend), torch.sin(bend)], 1
    )
    distance = torch.minimum(
        segment(*plane, start, middle), segment(*plane, middle, end)
    )
    cover = coverage(distance - column(dice.uniform(0.05, 0.18)), soft)
    return over(image, copper * column(dice.uniform(0.9, 1.15)), cover)


def _draw_vias(
    dice: Dice, image: torch.Tensor, plane: Plane, soft: torch.Tensor,
    reach: torch.Tensor, base: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    is_tented = column(dice.chance(0.5))
    ring = palette(dice, METALS) * (1 - is_tented) + base * 1.3 * is_tented
    for k in range(10):
        at = dice.uniform(-1, 1, 2) * reach[:, None]
        distance = torch.hypot(plane[0] - column(at[:, 0]), plane[1] - column(at[:, 1]))
        radius = column(dice.uniform(0.12, 0.3)) * (1.0 if k else 3.0)
        image = over(image, ring, coverage(distance - radius * 1.8, soft))
        image = over(image, base * 0.4, coverage(distance - radius, soft))
    return image


def draw_silkscreen(
    dice: Dice, image: torch.Tensor, plane: Plane, soft: torch.Tensor,
    package: PackageBatch, bank: tuple[torch.Tensor, torch.Tensor],
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:  # fmt: skip
    """Ink: outline of the package, its pin-1 mark, designators and boxes.

    Returns the picture, and of the pin-1 mark where it is (B, 2) mm and
    whether there is one (B,).
    """
    ink = palette(dice, INKS) * column(dice.uniform(0.7, 1.0))
    cover = _outline_ink(dice, plane, soft, package)
    mark, at, has_mark = _pin1_ink(dice, plane, soft, package)
    cover = torch.maximum(cover, mark)
    keep_out = package.half + package.reach[:, None] + 0.3
    scale = 0.4 + package.half.max(1).values / 5
    for _ in range(5):
        where = _outside(dice, keep_out, 1.1)
        angle = column(dice.index(4).float()) * math.pi / 2
        u, v = turned(
            plane[0] - column(where[:, 0]), plane[1] - column(where[:, 1]), angle
        )
        height = column(dice.uniform(0.6, 1.6) * scale)
        word = printed(bank, dice.index(bank[1].shape[0]), u, v, height)
        cover = torch.maximum(cover, word * column(dice.chance(0.7)))
        frame = box(u, v, height * column(dice.uniform(0.5, 2)), height * 0.6)
        shown = column(dice.chance(0.25))
        cover = torch.maximum(cover, coverage(frame.abs() - 0.08, soft) * shown)
    return over(image, ink, cover * column(dice.uniform(0.55, 1.0))), at, has_mark


def _outline_ink(
    dice: Dice, plane: Plane, soft: torch.Tensor, package: PackageBatch
) -> torch.Tensor:
    x, y = plane
    half_x, half_y = column(package.half[:, 0]), column(package.half[:, 1])
    gap = column(dice.uniform(0.1, 0.6))
    span = column(package.reach) * column(dice.index(2).float())
    four = column((package.leads[:, 1] > 0).float())
    wide_x, wide_y = half_x + gap + span, half_y + gap + span * four
    width = column(dice.uniform(0.05, 0.11))
    frame = coverage(box(x, y, wide_x, wide_y).abs() - width, soft)
    ends = (y.abs() > half_y).float()
    corner = ((x.abs() > 0.75 * wide_x) & (y.abs() > 0.75 * wide_y)).float()
    style = column(dice.index(5))
    shown = torch.where(style == 0, 1.0, torch.where(style == 1, ends, corner))
    return frame * shown * (style < 3)


def _pin1_ink(
    dice: Dice, plane: Plane, soft: torch.Tensor, package: PackageBatch
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
    x, y = plane
    scale = 0.55 + package.half.max(1).values / 10
    out = dice.uniform(0.25, 0.9)
    beside = dice.chance(0.5)
    half_x, half_y = package.half[:, 0], package.half[:, 1]
    at_x = -(half_x + beside * (package.reach + 0.3) + out * (1 - beside))
    at_y = -(half_y + out * beside - 0.4 * (1 - beside))
    four = package.leads[:, 1] > 0
    at_x = torch.where(four, -(half_x + out + 0.2), at_x)
    at_y = torch.where(four, -(half_y + out + 0.2), at_y)
    u, v = x - column(at_x), y - column(at_y)
    size = column(scale * dice.uniform(0.18, 0.5))
    dot = torch.hypot(u, v) - size
    p, q = turned(u, v, column(dice.index(4).float()) * math.pi / 2)
    triangle = torch.maximum(q - size, 0.85 * p.abs() - 0.5 * q - 0.5 * size)
    bar = box(p, q, size * 2.2, 0.09)
    bracket = torch.minimum(
        box(u - size * 1.5, v, size * 2, 0.08), box(u, v - size * 1.5, 0.08, size * 2)
    )
    styles = torch.cat([dot, dot.abs() - 0.08, triangle, bar, bracket], dim=1)
    kind = column(dice.index(5)).expand(-1, 1, *styles.shape[2:])
    has_mark = dice.chance(0.55)
    at = torch.stack([at_x, at_y], 1)
    return coverage(styles.gather(1, kind), soft) * column(has_mark), at, has_mark


def _outside(dice: Dice, keep_out: torch.Tensor, reach: float) -> torch.Tensor:
    """A place round the package but off it, (B, 2) mm."""
    long = keep_out.max(1).values
    side = dice.index(4)
    along = dice.uniform(-1.3, 1.3) * long
    away = dice.uniform(0.15, reach) * long
    on_x = (side % 2 == 0).float()
    sign = 1.0 - 2.0 * (side < 2).float()
    beyond_x, beyond_y = keep_out[:, 0] + away, keep_out[:, 1] + away
    at_x = on_x * sign * beyond_x + (1 - on_x) * along
    at_y = (1 - on_x) * sign * beyond_y + on_x * along
    return torch.stack([at_x, at_y], 1)


def draw_neighbours(
    dice: Dice, image: torch.Tensor, plane: Plane, soft: torch.Tensor,
    package: PackageBatch, *, with_packages: bool = True,
) -> torch.Tensor:  # fmt: skip
    """Passives and other parts; ``with_packages`` also such as look like packages."""
    keep_out = package.half + package.reach[:, None] + 0.15
    metal = palette(dice, METALS)
    for k in range(9):
        where = _outside(dice, keep_out, 1.2)
        angle = column(dice.index(2).float()) * math.pi / 2
        place = turned(
            plane[0] - column(where[:, 0]), plane[1] - column(where[:, 1]), angle
        )
        clear = (where.abs() - keep_out).max(1).values
        limit = (clear * 0.9).clamp(min=0.05)
        if k < 6:
            image = _draw_passive(dice, image, place, soft, limit, metal)
        else:
            tones = DARK_TONES + LIGHT_TONES[:2] if with_packages else LIGHT_TONES
            legs = 0.7 if with_packages else 0.15
            image = _draw_other(dice, image, place, soft, limit, metal, tones, legs)
    return image


def _draw_passive(
    dice: Dice, image: torch.Tensor, place: Plane, soft: torch.Tensor,
    limit: torch.Tensor, metal: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    u, v = place
    half = torch.minimum(dice.uniform(0.3, 1.1), limit)
    long, wide = column(half), column(half * dice.uniform(0.4, 0.7))
    shown = column(dice.chance(0.75))
    fillet = coverage(box(u, v, long * 1.3, wide * 1.15, 0.1), soft)
    wave = torch.sin(3 * u / long + column(dice.uniform(0, 6)))
    image = over(image, metal * (0.55 + 0.5 * wave), fillet * shown)
    ends = coverage(box(u, v, long, wide), soft)
    image = over(image, metal * column(dice.uniform(0.7, 1.1)), ends * shown)
    middle = coverage(box(u, v, long * 0.55, wide), soft)
    return over(image, palette(dice, CHIP_TONES), middle * shown)


def _draw_other(
    dice: Dice, image: torch.Tensor, place: Plane, soft: torch.Tensor,
    limit: torch.Tensor, metal: torch.Tensor,
    tones: tuple[tuple[float, float, float], ...], legs_share: float,
) -> torch.Tensor:  # fmt: skip
    u, v = place
    half = torch.minimum(dice.uniform(0.8, 4.0), limit)
    shown = column(dice.chance(0.6))
    long, wide = column(half), column(half * dice.uniform(0.5, 1.0))
    pitch = column(dice.uniform(0.4, 1.4))
    tooth = (torch.remainder(u / pitch, 1.0) - 0.5).abs() * pitch - 0.16 * pitch
    legs = torch.maximum(box(u, v, long, wide + 0.5 + 0.12 * long), tooth)
    shown_legs = shown * column(dice.chance(legs_share))
    bright = metal * column(dice.uniform(0.6, 1.1))
    image = over(image, bright, coverage(legs, soft) * shown_legs)
    is_round = column(dice.chance(0.2))
    round_one = torch.hypot(u, v) - wide
    body = box(u, v, long, wide) * (1 - is_round) + is_round * round_one
    shade = 1 + 0.3 * u / (long + 1e-3) * column(dice.normal(0.5))
    return over(image, palette(dice, tones) * shade, coverage(body, soft) * shown)
