"""Shaded training pictures: thousands a second, with exact truth.

The scene is drawn back to front on planes at several heights, so an oblique
camera sees side walls, hidden lead rows and parallax.  Nothing is cast: light is
a handful of gradients.  The path tracer draws the same kinds of scene slowly and
well; this module draws them by the million.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import torch

from models.scenes.shaded import board, marks
from models.scenes.shaded.camera import Camera, develop, draw_camera
from models.scenes.shaded.packages import PackageBatch, draw_packages
from models.scenes.shaded.primitives import (
    Dice,
    box,
    column,
    coverage,
    over,
    palette,
    value_noise,
)

MARK_KINDS = ("dimple", "dot", "notch", "bevel", "bar", "silkscreen")
METALS = board.METALS
Bank = tuple[torch.Tensor, torch.Tensor]


@dataclass(frozen=True, slots=True)
class Batch:
    """Pictures and their truth; pixels of the crop, corner 0 at pin 1, then ccw."""

    image: torch.Tensor  # (B, 3, H, W) 0..1
    corners: torch.Tensor  # (B, 4, 2) px
    family: torch.Tensor  # (B,) index into packages.FAMILIES
    count: torch.Tensor  # (B,) index into packages.LEAD_COUNTS
    body: torch.Tensor  # (B, 1, H, W) coverage of the body
    leads: torch.Tensor  # (B, 1, H, W) coverage of leads and their feet
    mark_at: torch.Tensor  # (B, len(MARK_KINDS), 2) px
    has_mark: torch.Tensor  # (B, len(MARK_KINDS)) 0 or 1


def shade_crops(
    batch: int, size: int, generator: torch.Generator, banks: tuple[Bank, Bank],
    *, fill: tuple[float, float] = (0.42, 0.74),
) -> Batch:  # fmt: skip
    """Draw one batch of pictures, each centred on one package.

    Parameters
    ----------
    batch, size : int
        Number of pictures and their side in px (a multiple of 8).
    generator : torch.Generator
        Seeded, on the device to draw on.
    banks : two pairs of tensors
        Words of markings and of silkscreen, from ``text.text_bank``.
    fill : pair of float
        Bounds of the longer body side as a share of the picture's side.
    """
    dice = Dice(batch, generator)
    base = board.draw_mask_colour(dice)
    drawn, _ = draw_light(dice, size, banks, base, fill=fill)
    image = marks.draw_decoys_over(dice, drawn.image)
    return replace(drawn, image=develop(image, dice))


def draw_light(
    dice: Dice, size: int, banks: tuple[Bank, Bank], base: torch.Tensor,
    *, fill: tuple[float, float],
) -> tuple[Batch, torch.Tensor]:  # fmt: skip
    """Draw packages on boards of the colour ``base``, before the camera's electronics.

    Also returns the coverage of the ground that the package and its leads take.
    """
    package = draw_packages(dice.batch, dice.generator)
    camera = draw_camera(dice, package.half, size, fill)
    soft = column(1.2 / camera.px_per_mm)
    zero = torch.zeros_like(package.height)
    ground = camera.grid(zero, size)
    image = board.draw_board(dice, ground, soft, package, base)
    image = _draw_lands(dice, image, ground, soft, package)
    # Now and then the chip sits the wrong way round on its board: the body decides.
    agrees = 1 - 2 * dice.chance(0.1)
    inked = (ground[0] * column(agrees), ground[1] * column(agrees))
    image, ink_at, has_ink = board.draw_silkscreen(
        dice, image, inked, soft, package, banks[1]
    )
    image = board.draw_neighbours(dice, image, ground, soft, package)
    image = _draw_shadow(dice, image, ground, package)
    image, leads = _draw_leads(dice, image, camera, soft, package, size)
    image, body, mark_at, has_mark = _draw_body(
        dice, image, camera, soft, package, banks[0]
    )
    ink_at = ink_at[:, None] * agrees[:, None, None]
    places = [camera.project(mark_at, package.height), camera.project(ink_at, zero)]
    taken = box(
        ground[0], ground[1],
        column(package.half[:, 0] + package.reach + 0.5),
        column(package.half[:, 1] + 0.5 + package.reach * (package.leads[:, 1] > 0)),
    )  # fmt: skip
    batch = Batch(
        image=image,
        corners=_silhouette(camera, package),
        family=package.family,
        count=package.count,
        body=body,
        leads=leads * (1 - body),
        mark_at=torch.cat(places, 1),
        has_mark=torch.cat([has_mark, has_ink[:, None]], 1),
    )
    return batch, torch.maximum(coverage(taken, soft * 4), body)


def _silhouette(camera: Camera, package: PackageBatch) -> torch.Tensor:
    """The four outer corners of the body as seen: top or waist, the farther out."""
    signs = torch.tensor(
        [[-1.0, -1], [-1, 1], [1, 1], [1, -1]], device=package.half.device
    )
    corners = signs[None] * package.half[:, None]
    top = camera.project(corners * 0.965, package.height)
    waist = camera.project(corners, 0.5 * package.height)
    foot = camera.project(corners * 0.97, 0.1 * package.height)
    middle = camera.project(torch.zeros_like(corners[:, :1]), 0.5 * package.height)
    stack = torch.stack([top, waist, foot], 2)
    outward = waist - middle
    reach = ((stack - middle[:, :, None]) * outward[:, :, None]).sum(-1)
    best = reach.argmax(2)[..., None, None].expand(-1, -1, 1, 2)
    return stack.gather(2, best)[:, :, 0]


def _sides(
    x: torch.Tensor, y: torch.Tensor, package: PackageBatch
) -> list[board.Plane]:
    """For each side in numbering order: coordinate along it, and outwards."""
    half_x, half_y = column(package.half[:, 0]), column(package.half[:, 1])
    return [(y, -x - half_x), (x, y - half_y), (-y, x - half_x), (-x, -y - half_y)]


def _across_lead(
    along: torch.Tensor, package: PackageBatch, side: int
) -> tuple[torch.Tensor, torch.Tensor]:
    """Distance from the nearest lead's middle line, and its index on its side."""
    count, pitch = column(package.leads[:, side]), column(package.pitch[:, side])
    place = along / pitch + (count - 1) / 2
    index = torch.minimum(place.round().clamp(min=0), (count - 1).clamp(min=0))
    return (place - index) * pitch + 1e3 * (count == 0), index


def _draw_lands(
    dice: Dice, image: torch.Tensor, ground: board.Plane, soft: torch.Tensor,
    package: PackageBatch,
) -> torch.Tensor:  # fmt: skip
    reach, half_x = column(package.reach), column(package.half[:, 0])
    leadless = (reach < 0.2).float()
    toe = reach + column(dice.uniform(0.1, 0.8)) * (0.6 + 0.4 * (1 - leadless))
    metal = palette(dice, METALS) * column(dice.uniform(0.5, 1.5))
    copper = image.mean((2, 3), keepdim=True) * column(dice.uniform(0.9, 1.6))
    fan_out = column(dice.chance(0.6))
    bump = column(dice.uniform(2, 9))
    phase = column(dice.uniform(0, 6.3))
    for side, (along, out) in enumerate(_sides(*ground, package)):
        across, index = _across_lead(along, package, side)
        width = column(package.lead_width[:, side])
        wide = width * column(dice.uniform(0.5, 0.85))
        trace = torch.maximum(across.abs() - 0.25 * width, -out)
        reach_of = toe + half_x * column(dice.uniform(0.1, 0.9)) * (
            0.5 + 0.5 * torch.sin(index * bump)
        )
        trace = torch.maximum(trace, out - reach_of)
        image = over(image, copper, coverage(trace, soft) * fan_out)
        heel = toe - torch.maximum(0.75 * reach, column(dice.uniform(0.25, 0.6))) - 0.1
        land = box(across, out - (toe + heel) / 2, wide, (toe - heel) / 2, 0.06)
        wave = torch.sin(phase + bump * (out - heel) / (toe - heel) + index)
        ridge = 1 - (across / wide).clamp(-1, 1) ** 2
        shine = metal * (0.45 + 0.3 * wave + 0.35 * ridge)
        image = over(image, shine.clamp(0, 1), coverage(land, soft))
    return image


def _draw_shadow(
    dice: Dice, image: torch.Tensor, ground: board.Plane, package: PackageBatch
) -> torch.Tensor:
    shift = dice.normal(0.35, 2) * package.height[:, None]
    distance = box(
        ground[0] - column(shift[:, 0]), ground[1] - column(shift[:, 1]),
        column(package.half[:, 0]), column(package.half[:, 1]),
    )  # fmt: skip
    dark = torch.sigmoid(-distance / column(0.25 * package.height + 0.05))
    return image * (1 - dark * column(dice.uniform(0.1, 0.75)))


def _draw_leads(
    dice: Dice, image: torch.Tensor, camera: Camera, soft: torch.Tensor,
    package: PackageBatch, size: int,
) -> tuple[torch.Tensor, torch.Tensor]:  # fmt: skip
    """Foot, slope and shoulder of every lead, each on its own plane."""
    metal = palette(dice, METALS) * column(dice.uniform(0.7, 1.6))
    reach = package.reach
    is_dip = (package.height > 2.8) & (reach < 1.3) & (package.lead_width[:, 0] > 1.0)
    shoulder = torch.where(reach < 0.2, reach, reach * dice.uniform(0.15, 0.4))
    heel = torch.where(is_dip, reach * 0.95, reach * dice.uniform(0.45, 0.65))
    levels = (  # height as a share of the body's, from and to outwards
        (0.04, heel, reach), (0.2, (shoulder + 2 * heel) / 3, heel + 0.05),
        (0.36, (2 * shoulder + heel) / 3, (shoulder + 2 * heel) / 3 + 0.03),
        (0.5, torch.full_like(reach, -0.3), (2 * shoulder + heel) / 3),
    )  # fmt: skip
    tone = dice.uniform(0.75, 1.2, 4, 64)
    phase, swing = column(dice.uniform(0, 6.3)), column(dice.uniform(0, 0.4))
    leadless_dark = column(torch.where(reach < 0.2, dice.uniform(0.3, 1.0), 1.0))
    total = torch.zeros_like(image[:, :1])
    for share, inner, outer in levels:
        plane = camera.grid(share * package.height, size)
        for side, (along, out) in enumerate(_sides(*plane, package)):
            across, index = _across_lead(along, package, side)
            wide = column(package.lead_width[:, side]) / 2
            middle, half = column((inner + outer) / 2), column((outer - inner) / 2)
            cover = coverage(box(across, out - middle, wide, half, 0.03), soft)
            each = tone[:, side].gather(1, index.long().clamp(0, 63).flatten(1))
            light = 0.75 + swing * torch.sin(
                phase + 6 * share * 3 + 3 * out / column(reach)
            )
            light = light * (1 - 0.3 * (across / wide).clamp(-1, 1) ** 2)
            colour = metal * light * each.reshape(across.shape) * leadless_dark
            image = over(image, colour.clamp(0, 1.3), cover)
            total = torch.maximum(total, cover)
    return image, total


def _draw_body(
    dice: Dice, image: torch.Tensor, camera: Camera, soft: torch.Tensor,
    package: PackageBatch, bank: Bank,
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor, torch.Tensor]:  # fmt: skip
    """Side walls, then the top with its marks and its marking."""
    size = image.shape[-1]
    tone = torch.exp(column(dice.uniform(math.log(0.025), math.log(0.34))))
    tone = tone * torch.exp(column(dice.normal(0.08, 3)))
    walls = dice.uniform(0.35, 1.7, 4)
    body = torch.zeros_like(image[:, :1])
    half_x, half_y = column(package.half[:, 0]), column(package.half[:, 1])
    for share, shrink in (
        (0.12, 0.97),
        (0.3, 0.985),
        (0.5, 1.0),
        (0.7, 0.988),
        (0.88, 0.975),
    ):
        x, y = camera.grid(share * package.height, size)
        cover = coverage(box(x, y, half_x * shrink, half_y * shrink, 0.05), soft)
        on_x = (x.abs() / half_x > y.abs() / half_y).float()
        side = on_x * (2 * (x > 0).float()) + (1 - on_x) * (3 - 2 * (y > 0).float())
        light = walls.gather(1, side.long().flatten(1)).reshape(side.shape)
        image = over(image, tone * light * (0.7 + 0.4 * share), cover)
        body = torch.maximum(body, cover)
    x, y = camera.grid(package.height, size)
    top_x, top_y = half_x * 0.965, half_y * 0.965
    cover = coverage(box(x, y, top_x, top_y, 0.05), soft)
    sheen = (
        1
        + column(dice.normal(0.25)) * x / top_x
        + column(dice.normal(0.25)) * y / top_y
    )
    grain = 1 + column(dice.uniform(0.02, 0.2)) * torch.randn(
        x.shape, generator=dice.generator, device=dice.device
    )
    spot = column(dice.chance(0.2) * dice.uniform(0, 0.6)) * value_noise(
        dice, size, 3
    ).clamp(min=0)
    surface = (tone * sheen.clamp(0.3, 2) * grain + spot).clamp(0, 1.2)
    rim = coverage(-(box(x, y, top_x, top_y) + 0.06), soft)
    surface = surface * (1 + rim * column(dice.chance(0.5) * dice.uniform(-0.4, 0.9)))
    top = marks.Top(x=x, y=y, half_x=top_x, half_y=top_y, soft=soft, tone=tone)
    surface, mark_at, has_mark = marks.draw_marks(dice, surface, top, package)
    surface = marks.draw_marking(dice, surface, top, package, bank)
    surface = marks.draw_decoys_on_body(dice, surface, top)
    return over(image, surface, cover), torch.maximum(body, cover), mark_at, has_mark
