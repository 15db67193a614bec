"""Train the network that reads joints.

    python -m models.joints.train OUT WINDOWS... [--minutes 6] [--seed 1]
    python -m models.joints.train OUT WINDOWS... --balls

WINDOWS are what ``models.joints.gather`` wrote.  Ends by the clock; OUT gets
``joints.pt`` or ``balls.pt`` (half precision) and the log tells figures on rendered
boards kept back.
"""

from __future__ import annotations

import argparse
import math
import time
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

from models.joints.draws import Bank, Batch, draw, load_bank, plain
from models.joints.gather import CLASSES, IGNORE
from models.joints.net import BallNet, JointNet
from models.scenes.shaded.primitives import Dice
from models.training.by_clock import train

SMOOTH = 0.02


def main() -> None:
    """Train until the time is up."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("windows", type=Path, nargs="+")
    parser.add_argument("--minutes", type=float, default=6.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=512)
    parser.add_argument("--balls", action="store_true", help="loose balls of solder")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(args.seed)
    began = time.monotonic()
    bank = load_bank(args.windows, device)
    print(
        f"{len(bank.left)} windows, {time.monotonic() - began:.0f} s to read",
        flush=True,
    )
    generator = torch.Generator(device=device).manual_seed(args.seed)
    dice = Dice(args.batch, generator)
    net: nn.Module = BallNet() if args.balls else JointNet()
    net = train(
        net, lambda now: look_and_judge(now, bank, dice), device,
        began=began, seconds=args.minutes * 60,
    )  # fmt: skip
    state = {
        k: v.half() if v.is_floating_point() else v for k, v in net.state_dict().items()
    }
    torch.save(state, args.out / ("balls.pt" if args.balls else "joints.pt"))
    kept = load_bank(args.windows, device, boards="test")
    if len(kept.left):
        (report_balls if args.balls else report)(net, kept)


def look_and_judge(net: nn.Module, bank: Bank, dice: Dice) -> dict[str, torch.Tensor]:
    """Draw a batch, let the network look at it, and give its losses."""
    is_ball = isinstance(net, BallNet)
    with torch.no_grad():
        batch = draw(bank, dice, most_balls=is_ball)
    with torch.autocast(
        dice.device.type, torch.bfloat16, enabled=dice.device.type == "cuda"
    ):
        said = net(batch.picture.contiguous(memory_format=torch.channels_last))
    return ball_loss(said, batch) if is_ball else losses(*said, batch)


def losses(
    said: torch.Tensor, cover: torch.Tensor, batch: Batch
) -> dict[str, torch.Tensor]:
    """Cross entropies of every answer, each over the windows where it is known."""
    said, cover = said.float(), cover.float()
    n = len(CLASSES)
    known = (batch.bridge != IGNORE).float()
    target = batch.bridge.clamp(min=0).float() * (1 - SMOOTH) + SMOOTH / 2
    bridge = F.binary_cross_entropy_with_logits(said[:, 0], target, reduction="none")
    square = F.binary_cross_entropy_with_logits(said[:, 1], batch.is_square)
    leads = [
        F.cross_entropy(part, labels, ignore_index=IGNORE, label_smoothing=SMOOTH)
        for part, labels in (
            (said[:, 2 : 2 + n], batch.left),
            (said[:, 2 + n :], batch.right),
        )
    ]
    pixel = F.binary_cross_entropy_with_logits(cover, batch.cover, reduction="none")
    pixel = pixel.mean((1, 2, 3)) * batch.knows_cover.float()
    return {
        "bridge": (bridge * known).sum() / known.sum().clamp(min=1),
        "square": 0.3 * square,
        "leads": leads[0] + leads[1],
        "cover": 2.0 * pixel.sum() / batch.knows_cover.float().sum().clamp(min=1),
    }


def ball_loss(said: torch.Tensor, batch: Batch) -> dict[str, torch.Tensor]:
    """Cross entropy over the windows where it is known whether a ball lies there."""
    known = (batch.ball != IGNORE).float()
    target = batch.ball.clamp(min=0).float() * (1 - SMOOTH) + SMOOTH / 2
    each = F.binary_cross_entropy_with_logits(
        said[:, 0].float(), target, reduction="none"
    )
    return {"ball": (each * known).sum() / known.sum().clamp(min=1)}


@torch.no_grad()
def answers(net: nn.Module, bank: Bank, *, with_before: bool) -> torch.Tensor:
    """Let a network look at every window as it is cut in use."""
    out = []
    for k in range(0, len(bank.left), 256):
        part = slice(k, k + 256)
        after = plain(bank.after[part].float() / 255)
        flag = bank.has_before[part].float()[:, None, None, None] * float(with_before)
        before = plain(bank.before[part].float() / 255) * flag
        flag = flag.expand(-1, 1, *after.shape[2:])
        said = net(torch.cat([after, before, flag], 1))
        out.append((said[0] if isinstance(said, tuple) else said).float())
    return torch.cat(out)


def report_balls(net: nn.Module, bank: Bank) -> None:
    """Print figures on the boards kept back, with and without the before photo."""
    truth = bank.ball.cpu().numpy()
    for with_before in (False, True):
        said = answers(net, bank, with_before=with_before)[:, 0].cpu().numpy()
        for cut in (-1.0, 0.0, 1.0, 2.0, 3.0):
            hit, false = (
                (said[truth == 1] > cut).mean(),
                (said[truth == 0] > cut).mean(),
            )
            print(
                f"with before {with_before}, logit > {cut}: found {hit:.3f} of "
                f"{(truth == 1).sum()}, false {false:.4f} of {(truth == 0).sum()}"
            )


@torch.no_grad()
def report(net: nn.Module, bank: Bank) -> None:
    """Print figures on the boards kept back, with and without the before photo."""
    for with_before in (False, True):
        said = answers(net, bank, with_before=with_before).cpu().numpy()
        bridge = bank.bridge.cpu().numpy()
        n = len(CLASSES)
        print(f"with before: {with_before}")
        for cut in (0.0, 1.0, 2.0):
            hit = (
                (said[:, 0] > cut)[bridge == 1].mean()
                if (bridge == 1).any()
                else math.nan
            )
            false = (said[:, 0] > cut)[bridge == 0].mean()
            print(
                f"  bridge logit > {cut}: found {hit:.3f} of {(bridge == 1).sum()}, "
                f"false {false:.4f} of {(bridge == 0).sum()}"
            )
        for side, labels in (
            (said[:, 2 : 2 + n], bank.left),
            (said[:, 2 + n :], bank.right),
        ):
            truth = labels.cpu().numpy()
            table = np.zeros((n, n), int)
            np.add.at(table, (truth[truth >= 0], side.argmax(1)[truth >= 0]), 1)
            print(table.tolist())


if __name__ == "__main__":
    main()
