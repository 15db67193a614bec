"""Pin-1 marks, markings and the decoys that must not be taken for them.

What the marks mean and what misleads: facts collected under "where pin 1 shows"
in the project's sources (dimple, dot, notch, bevel, bar; ejector marks, paint,
equal dimples).  How often each occurs is our estimate from looking at boards.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch

from models.scenes.shaded.packages import FAMILIES, PackageBatch
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
)

# Share of packages with: dimple, dot, notch, bevel, bar, nothing.  One row a family.
MARK_SHARES = {
    "SOIC": (0.62, 0.10, 0.06, 0.08, 0.06, 0.08),
    "SSOP": (0.66, 0.10, 0.08, 0.04, 0.04, 0.08),
    "TSSOP": (0.68, 0.12, 0.02, 0.04, 0.06, 0.08),
    "MSOP": (0.66, 0.14, 0.02, 0.04, 0.06, 0.08),
    "TSOP": (0.68, 0.14, 0.08, 0.0, 0.02, 0.08),
    "QFP": (0.78, 0.14, 0.0, 0.0, 0.0, 0.08),
    "QFN": (0.46, 0.44, 0.0, 0.0, 0.0, 0.10),
    "SON": (0.44, 0.44, 0.0, 0.0, 0.02, 0.10),
    "SOT": (0.15, 0.20, 0.0, 0.0, 0.15, 0.50),
    "DIP": (0.20, 0.05, 0.70, 0.0, 0.0, 0.05),
    "PLCC": (0.80, 0.12, 0.0, 0.0, 0.0, 0.08),
    "other": (0.45, 0.45, 0.0, 0.0, 0.0, 0.10),
}
# Marking direction against the frame with pin 1 at the upper left and the rows at
# left and right, in quarter turns clockwise: 1 = upright text has pin 1 lower left.
TEXT_TURNS = {
    "SOIC": (0.05, 0.89, 0.03, 0.03),
    "SSOP": (0.05, 0.89, 0.03, 0.03),
    "TSSOP": (0.14, 0.80, 0.03, 0.03),
    "MSOP": (0.14, 0.80, 0.03, 0.03),
    "TSOP": (0.05, 0.89, 0.03, 0.03),
    "QFP": (0.46, 0.44, 0.06, 0.04),
    "QFN": (0.60, 0.28, 0.06, 0.06),
    "SON": (0.55, 0.36, 0.05, 0.04),
    "SOT": (0.04, 0.86, 0.04, 0.06),
    "DIP": (0.03, 0.91, 0.03, 0.03),
    "PLCC": (0.80, 0.12, 0.04, 0.04),
    "other": (0.08, 0.84, 0.04, 0.04),
}
LONG_ROW_TURNS = (0.88, 0.04, 0.05, 0.03)  # TSOP-I
INKS = (
    (0.75, 0.75, 0.72),
    (0.55, 0.55, 0.52),
    (0.62, 0.52, 0.35),
    (0.95, 0.95, 0.95),
    (0.4, 0.4, 0.42),
)
PAINTS = (
    (0.9, 0.1, 0.1),
    (0.1, 0.8, 0.2),
    (0.95, 0.95, 0.9),
    (0.9, 0.6, 0.7),
    (0.1, 0.3, 0.9),
    (0.9, 0.85, 0.1),
    (0.6, 0.9, 0.8),
)


@dataclass(frozen=True, slots=True)
class Top:
    """The body's top face: coordinates in mm, half sizes, edge softness, its tone."""

    x: torch.Tensor
    y: torch.Tensor
    half_x: torch.Tensor
    half_y: torch.Tensor
    soft: torch.Tensor
    tone: torch.Tensor


def _per_family(
    dice: Dice, table: dict[str, tuple[float, ...]], family: torch.Tensor
) -> torch.Tensor:
    rows = torch.tensor([table[name] for name in FAMILIES], device=dice.device)
    return rows[family]


def _disc(surface: torch.Tensor, top: Top, at: torch.Tensor, radius: torch.Tensor,
          light: torch.Tensor, amount: torch.Tensor, floor: torch.Tensor,
          shown: torch.Tensor) -> torch.Tensor:  # fmt: skip
    """A round recess lit from ``light`` (B, 2): far wall bright, near wall dark."""
    u, v = top.x - column(at[:, 0]), top.y - column(at[:, 1])
    r = torch.hypot(u, v)
    slope = (u * column(light[:, 0]) + v * column(light[:, 1])) / (r + 1e-3)
    wall = torch.exp(-(((r - radius * 0.85) / (0.22 * radius + 0.02)) ** 2))
    inside = coverage(r - radius, top.soft)
    change = 1 + inside * (floor - 1) + amount * wall * slope
    return (
        surface
        + (
            surface * change.clamp(0.2, 3.5)
            - surface
            + 0.04 * amount * wall * slope.clamp(min=0)
        )
        * shown
    )


def draw_marks(
    dice: Dice, surface: torch.Tensor, top: Top, package: PackageBatch
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
    """Draw the pin-1 mark of each package.

    Returns the surface, where the five body marks are (B, 5, 2) mm and which
    are there (B, 5).
    """
    shares = _per_family(dice, MARK_SHARES, package.family)
    kind = dice.pick(shares)
    is_soic = (package.family == 0).float()
    has = torch.stack([(kind == k).float() for k in range(5)], 1)
    has[:, 3] = torch.maximum(has[:, 3], is_soic * dice.chance(0.3))
    has[:, 2] = torch.maximum(has[:, 2], (kind == 0).float() * dice.chance(0.06))
    half = package.half * 0.965
    small = half.min(1).values
    radius = torch.minimum(dice.uniform(0.16, 0.55) * (0.7 + small / 6), 0.3 * small)
    inset_x = radius + dice.uniform(0.12, 0.9) * (0.4 + small / 5) * torch.exp(
        dice.normal(0.2)
    )
    inset_y = radius + dice.uniform(0.12, 0.9) * (0.4 + small / 5)
    corner = torch.stack([-half[:, 0] + inset_x, -half[:, 1] + inset_y], 1)
    corner = torch.minimum(corner, -0.12 * half)
    angle = dice.uniform(0, 2 * math.pi)
    light = torch.stack([torch.cos(angle), torch.sin(angle)], 1)
    depth, floor = column(dice.uniform(0.12, 0.9)), column(torch.exp(dice.normal(0.22)))
    surface = _equal_dimples(
        dice, surface, top, corner, column(radius), light, depth, floor, has[:, 0]
    )
    surface = _disc(
        surface, top, corner, column(radius), light, depth, floor, column(has[:, 0])
    )
    ink = top.tone + column(dice.uniform(0.12, 0.8)) * palette(dice, INKS)
    dot = coverage(
        torch.hypot(top.x - column(corner[:, 0]), top.y - column(corner[:, 1]))
        - column(radius * 0.8),
        top.soft,
    )
    surface = over(surface, ink, dot * column(has[:, 1]))
    notch_at = torch.stack([torch.zeros_like(small), -half[:, 1]], 1)
    surface = _disc(
        surface,
        top,
        notch_at,
        column(0.28 * half[:, 0] * dice.uniform(0.7, 1.3)),
        light,
        depth,
        floor,
        column(has[:, 2]),
    )
    bevel_wide = column(dice.uniform(0.25, 0.55))
    bevel = coverage(top.x + top.half_x - bevel_wide, top.soft)
    gain = column(torch.exp(dice.uniform(0.15, 0.8) * (dice.chance(0.6) * 2 - 1)))
    surface = surface * (1 + (gain - 1) * bevel * column(has[:, 3]))
    bar_y = -half[:, 1] + dice.uniform(0.1, 0.6)
    bar = coverage(
        (top.y - column(bar_y)).abs() - column(dice.uniform(0.05, 0.16)), top.soft
    )
    surface = over(surface, ink, bar * column(has[:, 4]))
    zero = torch.zeros_like(small)
    at = torch.stack([
        corner, corner, notch_at,
        torch.stack([-half[:, 0] + bevel_wide.flatten() / 2, zero], 1),
        torch.stack([zero, bar_y], 1),
    ], 1)  # fmt: skip
    return surface, at, has


def _equal_dimples(
    dice: Dice,
    surface: torch.Tensor,
    top: Top,
    corner: torch.Tensor,
    radius: torch.Tensor,
    light: torch.Tensor,
    depth: torch.Tensor,
    floor: torch.Tensor,
    has_dimple: torch.Tensor,
) -> torch.Tensor:
    """Mould ejector marks: larger and shallower than the dimple, at other places."""
    many = dice.chance(0.4)
    flips = torch.tensor([[1.0, -1], [-1, -1], [-1, 1]], device=dice.device)
    for k in range(3):
        shown = many * dice.chance(0.45)
        wide = radius * column(dice.uniform(1.15, 2.2))
        shallow = depth * column(dice.uniform(0.15, 0.55))
        at = corner * flips[k] * dice.uniform(0.75, 1.05, 1)
        surface = _disc(
            surface, top, at, wide, light, shallow, 1 + (floor - 1) * 0.4, column(shown)
        )
    middle = dice.chance(0.12)
    at = dice.uniform(-0.2, 0.2, 2) * torch.stack(
        [top.half_x.flatten(), top.half_y.flatten()], 1
    )
    big = column(dice.uniform(0.25, 0.5)) * torch.minimum(top.half_x, top.half_y)
    return _disc(
        surface, top, at, big, light, depth * 0.4, 1 + (floor - 1) * 0.3, column(middle)
    )


def draw_marking(
    dice: Dice, surface: torch.Tensor, top: Top, package: PackageBatch,
    bank: tuple[torch.Tensor, torch.Tensor],
) -> torch.Tensor:  # fmt: skip
    """One to five lines of text, sometimes a logo, faint or strong."""
    shares = _per_family(dice, TEXT_TURNS, package.family)
    long_row = torch.tensor(LONG_ROW_TURNS, device=dice.device).expand_as(shares)
    shares = torch.where(package.is_long_row[:, None], long_row, shares)
    quarter = dice.pick(shares)
    u, v = turned(top.x, top.y, column(quarter) * math.pi / 2)
    is_across = (quarter % 2 == 1).float()
    wide = column(is_across) * top.half_y + column(1 - is_across) * top.half_x
    tall = column(is_across) * top.half_x + column(1 - is_across) * top.half_y
    lines = dice.index(4).float() + 1
    block = column(dice.uniform(0.45, 0.82)) * tall
    height = torch.minimum(1.45 * block / column(lines), 0.7 * tall)
    is_left = column(dice.chance(0.35))
    strength = column(dice.uniform(0.04, 1.0) * dice.chance(0.9))
    ink = palette(dice, INKS)
    has_logo = dice.chance(0.25)
    for k in range(4):
        pick = dice.index(bank[1].shape[0])
        size = height * column(dice.uniform(0.75, 1.0)) * 0.62
        length = column(bank[1][pick]) * size
        size = size * (1.75 * wide / length).clamp(max=1)
        length = column(bank[1][pick]) * size
        at_u = (
            is_left * (-0.86 * wide + length / 2)
            + (1 - is_left) * column(dice.normal(0.03)) * wide
        )
        at_v = (k - (column(lines) - 1) / 2) * height
        cover = printed(bank, pick, u - at_u, v - at_v, size)
        if k == 0:
            logo = (torch.hypot(u - at_u, v - at_v) - 0.5 * size).abs() - 0.12 * size
            cover = torch.where(column(has_logo) > 0, coverage(logo, top.soft), cover)
        cover = cover * column((lines > k).float()) * strength
        surface = over(surface, surface + ink * 0.8, cover)
    return surface


def draw_decoys_on_body(dice: Dice, surface: torch.Tensor, top: Top) -> torch.Tensor:
    """Paint dots, labels, scribble and scratches."""
    half = torch.cat([top.half_x, top.half_y], 1).flatten(1)
    at = dice.uniform(-0.85, 0.85, 2) * half
    u, v = top.x - column(at[:, 0]), top.y - column(at[:, 1])
    paint = palette(dice, PAINTS) * column(dice.uniform(0.6, 1))
    lump = 1 + 0.2 * torch.sin(3 * torch.atan2(v, u) + column(dice.uniform(0, 6)))
    radius = column(dice.uniform(0.1, 0.32)) * torch.minimum(top.half_x, top.half_y)
    spot = coverage(torch.hypot(u, v) - radius * lump, top.soft)
    surface = over(
        surface, paint, spot * column(dice.chance(0.12) * dice.uniform(0.6, 1))
    )
    p, q = turned(u, v, column(dice.normal(0.3)))
    label = coverage(box(p, q, 0.55 * top.half_x, 0.45 * top.half_y), top.soft)
    surface = over(surface, paint * 0.5 + 0.4, label * column(dice.chance(0.02)))
    for _ in range(2):
        a, b = dice.uniform(-0.9, 0.9, 2) * half, dice.uniform(-0.9, 0.9, 2) * half
        line = coverage(
            segment(top.x, top.y, a, b) - column(dice.uniform(0.01, 0.12)), top.soft
        )
        surface = over(surface, surface + 0.3, line * column(dice.chance(0.06)))
    return surface


def draw_decoys_over(dice: Dice, image: torch.Tensor) -> torch.Tensor:
    """What lies over the picture: drawn arrows, circles and frames, wires, glare."""
    size = image.shape[-1]
    axis = torch.arange(size, device=image.device).float()
    x, y = axis[None, None, None, :], axis[None, None, :, None]
    red = column(
        torch.tensor([0.95, 0.08, 0.08], device=dice.device)[None]
    ) * torch.exp(column(dice.normal(0.2, 3)))
    a, b = dice.uniform(0, size, 2), dice.uniform(0, size, 2)
    width = column(dice.uniform(0.006, 0.02)) * size
    line = segment(x, y, a, b) - width
    ring = (
        torch.hypot(x - column(a[:, :1]), y - column(a[:, 1:]))
        - column(dice.uniform(0.05, 0.2)) * size
    ).abs() - width
    middle = column(dice.uniform(0.4, 0.6, 2) * size)
    frame = (
        box(
            x - middle[:, :1],
            y - middle[:, 1:],
            column(dice.uniform(0.3, 0.48)) * size,
            column(dice.uniform(0.3, 0.48)) * size,
        ).abs()
        - width
    )
    kinds = torch.stack([line, ring, frame], 1)
    chosen = kinds.gather(
        1, dice.index(3).reshape(-1, 1, 1, 1, 1).expand(-1, 1, *kinds.shape[2:])
    )[:, 0]
    image = over(image, red, coverage(chosen, 1.5) * column(dice.chance(0.06)))
    wire = segment(
        x, y, dice.uniform(-0.2, 1.2, 2) * size, dice.uniform(-0.2, 1.2, 2) * size
    )
    thick = column(dice.uniform(0.01, 0.05)) * size
    tone = column(dice.uniform(0.05, 0.95, 3)) * (1.1 - (wire / thick) ** 2).clamp(
        0.2, 1
    )
    image = over(image, tone, coverage(wire - thick, 1.5) * column(dice.chance(0.06)))
    at = dice.uniform(0, size, 2)
    far = torch.hypot(x - column(at[:, :1]), y - column(at[:, 1:]))
    glare = torch.exp(-((far / (column(dice.uniform(0.05, 0.4)) * size)) ** 2))
    return image + glare * column(dice.chance(0.18) * dice.uniform(0.1, 1.0))
