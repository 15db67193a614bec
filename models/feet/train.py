"""Train the network that measures feet from above.

    python -m models.feet.train OUT RENDERS [--minutes 6] [--seed 1]

RENDERS is what ``models.feet.render`` wrote; half of every batch is drawn flat.  Ends
by the clock; OUT gets ``feet.pt`` (half precision), and figures on boards kept back
(one in ten) are printed.
"""

from __future__ import annotations

import math
import random
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

from models.feet.drawn import draw_flat
from models.feet.net import STEP_PX, FeetNet
from models.scenes.shaded.primitives import Dice, column
from models.training.by_clock import read_boards, save_half, start, train
from vision.foot_patches import COLS, EDGE_ROW, PX_PER_WIDTH, ROWS, TOE_ROW

MOST_LIFT_MM = 0.12
SOFT_CELLS = 0.7
LEAST_PX, MOST_PX = 5.0, 26.0
"""Photo pixels across a lead, at which patches are seen."""
GROUPS = 8
"""Sizes of a batch."""
LEAN_WEIGHT, UNTOLD_SHARE = 0.1, 0.3
"""Share of patches of which the network is not told how far walls show."""
LAND_OFF_PX = 3
"""Most that a land is held to lie off."""
HALF_COLS = (COLS - 1) / 2


@dataclass(frozen=True, slots=True)
class Bank:
    """Photos (N, 3, H, W) uint8; feet: photo (M,), face, toe down, land, all in px."""

    photos: torch.Tensor
    photo: torch.Tensor
    face: torch.Tensor
    down: torch.Tensor
    land: torch.Tensor


@dataclass(frozen=True, slots=True)
class Seen:
    """What the network sees (B, 6, ROWS, COLS), and the toe (B,), sides (B, 2), px.

    ``wall`` (B, 2): how far walls show, lead widths.
    """

    patch: torch.Tensor
    toe: torch.Tensor
    sides: torch.Tensor
    wall: torch.Tensor


def main() -> None:
    """Train until the time is up."""
    run = start((__doc__ or "").splitlines()[0], batch=256)
    bank = load_bank(run.renders, run.device, kept_back=False)
    print(f"{len(bank.photo)} feet, {time.monotonic() - run.began:.0f} s to read")
    net = train(
        FeetNet(), lambda now: look_and_judge(now, bank, run.dice), run.device,
        began=run.began, seconds=run.seconds,
    )  # fmt: skip
    save_half(net, run.out / "feet.pt")
    kept = load_bank(run.renders, run.device, kept_back=True)
    many = Dice(2048, torch.Generator(device=run.device).manual_seed(5))
    report("path-traced", net, rendered(kept, many), many)
    report("drawn", net, flat(many), many)


def load_bank(folder: Path, device: torch.device, *, kept_back: bool) -> Bank:
    """Read photos and truth; one board in ten is kept back from training."""
    rows, photos = read_boards(folder, device, kept_back=kept_back)
    chosen = [
        (k, n)
        for k, row in enumerate(rows)
        for n, lift in enumerate(row["lift_mm"])
        if lift <= MOST_LIFT_MM
    ]
    parts = [
        np.array([rows[k][name][n] for k, n in chosen], np.float32)
        for name in ("face_px", "toe_down_px", "land_px")
    ]
    return Bank(
        photos,
        torch.tensor([k for k, _ in chosen], device=device),
        *(torch.from_numpy(part).to(device) for part in parts),
    )


def look_and_judge(net: nn.Module, bank: Bank, dice: Dice) -> dict[str, torch.Tensor]:
    """Draw a batch, let the network look at it, and give its losses."""
    with torch.no_grad():
        half = Dice(dice.batch // 2, dice.generator)
        both = [rendered(bank, half), flat(half)]
        patch, toe, sides, wall = (
            torch.cat([getattr(part, name) for part in both])
            for name in ("patch", "toe", "sides", "wall")
        )
    with torch.autocast(
        dice.device.type, torch.bfloat16, enabled=dice.device.type == "cuda"
    ):
        said_toe, said_sides, lean = net(
            patch.contiguous(memory_format=torch.channels_last)
        )
    return {
        "toe": missed(said_toe.float(), toe),
        "sides": missed(said_sides.float(), sides),
        "lean": LEAN_WEIGHT * leant(lean.float(), wall),
    }


def leant(said: torch.Tensor, wall: torch.Tensor) -> torch.Tensor:
    """Minus the log of a Gaussian law, up to a constant."""
    log_sd = said[:, 2:].clamp(-4, 2)
    return (0.5 * ((said[:, :2] - wall) / log_sd.exp()) ** 2 + log_sd).mean()


def missed(logits: torch.Tensor, place_px: torch.Tensor) -> torch.Tensor:
    """Cross entropy of profiles (..., cells) against places (...,) in px."""
    cells = torch.arange(logits.shape[-1], device=logits.device)
    at = (place_px - (STEP_PX - 1) / 2) / STEP_PX
    bell = torch.exp(-((cells - at[..., None]) ** 2) / (2 * SOFT_CELLS**2))
    target = bell / bell.sum(-1, keepdim=True).clamp(min=1e-6)
    return -(target * torch.log_softmax(logits, -1)).sum(-1).mean()


def told(logits: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Mean and standard deviation of profiles, px."""
    share = torch.softmax(logits, -1)
    px = torch.arange(logits.shape[-1], device=logits.device) * STEP_PX + (
        (STEP_PX - 1) / 2
    )
    mean = (share * px).sum(-1)
    spread = (share * (px - mean[..., None]) ** 2).sum(-1) - (SOFT_CELLS * STEP_PX) ** 2
    return mean, spread.clamp(min=0.05).sqrt()


def flat(dice: Dice) -> Seen:
    """Feet drawn flat, as a photo shows them."""
    drawn = draw_flat(dice)
    photo = photographed(drawn.picture, dice, None)
    patch = with_known(photo, drawn.land, drawn.wall, dice)
    return Seen(patch, drawn.toe, drawn.sides, drawn.wall)


def rendered(bank: Bank, dice: Dice) -> Seen:
    """Cut feet of path-traced photos."""
    row = dice.index(len(bank.photo))
    face, land = bank.face[row], bank.land[row]
    toe = face[:, :2].mean(1)
    across, inward = face[:, 1] - face[:, 0], face[:, 2:].mean(1) - toe
    to_photo = torch.stack([-inward, across], 2)  # lead widths (out, across) -> px
    size = torch.exp(dice.normal(0.08))
    turn = dice.normal(0.035)
    c, s = torch.cos(turn), torch.sin(turn)
    spin = torch.stack([torch.stack([c, -s], -1), torch.stack([s, c], -1)], 1)
    to_photo = to_photo @ spin * size[:, None, None]
    off = torch.stack([dice.uniform(-0.5, 0.5), dice.uniform(-0.3, 0.3)], -1)
    middle = toe - torch.einsum("bij,bj->bi", to_photo, off)
    picture = cut(bank.photos, bank.photo[row], to_photo, middle)
    back = torch.linalg.inv(to_photo)

    def inside(points: torch.Tensor) -> torch.Tensor:
        return torch.einsum("bij,bpj->bpi", back, points - middle[:, None])

    corners = inside(face)
    ref = (EDGE_ROW - TOE_ROW) / PX_PER_WIDTH
    run = (ref - corners[:, :2, 0]) / (corners[:, 2:, 0] - corners[:, :2, 0])
    sides = corners[:, :2, 1] + run * (corners[:, 2:, 1] - corners[:, :2, 1])
    wall = torch.einsum("bij,bj->bi", back, toe - bank.down[row])
    width_px = torch.linalg.norm(across, dim=1)
    photo = photographed(coloured(picture, dice), dice, width_px)
    return Seen(
        with_known(photo, covered(inside(land)), wall, dice),
        TOE_ROW + PX_PER_WIDTH * inside(toe[:, None])[:, 0, 0],
        HALF_COLS + PX_PER_WIDTH * sides,
        wall,
    )


def cut(
    photos: torch.Tensor, row: torch.Tensor, to_photo: torch.Tensor,
    middle: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    """Lay patches along feet; twice as fine where the photo is, then averaged."""
    fine = 2
    rows = (torch.arange(ROWS * fine, device=row.device) + 0.5) / fine - 0.5 - TOE_ROW
    cols = (torch.arange(COLS * fine, device=row.device) + 0.5) / fine - 0.5 - HALF_COLS
    u, v = torch.meshgrid(rows, cols, indexing="ij")
    grid = torch.stack([u, v], -1) / PX_PER_WIDTH
    at = torch.einsum("bij,hwj->bhwi", to_photo, grid) + middle[:, None, None]
    size = torch.tensor(photos.shape[:1:-1], device=row.device).float()
    unit = (2 * at + 1) / size - 1
    picture = F.grid_sample(
        photos[row].float(), unit, padding_mode="border", align_corners=False
    )
    return F.avg_pool2d(picture, fine) / 255


def covered(quad: torch.Tensor) -> torch.Tensor:
    """Coverage (B, 1, ROWS, COLS) of a convex quadrilateral (B, 4, 2), lead widths."""
    rows = (torch.arange(ROWS, device=quad.device) - TOE_ROW) / PX_PER_WIDTH
    cols = (torch.arange(COLS, device=quad.device) - HALF_COLS) / PX_PER_WIDTH
    u, v = torch.meshgrid(rows, cols, indexing="ij")
    start, run = quad, torch.roll(quad, -1, 1) - quad
    run = run / torch.linalg.norm(run, dim=2, keepdim=True).clamp(min=1e-6)
    away = (u - start[:, :, 0, None, None]) * run[:, :, 1, None, None] - (
        v - start[:, :, 1, None, None]
    ) * run[:, :, 0, None, None]
    middle = quad.mean(1, keepdim=True)
    sign = torch.sign(
        (middle[..., 0] - start[..., 0]) * run[..., 1]
        - (middle[..., 1] - start[..., 1]) * run[..., 0]
    )
    inside = (away * sign[:, :, None, None]).amin(1, keepdim=True) * PX_PER_WIDTH
    return (0.5 + inside / 2).clamp(0, 1)


def photographed(
    picture: torch.Tensor, dice: Dice, width_px: torch.Tensor | None
) -> torch.Tensor:
    """See patches as photos of less detail do, with blur and grain."""
    out = []
    least = [MOST_PX] * GROUPS  # no finer than it was rendered
    if width_px is not None:
        least = [float(part.median()) for part in width_px.cpu().chunk(GROUPS)]
    for part, most in zip(picture.chunk(GROUPS), least, strict=True):
        px = min(most, math.exp(random.uniform(math.log(LEAST_PX), math.log(MOST_PX))))
        blur = random.uniform(0.4, 1.5) if width_px is None else random.uniform(0, 1)
        soft = _blurred(part, blur * PX_PER_WIDTH / px)
        size = [max(8, round(n * px / PX_PER_WIDTH)) for n in (ROWS, COLS)]
        mode = "area" if px < PX_PER_WIDTH else "bilinear"
        small = F.interpolate(soft, size=size, mode=mode)
        grain = torch.randn(small.shape, generator=dice.generator, device=dice.device)
        small = small + random.uniform(0.003, 0.03) * grain
        out.append(F.interpolate(small, size=(ROWS, COLS), mode="bilinear"))
    return torch.cat(out).clamp(0, 1)


def _blurred(picture: torch.Tensor, sd_px: float) -> torch.Tensor:
    if sd_px < 0.2:
        return picture
    reach = math.ceil(2.5 * sd_px)
    x = torch.arange(-reach, reach + 1, device=picture.device)
    bell = torch.exp(-(x**2) / (2 * sd_px**2))
    bell = bell / bell.sum()
    n = picture.shape[1]
    for shape in ((1, 1, -1, 1), (1, 1, 1, -1)):
        kernel = bell.reshape(shape).expand(n, 1, *bell.reshape(shape).shape[2:])
        pad = (reach, reach) if shape[3] == -1 else (0, 0)
        updown = (0, 0) if shape[3] == -1 else (reach, reach)
        picture = F.conv2d(
            F.pad(picture, (*pad, *updown), mode="replicate"), kernel, groups=n
        )
    return picture


def coloured(picture: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Change colour and contrast."""
    gain = torch.exp(dice.normal(0.12, 3)) * torch.exp(dice.normal(0.2))[:, None]
    picture = picture * column(gain)
    grey = picture.mean(1, keepdim=True)
    fade = column(dice.uniform(0, 1) * dice.chance(0.4))
    picture = (picture + fade * (grey - picture)).clamp(1e-4, 1)
    return picture ** column(torch.exp(dice.normal(0.25)))


def with_known(
    picture: torch.Tensor, land: torch.Tensor, wall: torch.Tensor, dice: Dice
) -> torch.Tensor:
    """Put what is known beside the picture: where the land is, how far walls show."""
    rough = wall * (1 + dice.normal(0.12))[:, None] + dice.normal(0.02, 2)
    rough = rough * (1 - dice.chance(UNTOLD_SHARE))[:, None]
    known = (0.5 + 0.5 * rough).clamp(0, 1)[:, :, None, None].expand(-1, -1, ROWS, COLS)
    wide = F.pad(land, (LAND_OFF_PX,) * 4, mode="replicate")
    step = dice.normal(0.7, 2).round().int().clamp(-LAND_OFF_PX, LAND_OFF_PX)
    rows, cols = (
        (torch.arange(n, device=land.device) + LAND_OFF_PX)[None] + step[:, k, None]
        for k, n in ((0, ROWS), (1, COLS))
    )
    each = torch.arange(len(land), device=land.device)[:, None, None]
    moved = wide[each, 0, rows.long()[:, :, None], cols.long()[:, None]]
    return torch.cat([known.flip(1), moved[:, None], picture], 1)


@torch.no_grad()
def report(name: str, net: nn.Module, seen: Seen, dice: Dice) -> None:
    """Print rms errors in lead widths, and what they are of their spread."""
    toe, sides, lean = net(seen.patch)
    off = lean[:, :2] - seen.wall
    print(f"{name} walls: rms {off.pow(2).mean().sqrt():.3f} of "
          f"{seen.wall.pow(2).mean().sqrt():.3f} lead widths")  # fmt: skip
    said, spread = told(toe)
    left, right = told(sides)
    for what, error, sd in (
        ("toe", said - seen.toe, spread),
        ("middle", (left - seen.sides).mean(1), right.pow(2).sum(1).sqrt() / 2),
        ("width", (left - seen.sides).diff(dim=1)[:, 0], right.pow(2).sum(1).sqrt()),
    ):
        share = error / PX_PER_WIDTH
        z = (error / sd).abs()
        print(
            f"{name} {what}: rms {share.pow(2).mean().sqrt():.4f}, median "
            f"{share.abs().median():.4f}, mean {share.mean():+.4f} lead widths; within "
            f"two spreads {100 * (z < 2).float().mean():.1f} %, z {z.median():.2f}"
        )


if __name__ == "__main__":
    main()
