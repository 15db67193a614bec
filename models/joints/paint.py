"""Paints faults, and what only looks like one, into windows of real photos.

A canvas is a window with half a pitch round it (``gather.CANVAS``).  Its coordinates
are u, in pitches from the middle of the gap (the leads stand at -0.5 and 0.5), and v,
in reaches outward from the toes (the body's edge is at -1).
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
import torch.nn.functional as F

from models.scenes.shaded.primitives import Dice, blur, column, value_noise

ROWS, COLS = 128, 160
U_PX, V_PX = 40.0, 50.0
TOE_ROW = (ROWS - 1) / 2 + (54.0 - 39.5) * 1.25


@dataclass(frozen=True, slots=True)
class Canvas:
    """Pictures (B, 3, ROWS, COLS), u, v and three tones of the metal (B, 3, 1, 1)."""

    image: torch.Tensor
    u: torch.Tensor
    v: torch.Tensor
    dark: torch.Tensor
    middle: torch.Tensor
    bright: torch.Tensor


def canvas(image: torch.Tensor) -> Canvas:
    """Measure the metal of both leads in every picture."""
    device = image.device
    cols = (torch.arange(COLS, device=device).float() - (COLS - 1) / 2) / U_PX
    rows = (torch.arange(ROWS, device=device).float() - TOE_ROW) / V_PX
    v, u = torch.meshgrid(rows, cols, indexing="ij")
    on_lead = ((u.abs() - 0.5).abs() < 0.12) & (v > -0.8) & (v < 0.25)
    metal = image[:, :, on_lead]
    order = metal.mean(1).argsort(1)
    metal = metal.gather(2, order[:, None].expand(-1, 3, -1))
    n = metal.shape[2]

    def tone(low: float, high: float) -> torch.Tensor:
        return column(metal[:, :, int(low * n) : int(high * n)].mean(2))

    return Canvas(
        image=image,
        u=u[None, None],
        v=v[None, None],
        dark=tone(0.05, 0.3),
        middle=tone(0.4, 0.65),
        bright=tone(0.85, 0.98),
    )


def paint_bridges(c: Canvas, dice: Dice) -> tuple[torch.Tensor, torch.Tensor]:
    """Join the leads of every picture with solder: pictures and its cover."""
    distance, size = _bridge_distance(c, dice)
    return _solder(c, dice, distance, size)


def paint_much(
    c: Canvas, dice: Dice, side: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor]:
    """Bury the foot of one lead (``side`` is -1 or 1) under a round back of solder."""
    u0 = column(0.5 * side)
    mid, half = column(dice.uniform(-0.35, -0.05)), column(dice.uniform(0.3, 0.55))
    wide = column(dice.uniform(0.16, 0.27))
    x, y = (c.u - u0) / wide, (c.v - mid) / half
    ratio = torch.sqrt(x**2 + y**4 + 1e-6)
    size = wide * U_PX
    return _solder(c, dice, (ratio - 1) * size, size)


def paint_ball(c: Canvas, dice: Dice) -> tuple[torch.Tensor, torch.Tensor]:
    """Lay a small ball of solder into the gap, or before it, that touches no lead."""
    radius = column(dice.uniform(1.8, 5.5))
    x = (c.u - column(dice.normal(0.08).clamp(-0.2, 0.2))) * U_PX
    y = (c.v - column(dice.uniform(-0.85, 0.45))) * V_PX
    return _solder(c, dice, torch.sqrt(x**2 + y**2 + 1e-6) - radius, radius)


def _bridge_distance(c: Canvas, dice: Dice) -> tuple[torch.Tensor, torch.Tensor]:
    """Signed distance in pixels to a bridge, and its half width in pixels."""
    kind = dice.uniform(0, 1)
    is_whisker = column((kind < 0.12).float())
    is_ball = column(((kind >= 0.12) & (kind < 0.24)).float())
    is_flood = column(((kind >= 0.24) & (kind < 0.36)).float())
    start = column(dice.uniform(-1.0, 0.3))
    end = start + column(dice.normal(0.12))
    sag = column(dice.normal(0.1))
    half = column(dice.uniform(0.06, 0.35))
    half = torch.where(is_whisker > 0, column(dice.uniform(0.012, 0.035)), half)
    half = torch.where(is_flood > 0, column(dice.uniform(0.35, 0.75)), half)
    start = torch.where(is_flood > 0, column(dice.uniform(-0.5, -0.1)), start)
    t = (c.u + 0.5).clamp(0, 1)
    bow = torch.sin(torch.pi * t)
    path = start + (end - start) * t + sag * bow
    waist = column(dice.uniform(-0.15, 0.6))
    ragged = value_noise(dice, COLS, 12)[:, :, :ROWS] * column(dice.uniform(0, 0.2))
    width = half * (1 - waist * bow + ragged * (1 - is_whisker))
    run = column(dice.uniform(0.48, 0.62))
    past = (c.u.abs() - run).clamp(min=0) * U_PX
    across = ((c.v - path).abs() - width) * V_PX
    strip = torch.where(past > 0, torch.hypot(past, across.clamp(min=0)), across)
    radius = column(dice.uniform(0.3, 0.48)) * U_PX
    ball = torch.hypot((c.u - column(dice.normal(0.08))) * U_PX, (c.v - start) * V_PX)
    distance = torch.where(is_ball > 0, torch.minimum(ball - radius, strip), strip)
    size = torch.where(is_ball > 0, radius, half * V_PX)
    return distance, size.clamp(min=0.7)


def _solder(
    c: Canvas, dice: Dice, distance: torch.Tensor, size: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor]:
    """Colour a piece of solder in one of three ways and lay it over the picture."""
    soft = column(dice.uniform(0.7, 2.0))
    cover = torch.sigmoid(-distance / soft * 2)
    shaded = _shaded(c, dice, distance, size)
    carried = _carried(c, dice)
    flat = c.middle + (c.bright - c.middle) * column(dice.uniform(-0.6, 1))
    flat = flat * (1 + 0.15 * value_noise(dice, COLS, 20)[:, :, :ROWS])
    way = column(dice.uniform(0, 1))
    colour = torch.where(way < 0.5, shaded, torch.where(way < 0.8, carried, flat))
    colour = colour * column(torch.exp(dice.normal(0.15)))
    board = board_colour(c)
    dull = column(dice.uniform(0, 0.6) * dice.chance(0.3))
    colour = colour + (board * column(dice.uniform(0.7, 1.3)) - colour) * dull
    rim = torch.exp(-((distance / 1.5) ** 2)) * column(dice.uniform(0, 0.45))
    ground = c.image * (1 - rim * column(dice.chance(0.6)))
    alpha = cover * column(dice.uniform(0.88, 1.0))
    return (ground + (colour - ground) * alpha).clamp(0, 1), cover


def _shaded(
    c: Canvas, dice: Dice, distance: torch.Tensor, size: torch.Tensor
) -> torch.Tensor:
    """Light a rounded surface: the tones of the leads by slope, and a highlight."""
    depth = (-distance / size).clamp(0, 1)
    height = (
        torch.sqrt(1 - (1 - depth) ** 2 + 1e-4) * size * column(dice.uniform(0.4, 1.3))
    )
    height = blur(height, dice.uniform(0.6, 1.4))
    height = height + 1.2 * value_noise(dice, COLS, 24)[:, :, :ROWS] * column(
        dice.uniform(0, 0.5)
    )
    gx = F.pad(height[..., 2:] - height[..., :-2], (1, 1, 0, 0), mode="replicate") / 2
    gy = (
        F.pad(height[..., 2:, :] - height[..., :-2, :], (0, 0, 1, 1), mode="replicate")
        / 2
    )
    norm = torch.rsqrt(gx**2 + gy**2 + 1)
    angle, low = column(dice.uniform(0, 6.2832)), column(dice.uniform(0.3, 1.3))
    lx, ly, lz = (
        torch.cos(angle) * torch.cos(low),
        torch.sin(angle) * torch.cos(low),
        torch.sin(low),
    )
    lit = (-gx * lx - gy * ly + lz) * norm
    wave = column(dice.uniform(0, 0.3)) * torch.sin(
        (gx * torch.cos(angle) + gy * torch.sin(angle)) * column(dice.uniform(2, 7))
        + angle
    )
    level = ((lit + 0.2) * 0.9 + wave).clamp(0, 1.2)
    below = c.dark + (c.middle - c.dark) * (level * 2).clamp(0, 1)
    colour = below + (c.bright - c.middle) * (level * 2 - 1).clamp(0, 1.2)
    spot = lit.clamp(0, 1) ** column(torch.exp(dice.uniform(1.5, 4)))
    return (colour + spot * column(dice.uniform(0, 0.7))).clamp(0, 1.2)


def _carried(c: Canvas, dice: Dice) -> torch.Tensor:
    """Carry the picture of a lead over the gap, drawn out sideways."""
    side = column(dice.chance(0.5) * 2 - 1)
    squeeze, slide = column(dice.uniform(0.05, 0.35)), column(dice.normal(0.12))
    source_u = 0.5 * side + (c.u - 0.5 * side).clamp(-1, 1) * squeeze
    source_v = c.v + slide
    rest = column(dice.chance(0.5))
    nearer = 0.5 * c.u.sign() + (c.u - 0.5 * c.u.sign()) * squeeze
    source_u = rest * source_u + (1 - rest) * nearer
    return sample(c.image, source_u, source_v)


def sample(image: torch.Tensor, u: torch.Tensor, v: torch.Tensor) -> torch.Tensor:
    """Look pictures up at canvas coordinates (B, 1, H, W)."""
    x = (u * U_PX + (COLS - 1) / 2 + 0.5) / COLS * 2 - 1
    y = (v * V_PX + TOE_ROW + 0.5) / ROWS * 2 - 1
    x, y = torch.broadcast_tensors(x[:, 0], y[:, 0])
    grid = torch.stack([x, y], -1).expand(image.shape[0], -1, -1, -1)
    return F.grid_sample(image, grid, align_corners=False, padding_mode="border")


def bend(c: Canvas, dice: Dice, side: torch.Tensor) -> torch.Tensor:
    """Bend the foot of one lead sideways by a fifth to two fifths of the pitch."""
    by = column(dice.uniform(0.2, 0.38) * (dice.chance(0.5) * 2 - 1))
    u0 = column(0.5 * side)
    run = ((c.v + 0.9) / 0.7).clamp(0, 1)
    run = run * run * (3 - 2 * run) * ((0.55 - c.v) / 0.2).clamp(0, 1)
    near = torch.exp(-(((c.u - u0 - by * run).abs() / 0.36) ** 4))
    return sample(c.image, c.u - by * run * near, c.v)


def lift(c: Canvas, dice: Dice, side: torch.Tensor) -> torch.Tensor:
    """Raise the foot of one lead: nearer to the camera, a bare land, a shadow gap."""
    u0 = column(0.5 * side)
    foot_half = column(dice.uniform(0.13, 0.19))
    land_half = foot_half + column(dice.uniform(0.03, 0.1))
    tone = c.middle * column(dice.uniform(0.45, 1.1))
    tone = tone + (c.bright - c.middle) * column(dice.uniform(-0.2, 0.5)) * c.v
    tone = tone * (1 + 0.08 * value_noise(dice, COLS, 10)[:, :, :ROWS])
    d = torch.maximum((c.u - u0).abs() - land_half, (c.v - 0.0).abs() - 0.45)
    bare = torch.sigmoid(-d * 60) * (c.v > -0.45).float()
    ground = c.image + (tone - c.image) * bare * column(dice.uniform(0.8, 1))
    far = column(dice.uniform(0.04, 0.16))
    dx, dy = column(dice.normal(0.06)), column(dice.normal(0.07))
    shade = _foot(c, u0 + dx + far * column(dice.normal(0.5)), foot_half, dy + far)
    shade = blur(shade, dice.uniform(0.8, 3.0)) * column(dice.uniform(0.3, 0.85))
    ground = ground * (1 - shade * bare)
    stretch = column(dice.uniform(1.0, 1.14))
    top = sample(
        c.image, u0 + (c.u - u0 - dx) / stretch, c.v - dy * (c.v + 0.6).clamp(0, 1)
    )
    cover = _foot(c, u0 + dx, foot_half * stretch, dy)
    cover = blur(cover, dice.uniform(0.5, 1.2))
    return (ground + (top - ground) * cover).clamp(0, 1)


def _foot(
    c: Canvas, u0: torch.Tensor, half: torch.Tensor, dy: torch.Tensor
) -> torch.Tensor:
    d = torch.maximum((c.u - u0).abs() - half, (c.v + 0.45 - dy).abs() - 0.47)
    return torch.sigmoid(-d * 80)


def board_colour(c: Canvas) -> torch.Tensor:
    """Mean colour of the board beyond the gap, (B, 3, 1, 1)."""
    in_gap = (c.u[0, 0].abs() < 0.16) & (c.v[0, 0] > 0.1)
    return column(c.image[:, :, in_gap].mean(2))


def other_board(
    c: Canvas, dice: Dice, colour: torch.Tensor, texture: torch.Tensor
) -> torch.Tensor:
    """Lay another board under the leads: what looks like the board is replaced.

    ``colour`` (B, 3, 1, 1) and ``texture`` (B, 3, ROWS, COLS) make the new board.
    """
    board = board_colour(c)
    span = (c.middle - board).norm(dim=1, keepdim=True).clamp(min=0.08)
    far = (c.image - board).norm(dim=1, keepdim=True) / span
    cover = torch.sigmoid((column(dice.uniform(0.3, 0.55)) - far) * 7)
    shade = c.image.mean(1, keepdim=True) / board.mean(1, keepdim=True).clamp(min=0.05)
    new = colour * (1 + 0.5 * (texture - texture.mean((2, 3), keepdim=True)))
    new = new * shade.clamp(0.3, 2.0)
    return (c.image + (new - c.image) * cover).clamp(0, 1)


def decoys(c: Canvas, dice: Dice) -> torch.Tensor:
    """Paint what lies on the board itself: copper under the mask, printed lines."""
    board = board_colour(c)
    off_lead = torch.sigmoid(((c.u.abs() - 0.5).abs() - 0.17) * 50)
    tint = column(
        torch.exp(dice.normal(0.06, 3)) * torch.exp(dice.normal(0.3))[:, None]
    )
    start = column(dice.uniform(-0.9, 0.4))
    half = column(dice.uniform(0.03, 0.4))
    slope = column(dice.normal(0.2))
    d = ((c.v - start - slope * c.u).abs() - half) * V_PX
    band = torch.sigmoid(-d * 1.5) * off_lead * column(dice.chance(0.6))
    image = c.image + (board * tint - c.image) * band * column(dice.uniform(0.6, 1))
    angle = column(dice.uniform(0, 3.1416))
    line = c.u * torch.cos(angle) * U_PX + (c.v - start) * torch.sin(angle) * V_PX
    thick = column(dice.uniform(0.8, 3.0))
    print_ = (
        torch.sigmoid((thick - line.abs()) * 2) * off_lead * column(dice.chance(0.35))
    )
    white = column(dice.uniform(0.55, 0.95)) * torch.ones_like(image)
    return (image + (white - image) * print_ * column(dice.uniform(0.6, 1))).clamp(0, 1)


def veils(image: torch.Tensor, c: Canvas, dice: Dice) -> torch.Tensor:
    """Lay glare, wet flux and shadows over a photo: they differ from shot to shot."""
    x = c.u - column(dice.normal(0.6))
    y = c.v - column(dice.uniform(-1, 0.5))
    angle = column(dice.uniform(0, 3.1416))
    long = x * torch.cos(angle) + y * torch.sin(angle)
    wide = -x * torch.sin(angle) + y * torch.cos(angle)
    spread = column(dice.uniform(0.15, 1.2)), column(dice.uniform(0.06, 0.3))
    blob = torch.exp(-((long / spread[0]) ** 2) - (wide / spread[1]) ** 2)
    glare = column(dice.uniform(0.1, 0.6) * dice.chance(0.25))
    image = image + blob * glare
    wet = value_noise(dice, COLS, 5)[:, :, :ROWS]
    wet = torch.sigmoid((wet - column(dice.uniform(-0.5, 0.6))) * 12) * column(
        dice.chance(0.3)
    )
    amber = torch.tensor([0.95, 0.78, 0.42], device=image.device).reshape(1, 3, 1, 1)
    strength = column(dice.uniform(0.1, 0.9))
    image = image * (1 - wet * strength * (1 - amber))
    gleam = torch.sigmoid((value_noise(dice, COLS, 30)[:, :, :ROWS] - 0.75) * 30)
    image = image + gleam * wet * column(dice.uniform(0, 0.5))
    edge = torch.sigmoid((long - column(dice.normal(0.5))) * 15)
    image = image * (1 - edge * column(dice.uniform(0.2, 0.6) * dice.chance(0.2)))
    return image.clamp(0, 1)
