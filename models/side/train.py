"""Train the network that finds feet in photos from the side.

    python -m models.side.train OUT RENDERS [--minutes 6] [--seed 1]

RENDERS is what ``models.side.render`` wrote.  Ends by the clock; OUT gets ``side.pt``
(half precision), and figures on boards kept back (one in ten) are printed.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

from models.scenes.shaded.primitives import Dice, column
from models.side.net import MAP_STEP_PX, SideNet
from models.side.scenes import PLACES
from models.training.by_clock import read_boards, save_half, start, train

HIGH, WIDE = 256, 320
PITCH_PX = (18.0, 110.0)
MOST_ENLARGED = 1.5
MOST_TURN_DEG = 20.0
SPREAD_PITCHES, LEAST_SPREAD = 0.05, 1.2
"""Radius of a place in the maps, in pitches, and at least in cells."""
POINTS = 96
WEIGHT = 15.0
CHECK_PITCH_PX = 64.0


@dataclass(frozen=True, slots=True)
class Bank:
    """Photos (N, 3, H, W) uint8, places (N, POINTS, 3, 2) px, their pitch (N,) px.

    ``known`` (N, POINTS): which places there are; ``lift`` (N, POINTS) in pitches.
    """

    photos: torch.Tensor
    halves: torch.Tensor
    places: torch.Tensor
    known: torch.Tensor
    pitch: torch.Tensor
    lift: torch.Tensor


def main() -> None:
    """Train until the time is up."""
    run = start((__doc__ or "").splitlines()[0], batch=64)
    bank = load_bank(run.renders, run.device, kept_back=False)
    print(f"{len(bank.photos)} photos, {time.monotonic() - run.began:.0f} s to read")
    net = train(
        SideNet(), lambda now: look_and_judge(now, bank, run.dice), run.device,
        began=run.began, seconds=run.seconds,
    )  # fmt: skip
    save_half(net, run.out / "side.pt")
    report(net, load_bank(run.renders, run.device, kept_back=True))


def load_bank(folder: Path, device: torch.device, *, kept_back: bool) -> Bank:
    """Read photos and truth; one board in ten is kept back from training."""
    rows, photos = read_boards(folder, device, kept_back=kept_back)
    places = np.zeros((len(rows), POINTS, len(PLACES), 2), np.float32)
    known = np.zeros((len(rows), POINTS), bool)
    lift = np.zeros((len(rows), POINTS), np.float32)
    pitch = np.full(len(rows), 60.0, np.float32)
    for k, row in enumerate(rows):
        if not row["rows"]:
            continue
        first = np.array(row["rows"][0]["toe_px"])
        pitch[k] = np.linalg.norm(np.diff(first, axis=0), axis=1).mean()
        if row["tilt_deg"] < 45:  # from above no row is to be found
            continue
        found = np.concatenate(
            [np.stack([r[name] for name in PLACES], 1) for r in row["rows"]]
        )[:POINTS]
        places[k, : len(found)], known[k, : len(found)] = found, True
        risen = [mm / r["pitch_mm"] for r in row["rows"] for mm in r["lift_mm"]]
        lift[k, : len(found)] = risen[:POINTS]
    on = [torch.from_numpy(v).to(device) for v in (places, known, pitch, lift)]
    halves = torch.cat(
        [F.avg_pool2d(p.float(), 2).round().byte() for p in photos.split(64)]
    )
    return Bank(photos, halves, *on)


def look_and_judge(net: nn.Module, bank: Bank, dice: Dice) -> dict[str, torch.Tensor]:
    """Draw a batch, let the network look at it, and give its loss."""
    with torch.no_grad():
        picture, target = draw(bank, dice)
    with torch.autocast(
        dice.device.type, torch.bfloat16, enabled=dice.device.type == "cuda"
    ):
        said = net(picture.contiguous(memory_format=torch.channels_last))
    each = F.binary_cross_entropy_with_logits(said.float(), target, reduction="none")
    weighed = (each * (1 + WEIGHT * target)).mean()
    return {"places": 10 * weighed}


def draw(bank: Bank, dice: Dice) -> tuple[torch.Tensor, torch.Tensor]:
    """Cut pieces of random photos, turned, mirrored, in another size and colour."""
    row = dice.index(len(bank.photos))
    zoom = (torch.exp(dice.uniform(*map(math.log, PITCH_PX))) / bank.pitch[row]).clamp(
        max=MOST_ENLARGED
    )
    turn = torch.deg2rad(dice.uniform(-MOST_TURN_DEG, MOST_TURN_DEG))
    flip = 1 - 2 * dice.chance(0.5)
    c, s = torch.cos(turn), torch.sin(turn)
    to_piece = (
        torch.stack(
            [torch.stack([flip * c, -flip * s], -1), torch.stack([s, c], -1)], 1
        )
        * column(zoom)[..., 0]
    )
    high, wide = bank.photos.shape[2:]
    somewhere = torch.stack([dice.uniform(0, wide), dice.uniform(0, high)], -1)
    has_row = bank.known[row].any(1)
    chosen = dice.pick(bank.known[row].float() + (~has_row).float()[:, None])
    at_foot = bank.places[row, chosen, 0]
    near = has_row & (dice.chance(0.85) > 0)
    centre = torch.where(near[:, None], at_foot, somewhere)
    aim = torch.stack(
        [dice.uniform(0.15, 0.85) * WIDE, dice.uniform(0.15, 0.85) * HIGH], -1
    )
    shift = aim - torch.einsum("bij,bj->bi", to_piece, centre)
    picture = cut(bank, row, to_piece, shift, zoom)
    at = (
        torch.einsum("bij,bpkj->bpki", to_piece, bank.places[row])
        + shift[:, None, None]
    )
    spread = (SPREAD_PITCHES * zoom * bank.pitch[row] / MAP_STEP_PX).clamp(LEAST_SPREAD)
    return coloured(picture, dice), maps_of(at, bank.known[row], spread)


def cut(
    bank: Bank, row: torch.Tensor, to_piece: torch.Tensor, shift: torch.Tensor,
    zoom: torch.Tensor,
) -> torch.Tensor:  # fmt: skip
    """Cut pieces out of photos; from the halved ones where they are made smaller."""
    back = torch.linalg.inv(to_piece)
    y, x = torch.meshgrid(
        torch.arange(HIGH, device=shift.device),
        torch.arange(WIDE, device=shift.device), indexing="ij",
    )  # fmt: skip
    grid = torch.stack([x, y], -1).float()
    from_photo = torch.einsum("bij,bhwj->bhwi", back, grid - shift[:, None, None])
    size = torch.tensor(bank.photos.shape[:1:-1], device=shift.device).float()
    unit = (2 * from_photo + 1) / size - 1
    full, half = (
        F.grid_sample(p[row].float(), unit, padding_mode="border", align_corners=False)
        for p in (bank.photos, bank.halves)
    )
    return torch.where(column(zoom) < 0.6, half, full) / 255


def maps_of(
    at: torch.Tensor, known: torch.Tensor, spread: torch.Tensor
) -> torch.Tensor:
    """Draw places (B, P, 3, 2) as bells of one radius a picture, at most 1 high."""
    cells = (at - (MAP_STEP_PX - 1) / 2) / MAP_STEP_PX
    maps = []
    for kind in range(cells.shape[2]):
        bells = [
            torch.exp(
                -(
                    (
                        torch.arange(n // MAP_STEP_PX, device=at.device)
                        - cells[:, :, kind, k, None]
                    )
                    ** 2
                )
                / (2 * spread[:, None, None] ** 2)
            )
            for k, n in ((1, HIGH), (0, WIDE))
        ]
        maps.append(torch.einsum("bph,bpw->bhw", bells[0] * known[..., None], bells[1]))
    return torch.stack(maps, 1).clamp(max=1)


def coloured(picture: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Change colour, contrast, sharpness and grain."""
    gain = torch.exp(dice.normal(0.15, 3))
    picture = picture * column(gain) * column(torch.exp(dice.normal(0.2)))
    grey = picture.mean(1, keepdim=True)
    fade = column(dice.uniform(0, 1) * dice.chance(0.4))
    picture = (picture + fade * (grey - picture)).clamp(1e-4, 1)
    picture = picture ** column(torch.exp(dice.normal(0.3)))
    for reach in (1, 2):
        soft = F.avg_pool2d(picture, 2 * reach + 1, 1, reach, count_include_pad=False)
        share = column(dice.uniform(-0.4 if reach == 1 else 0, 1) * dice.chance(0.4))
        picture = picture + share * (soft - picture)
    grain = torch.randn(picture.shape, generator=dice.generator, device=dice.device)
    return (picture + column(dice.uniform(0, 0.04)) * grain).clamp(0, 1)


@torch.no_grad()
def report(net: nn.Module, bank: Bank) -> None:
    """Print how well toes of the boards kept back are found, all at one size."""
    off, found, of = [], 0, 0
    for k in range(len(bank.photos)):
        if not bank.known[k].any():
            continue
        row = torch.tensor([k], device=bank.photos.device)
        zoom = CHECK_PITCH_PX / bank.pitch[row]
        for p in torch.nonzero(bank.known[k])[:, 0]:
            to_piece = torch.eye(2, device=zoom.device)[None] * zoom
            aim = torch.tensor([[WIDE / 2, HIGH / 2]], device=zoom.device)
            shift = aim - bank.places[k, p, 0] * zoom
            said = net(cut(bank, row, to_piece, shift, zoom))[0, 0].sigmoid()
            reach = int(0.3 * CHECK_PITCH_PX / MAP_STEP_PX)
            mid = HIGH // 2 // MAP_STEP_PX, WIDE // 2 // MAP_STEP_PX
            part = said[
                mid[0] - reach : mid[0] + reach + 1, mid[1] - reach : mid[1] + reach + 1
            ]
            of += 1
            if part.max() < 0.3:
                continue
            found += 1
            at = torch.nonzero(part == part.max())[0].float() - reach + 0.25
            off.append((at * MAP_STEP_PX / CHECK_PITCH_PX).cpu().numpy())
    error = np.array(off)
    print(
        f"{of} toes kept back: found {found / max(of, 1):.3f}, median error "
        f"{np.median(np.abs(error), axis=0).round(4)} pitches (down, along), "
        f"95 % within {np.percentile(np.abs(error), 95, axis=0).round(3)}"
    )


if __name__ == "__main__":
    main()
