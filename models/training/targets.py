"""What the networks shall answer, and how far off they are."""

from __future__ import annotations

import torch
import torch.nn.functional as F

from models.training.nets import BODY_MAP, CORNER_MAPS, FIRST_MARK_MAP, LEAD_MAP

CORNER_SIGMA_PX = 1.3  # on the half-size maps
MARK_SIGMA_PX = 2.5
MIN_LONG_SIDE_PX = 9.0
LOG_SIZE = 3.5  # subtracted from the natural log of a size in px
OFF_LABEL_WEIGHT = 0.04  # of photo areas in which a package may lie unlabelled


def spots(at: torch.Tensor, size: int, sigma: float) -> torch.Tensor:
    """Gaussian spots of height 1 at (B, n, 2) px: (B, n, size, size)."""
    axis = torch.arange(size, device=at.device).float()
    x = torch.exp(-0.5 * ((axis - at[..., :1]) / sigma) ** 2)
    y = torch.exp(-0.5 * ((axis - at[..., 1:]) / sigma) ** 2)
    return y[..., :, None] * x[..., None, :]


def corner_loss(
    maps: torch.Tensor, corners: torch.Tensor, is_certain: torch.Tensor
) -> torch.Tensor:
    """Cross-entropy of each ordered corner map against its spot.

    ``corners`` (B, 4, 2) in map px.  Where pin 1 is not certain every map shall
    show all four corners.  Returns (B,).
    """
    size = maps.shape[-1]
    goal = spots(corners, size, CORNER_SIGMA_PX)
    goal = goal / goal.sum((2, 3), keepdim=True).clamp(min=1e-3)
    share = goal.mean(1, keepdim=True).expand_as(goal)
    goal = torch.where(is_certain[:, None, None, None] > 0, goal, share)
    logs = F.log_softmax(maps[:, :CORNER_MAPS].flatten(2), -1)
    return -(goal.flatten(2) * logs).sum(-1).mean(1)


def area_loss(
    maps: torch.Tensor, body: torch.Tensor, leads: torch.Tensor
) -> torch.Tensor:
    """Cross-entropy of the body and lead maps against coverages at map size, (B,)."""
    goal = torch.cat([body, leads], 1)
    got = maps[:, BODY_MAP : LEAD_MAP + 1]
    return F.binary_cross_entropy_with_logits(got, goal, reduction="none").mean(
        (1, 2, 3)
    )


def mark_loss(maps: torch.Tensor, at: torch.Tensor, has: torch.Tensor) -> torch.Tensor:
    """Focal loss of the mark maps against spots at ``at`` (B, 6, 2) map px, (B,)."""
    goal = spots(at, maps.shape[-1], MARK_SIGMA_PX) * has[..., None, None]
    got = torch.sigmoid(maps[:, FIRST_MARK_MAP:])
    return focal(got, goal).sum((1, 2, 3)) / 6


def focal(got: torch.Tensor, goal: torch.Tensor) -> torch.Tensor:
    """Penalty-reduced focal loss of a spot map, by element (Law and Deng 2018)."""
    got = got.clamp(1e-4, 1 - 1e-4)
    is_peak = (goal > 0.97).float()
    hit = -is_peak * (1 - got) ** 2 * torch.log(got)
    miss = -(1 - is_peak) * (1 - goal) ** 4 * got**2 * torch.log(1 - got)
    return hit + miss


def shape_of(corners: torch.Tensor) -> torch.Tensor:
    """Describe quads (..., 4, 2) by log size, shape a, shape b, cos and sin 4 theta.

    Size is the root of the mean squared half diagonal; a and b are the normalised
    difference and product terms of the sides' second moment, so the description
    does not jump where the sides swap.
    """
    u = (
        corners[..., 1, :]
        - corners[..., 0, :]
        + corners[..., 2, :]
        - corners[..., 3, :]
    ) / 4
    v = (
        corners[..., 3, :]
        - corners[..., 0, :]
        + corners[..., 2, :]
        - corners[..., 1, :]
    ) / 4
    xx = u[..., 0] ** 2 + v[..., 0] ** 2
    yy = u[..., 1] ** 2 + v[..., 1] ** 2
    xy = u[..., 0] * u[..., 1] + v[..., 0] * v[..., 1]
    trace = (xx + yy).clamp(min=1e-6)
    fours = [_fourfold(u), _fourfold(v)]
    four = fours[0] + fours[1]
    four = four / four.norm(dim=-1, keepdim=True).clamp(min=1e-6)
    first = torch.stack([0.5 * torch.log(trace), (xx - yy) / trace, 2 * xy / trace], -1)
    return torch.cat([first, four], -1)


def _fourfold(side: torch.Tensor) -> torch.Tensor:
    angle = 4 * torch.atan2(side[..., 1], side[..., 0])
    return torch.stack([torch.cos(angle), torch.sin(angle)], -1) * side.norm(
        dim=-1, keepdim=True
    )


def inside_quads(
    corners: torch.Tensor, size: int, grow_frac: float = 0.0
) -> torch.Tensor:
    """Coverage (B, K, size, size) of counter-clockwise quads (B, K, 4, 2), map px."""
    middle = corners.mean(2, keepdim=True)
    corners = middle + (corners - middle) * (1 + grow_frac)
    axis = torch.arange(size, device=corners.device).float()
    inside = torch.full((*corners.shape[:2], size, size), 1e3, device=corners.device)
    for k in range(4):
        start, end = corners[:, :, k], corners[:, :, (k + 1) % 4]
        side = end - start
        side = side / side.norm(dim=-1, keepdim=True).clamp(min=1e-3)
        across = (axis - start[..., 0, None])[:, :, None, :] * -side[
            ..., 1, None, None
        ] + (axis - start[..., 1, None])[:, :, :, None] * side[..., 0, None, None]
        inside = torch.minimum(inside, -across)
    return (inside + 0.5).clamp(0, 1)


def board_loss(
    maps: torch.Tensor,
    corners: torch.Tensor,
    is_there: torch.Tensor,
    is_complete: torch.Tensor,
) -> torch.Tensor:
    """Centre, shape and body loss of the finder.

    ``corners`` (B, K, 4, 2) picture px; ``is_complete`` (B,) 1 where every package
    of the picture is labelled, else what lies off the labels counts little.
    """
    size = maps.shape[-1]
    at = corners.mean(2) / 4
    half = corners - corners.mean(2, keepdim=True)
    long = half.norm(dim=-1).amax(2) * 1.2
    inside = ((at > 0) & (at < size - 1)).all(-1).float()
    keep = is_there * inside * (long > MIN_LONG_SIDE_PX).float()
    on_map = (corners + 0.5) / 4 - 0.5
    body = inside_quads(on_map, size) * is_there[..., None, None]
    round_body = inside_quads(on_map, size, 0.5) * is_there[..., None, None]
    counts = torch.maximum(is_complete[:, None, None], round_body.amax(1))
    counts = counts.clamp(min=OFF_LABEL_WEIGHT)
    sigma = (long / 4 * 0.16).clamp(1.0, 9.0)[..., None]
    axis = torch.arange(size, device=maps.device).float()
    cell = at.round()
    x = torch.exp(-0.5 * ((axis - cell[..., :1]) / sigma) ** 2)
    y = torch.exp(-0.5 * ((axis - cell[..., 1:]) / sigma) ** 2)
    each = y[..., :, None] * x[..., None, :] * is_there[..., None, None]
    goal = each.amax(1)
    tiny = (is_there - keep).clamp(min=0)
    counts = counts * ((each * tiny[..., None, None]).amax(1) < 0.3)
    centre = (focal(torch.sigmoid(maps[:, 0]), goal) * counts).sum() / keep.sum().clamp(
        min=1
    )
    near = (each > 0.6).float() * keep[..., None, None]
    want = shape_of(corners)
    want = torch.cat([want[..., :1] - LOG_SIZE, want[..., 1:]], -1)
    error = (maps[:, None, 1:6] - want[..., None, None]).abs().mean(2)
    shape = (error * near).sum((2, 3)) / near.sum((2, 3)).clamp(min=1)
    shape_mean = (shape * keep).sum() / keep.sum().clamp(min=1)
    dense = F.binary_cross_entropy_with_logits(
        maps[:, 6], body.amax(1), reduction="none"
    )
    return centre + 3 * shape_mean + 3 * (dense * counts).mean()
