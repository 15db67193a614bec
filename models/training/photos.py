"""Real photographs on the device, seen anew at every draw."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from PIL import Image

from models.scenes.shaded.camera import develop
from models.scenes.shaded.primitives import Dice, column

FOLDS = 3
Bank = tuple[torch.Tensor, torch.Tensor]


@dataclass(frozen=True, slots=True)
class Crops:
    """Labelled crops: image (N, 3, S, S) uint8; corners (N, 4, 2) px; labels (N,)."""

    image: torch.Tensor
    corners: torch.Tensor
    family: torch.Tensor
    count: torch.Tensor  # -1 where the count is none of the known ones
    is_certain: torch.Tensor


@dataclass(frozen=True, slots=True)
class Boards:
    """Photos padded to a square (N, 3, S, S) uint8; quads (N, 8, 4, 2), NaN = none."""

    image: torch.Tensor
    quads: torch.Tensor


def load_words(folder: Path, device: torch.device) -> tuple[Bank, Bank]:
    """The printed words of markings and of silkscreen."""
    data = np.load(folder / "words.npz")

    def bank(name: str) -> Bank:
        strips = torch.tensor(data[f"{name}_strips"], device=device).float() / 255
        return strips, torch.tensor(data[f"{name}_aspect"], device=device)

    return bank("marking"), bank("silkscreen")


def load_photos(
    folder: Path, device: torch.device, *, held_out_fold: int | None
) -> tuple[Crops, Boards]:
    """All training photos but those of the repositories of one fold."""
    data = np.load(folder / "photos.npz", allow_pickle=True)
    rows = data["crop_rows"]
    fold_of = np.arange(len(data["repositories"])) % FOLDS
    kept = fold_of[rows[:, 0].astype(int)] != (
        -1 if held_out_fold is None else held_out_fold
    )
    image = np.stack(
        [_decoded(b) for b, k in zip(data["crops"], kept, strict=True) if k]
    )
    rows = rows[kept]
    crops = Crops(
        image=torch.tensor(image, device=device).permute(0, 3, 1, 2),
        corners=torch.tensor(rows[:, 4:].reshape(-1, 4, 2), device=device),
        family=torch.tensor(rows[:, 1], device=device).long(),
        count=torch.tensor(rows[:, 2], device=device).long(),
        is_certain=torch.tensor(rows[:, 3], device=device),
    )
    kept = fold_of[data["photo_owner"]] != (
        -1 if held_out_fold is None else held_out_fold
    )
    size = max(max(_decoded(b).shape[:2]) for b in data["photos"])
    padded = np.zeros((int(kept.sum()), size, size, 3), np.uint8)
    for k, b in enumerate(data["photos"][kept]):
        picture = _decoded(b)
        padded[k, : picture.shape[0], : picture.shape[1]] = picture
    boards = Boards(
        image=torch.tensor(padded, device=device).permute(0, 3, 1, 2),
        quads=torch.tensor(data["photo_quads"][kept], device=device),
    )
    return crops, boards


def _decoded(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


def redraw_crops(
    crops: Crops, dice: Dice, size: int, fill: tuple[float, float]
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
    """Pick crops and view each from elsewhere: image, corners px, index picked."""
    pick = dice.index(crops.image.shape[0])
    corners = crops.corners[pick]
    sides = (corners - corners.roll(1, 1)).norm(dim=-1)
    zoom = size * dice.uniform(*fill) / sides.amax(1)
    angle = torch.where(
        dice.chance(0.5) > 0,
        dice.uniform(-math.pi, math.pi),
        dice.index(4).float() * math.pi / 2 + dice.normal(0.1),
    )
    stretch = torch.exp(dice.normal(0.06))
    centre = corners.mean(1)
    matrix = _view(dice, centre, zoom, angle, stretch, size, tilt=0.12)
    image = _warp(crops.image, pick, matrix, size, zoom)
    return _recoloured(image, dice), _mapped(matrix, corners), pick


def redraw_boards(
    boards: Boards, dice: Dice, size: int
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
    """Cut squares out of the photos: image, quads px (B, 8, 4, 2), is_there (B, 8)."""
    pick = dice.index(boards.image.shape[0])
    quads = boards.quads[pick]
    is_there = torch.isfinite(quads[:, :, 0, 0]).float()
    chosen = dice.pick(is_there + 1e-4)
    target = quads[torch.arange(dice.batch, device=dice.device), chosen]
    long = (target - target.roll(1, 1)).norm(dim=-1).amax(1).clamp(min=8)
    wanted = torch.exp(dice.uniform(math.log(16.0), math.log(420.0)))
    zoom = (wanted / long).clamp(max=1.6)
    angle = dice.index(4).float() * math.pi / 2 + dice.normal(0.25)
    centre = target.mean(1)
    matrix = _view(
        dice, centre, zoom, angle, torch.exp(dice.normal(0.05)), size, tilt=0.08
    )
    move = torch.eye(3, device=dice.device).repeat(dice.batch, 1, 1)
    move[:, :2, 2] = dice.uniform(-0.42, 0.42, 2) * size
    matrix = move @ matrix
    image = _warp(boards.image, pick, matrix, size, zoom)
    flat = torch.nan_to_num(quads, nan=-1e4).flatten(1, 2)
    return (
        _recoloured(image, dice),
        _mapped(matrix, flat).reshape(quads.shape),
        is_there,
    )


def _view(
    dice: Dice, centre: torch.Tensor, zoom: torch.Tensor, angle: torch.Tensor,
    stretch: torch.Tensor, size: int, *, tilt: float,
) -> torch.Tensor:  # fmt: skip
    """Homography (B, 3, 3) from photo px to the new picture's px, about ``centre``."""
    zero, one = torch.zeros_like(zoom), torch.ones_like(zoom)
    c, s = torch.cos(angle) * zoom, torch.sin(angle) * zoom
    spin = torch.stack(
        [c, -s * stretch, zero, s, c * stretch, zero, zero, zero, one], 1
    )
    back = torch.stack(
        [one, zero, -centre[:, 0], zero, one, -centre[:, 1], zero, zero, one], 1
    )
    lean = dice.normal(tilt, 2).clamp(-0.3, 0.3) / size
    tip = torch.stack(
        [one, zero, zero, zero, one, zero, lean[:, 0], lean[:, 1], one], 1
    )
    middle = size / 2 + dice.normal(0.03 * size, 2).clamp(-0.09 * size, 0.09 * size)
    put = torch.stack(
        [one, zero, middle[:, 0], zero, one, middle[:, 1], zero, zero, one], 1
    )
    shaped = [m.reshape(-1, 3, 3) for m in (put, tip, spin, back)]
    return shaped[0] @ shaped[1] @ shaped[2] @ shaped[3]


def _mapped(matrix: torch.Tensor, points: torch.Tensor) -> torch.Tensor:
    ones = torch.ones_like(points[..., :1])
    mapped = torch.cat([points, ones], -1) @ matrix.transpose(1, 2)
    return mapped[..., :2] / mapped[..., 2:].clamp(min=1e-3)


def _warp(
    stack: torch.Tensor,
    pick: torch.Tensor,
    matrix: torch.Tensor,
    size: int,
    zoom: torch.Tensor,
) -> torch.Tensor:
    """Pictures of the stack seen through the homographies, without aliasing."""
    axis = torch.arange(size, device=stack.device).float()
    ys, xs = torch.meshgrid(axis, axis, indexing="ij")
    pixels = torch.stack([xs, ys, torch.ones_like(xs)]).reshape(3, -1)
    source = torch.linalg.inv(matrix) @ pixels
    side = stack.shape[-1]
    grid = (source[:, :2] / source[:, 2:].clamp(min=1e-3) + 0.5) / side * 2 - 1
    grid = grid.reshape(-1, 2, size, size).permute(0, 2, 3, 1)
    out = []
    for k in range(pick.shape[0]):
        picture = stack[pick[k]][None].float() / 255
        step = 1
        while float(zoom[k]) * step < 0.6 and step < 16:
            step *= 2
        if step > 1:
            picture = F.avg_pool2d(picture, step, ceil_mode=True)
        out.append(
            F.grid_sample(
                picture, grid[k : k + 1], align_corners=False, padding_mode="border"
            )
        )
    return torch.cat(out)


def _recoloured(image: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Another light and another phone; a quarter of the pictures stay as they are."""
    mix = torch.eye(3, device=dice.device) + dice.normal(0.08, 3, 3)
    other = torch.einsum("bij,bjhw->bihw", mix, image)
    other = develop(other.clamp(0, 1), dice)
    return torch.where(column(dice.chance(0.75)) > 0, other, image)
