"""Trains a network on rendered boards until a time is up."""

from __future__ import annotations

import argparse
import copy
import json
import math
import random
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
import torch

from models.scenes.shaded.primitives import Dice

if TYPE_CHECKING:
    from collections.abc import Callable

    from torch import nn

RATE, DECAY, KEEP = 2e-3, 0.05, 0.998
KEPT_EVERY = 10
"""One board in so many is kept back from training."""


@dataclass(frozen=True, slots=True)
class Run:
    """What a training on rendered boards was started with."""

    out: Path
    renders: Path
    device: torch.device
    dice: Dice
    began: float
    seconds: float


def start(about: str, *, batch: int) -> Run:
    """Read the command line of a training and seed all chance.

    Parameters
    ----------
    about : str
        First line of the help.
    batch : int
        Usual size of a batch.

    Returns
    -------
    Run
        Its time has begun.
    """
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("out", type=Path)
    parser.add_argument("renders", type=Path)
    parser.add_argument("--minutes", type=float, default=6.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=batch)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(args.seed)
    random.seed(args.seed)
    dice = Dice(args.batch, torch.Generator(device=device).manual_seed(args.seed))
    seconds = args.minutes * 60
    return Run(args.out, args.renders, device, dice, time.monotonic(), seconds)


def train(
    net: nn.Module,
    losses_of: Callable[[nn.Module], dict[str, torch.Tensor]],
    device: torch.device,
    *,
    began: float,
    seconds: float,
) -> nn.Module:
    """Train a network and return the running mean of its weights.

    Parameters
    ----------
    net : torch.nn.Module
    losses_of : callable
        Draws a batch, lets the network look at it, and gives its losses by name.
    device : torch.device
    began : float
        When the time began, by ``time.monotonic``.
    seconds : float
        How long it lasts.

    Returns
    -------
    torch.nn.Module
        In evaluation mode.  Batches whose loss is not finite are skipped and counted.
    """
    net = net.to(device, memory_format=torch.channels_last)  # type: ignore[call-overload]
    mean = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), lr=RATE, weight_decay=DECAY)
    step, skipped, told = 0, 0, 0.0
    while (done := (time.monotonic() - began) / seconds) < 1:
        warm = min(1.0, (step + 1) / 200)
        for group in optimiser.param_groups:
            group["lr"] = RATE * warm * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6
        parts = losses_of(net)
        loss = torch.stack(list(parts.values())).sum()
        optimiser.zero_grad(set_to_none=True)
        if not torch.isfinite(loss):
            skipped += 1
            continue
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step += 1
        keep = min(KEEP, step / (step + 10))
        with torch.no_grad():
            for m, n in zip(
                mean.state_dict().values(), net.state_dict().values(), strict=True
            ):
                if m.is_floating_point():
                    m.lerp_(n.to(m.dtype), 1 - keep)
                else:
                    m.copy_(n)
        if time.monotonic() - told > 15:
            told = time.monotonic()
            shown = " ".join(f"{k} {v.item():.4f}" for k, v in parts.items())
            print(f"{done:.2f} step {step} skipped {skipped} {shown}", flush=True)
    return mean


def read_boards(
    folder: Path, device: torch.device, *, kept_back: bool
) -> tuple[list[dict[str, Any]], torch.Tensor]:
    """Read what ``models.scenes.boards`` rendered.

    Parameters
    ----------
    folder : Path
    device : torch.device
        Where the photos go.
    kept_back : bool
        The boards kept back from training, or the others.

    Returns
    -------
    (list of dict, torch.Tensor of shape (photos, 3, rows, cols), uint8)
        What is known of each photo, and the photos, RGB.
    """
    rows = [
        row
        for told in sorted(folder.glob("*.json"))
        if (int(told.stem) % KEPT_EVERY == 0) == kept_back
        for row in json.loads(told.read_text())
    ]
    with ThreadPoolExecutor() as readers:
        pictures = list(
            readers.map(lambda row: cv2.imread(str(folder / row["file"])), rows)
        )
    photos = torch.from_numpy(np.stack(pictures)[..., ::-1].copy())
    return rows, photos.permute(0, 3, 1, 2).contiguous().to(device)


def save_half(net: nn.Module, path: Path) -> None:
    """Write the weights in half precision."""
    state = net.state_dict().items()
    torch.save({k: v.half() if v.is_floating_point() else v for k, v in state}, path)
