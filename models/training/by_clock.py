"""Trains a network until a time is up."""

from __future__ import annotations

import copy
import math
import time
from typing import TYPE_CHECKING

import torch

if TYPE_CHECKING:
    from collections.abc import Callable

    from torch import nn

RATE, DECAY, KEEP = 2e-3, 0.05, 0.998


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
