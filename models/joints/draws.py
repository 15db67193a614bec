"""Draws batches for the joint network: windows seen anew, sound and with faults."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F

from models.joints import paint
from models.joints.gather import CLASSES, IGNORE
from models.scenes.shaded.camera import develop
from models.scenes.shaded.primitives import Dice, column, value_noise
from vision.strips import COLS, ROWS

MAP_STEP = 4
SCALE = 1.25
PHOTO_SHARE = 0.45
OTHER_BEFORE, NO_BEFORE = 0.15, 0.35
ASKEW_SHARE, EMPTY_SHARE = 0.1, 0.03
FAULTS_PAINTED = {
    "bridge": (0, 8), "bent": (8, 9), "lifted": (9, 10), "much": (10, 11),
    "ball": (11, 12),
}  # fmt: skip
BALLS_PAINTED = {
    "bridge": (0, 3), "bent": (3, 4), "lifted": (4, 5), "much": (5, 6), "ball": (6, 13),
}  # fmt: skip
"""Of twenty sound windows that may be painted, which get each fault."""


@dataclass(frozen=True, slots=True)
class Bank:
    """Windows with room round them; ``is_photo`` rows are of real, sound joints."""

    after: torch.Tensor
    before: torch.Tensor
    has_before: torch.Tensor
    is_photo: torch.Tensor
    is_gap: torch.Tensor
    weight: torch.Tensor
    bridge: torch.Tensor
    left: torch.Tensor
    right: torch.Tensor
    ball: torch.Tensor
    board: torch.Tensor


@dataclass(frozen=True, slots=True)
class Batch:
    """What the network sees and what it should say.

    ``picture`` (B, 7, ROWS, COLS): after, before, and 1 where there is a before;
    ``cover`` (B, 1, ROWS / 4, COLS / 4) solder over the gap, ``knows_cover`` (B,);
    ``bridge`` and ``ball`` (B,) 1, 0 or IGNORE; ``left``, ``right`` class numbers or
    IGNORE;
    ``is_square`` (B,) 1 where the window lies on a gap as it should.
    """

    picture: torch.Tensor
    cover: torch.Tensor
    knows_cover: torch.Tensor
    bridge: torch.Tensor
    left: torch.Tensor
    right: torch.Tensor
    ball: torch.Tensor
    is_square: torch.Tensor


def load_bank(
    paths: list[Path], device: torch.device, *, boards: str = "train"
) -> Bank:
    """Read gathered windows; every tenth rendered board is kept for ``test``."""
    files = [np.load(path, allow_pickle=True) for path in paths]
    data = {key: np.concatenate([f[key] for f in files]) for key in files[0].files}
    is_photo = data["repo"] != ""
    is_test = (data["board"] % 10 == 9) & ~is_photo
    kept = np.flatnonzero(is_test if boards == "test" else ~is_test)
    after = np.stack([_decoded(data["after"][k]) for k in kept])
    has_before = np.array([len(data["before"][k]) > 0 for k in kept])
    blank = np.zeros_like(after[0])
    before = np.stack(
        [
            _decoded(data["before"][k]) if h else blank
            for k, h in zip(kept, has_before, strict=True)
        ]
    )
    repos = data["repo"][kept]
    _, inverse, count = np.unique(repos, return_inverse=True, return_counts=True)
    weight = 1 / np.sqrt(count[inverse])
    weight[~is_photo[kept]] = (
        1
        + 3
        * (
            (
                data["bridge"][kept]
                + (data["left"][kept] > 0)
                + (data["right"][kept] > 0)
            )
            > 0
        )[~is_photo[kept]]
    )

    def tensor(values: np.ndarray) -> torch.Tensor:
        return torch.tensor(values, device=device)

    return Bank(
        after=tensor(after).permute(0, 3, 1, 2).contiguous(),
        before=tensor(before).permute(0, 3, 1, 2).contiguous(),
        has_before=tensor(has_before),
        is_photo=tensor(is_photo[kept]),
        is_gap=tensor(data["is_gap"][kept]),
        weight=tensor(weight.astype(np.float32)),
        bridge=tensor(data["bridge"][kept].astype(np.int64)),
        left=tensor(data["left"][kept].astype(np.int64)),
        right=tensor(data["right"][kept].astype(np.int64)),
        ball=tensor(data["ball"][kept].astype(np.int64)),
        board=tensor(data["board"][kept].astype(np.int64)),
    )


def _decoded(data: bytes) -> np.ndarray:
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    return picture[..., ::-1]


def draw(bank: Bank, dice: Dice, *, most_balls: bool = False) -> Batch:
    """Draw one batch of windows, half of them of photos."""
    chosen = _choose(bank, dice)
    after = bank.after[chosen].float() / 255
    before = bank.before[chosen].float() / 255
    own = bank.has_before[chosen]
    before = torch.where(own[:, None, None, None], before, after)
    seen = {
        "bridge": bank.bridge[chosen],
        "left": bank.left[chosen],
        "right": bank.right[chosen],
        "ball": bank.ball[chosen],
    }
    is_photo = bank.is_photo[chosen]
    is_sound = (seen["bridge"] == 0) & (seen["left"] == 0) & (seen["right"] == 0)
    is_sound &= seen["ball"] == 0
    knows = is_photo | (seen["bridge"] == 0)
    after, before = _other_boards(after, before, own, dice)
    decoy = column(dice.chance(0.4))
    after, before = (
        torch.where(decoy > 0, d, i)
        for i, d in zip((after, before), _same_decoys(after, before, dice), strict=True)
    )
    may = is_sound & (is_photo | (dice.chance(0.3) > 0))
    faults = BALLS_PAINTED if most_balls else FAULTS_PAINTED
    after, cover, seen = _fault(after, may, seen, dice, faults)
    joined = (seen["bridge"] == 1) & (dice.chance(0.04) > 0) & is_photo
    before = torch.where(joined[:, None, None, None], after, before)
    seen["bridge"] = torch.where(joined, 0, seen["bridge"])
    cover = cover * column(1 - joined.float())
    swapped = dice.chance(OTHER_BEFORE) > 0
    before = torch.where(swapped[:, None, None, None], before.roll(1, 0), before)
    c = paint.canvas(after)
    after, before = paint.veils(after, c, dice), paint.veils(before, c, dice)
    empty = dice.chance(EMPTY_SHARE) > 0
    after = torch.where(empty[:, None, None, None], _emptied(after, dice), after)
    seen["is_lost"] = empty | ~bank.is_gap[chosen]
    return _seen_anew(after, before, cover, knows, seen, dice)


def _emptied(image: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Take the leads away: one colour, some clouds, or nothing but blur."""
    flat = column(dice.uniform(0, 1, 3)).expand_as(image)
    cloud = value_noise(dice, paint.COLS, 7, 3)[:, :, : paint.ROWS]
    flat = flat + cloud * column(dice.uniform(0, 0.3) * dice.chance(0.6))
    dim = F.interpolate(F.avg_pool2d(image, 32), size=image.shape[2:], mode="bilinear")
    return torch.where(column(dice.chance(0.4)) > 0, dim, flat).clamp(0, 1)


def _choose(bank: Bank, dice: Dice) -> torch.Tensor:
    share = dice.chance(PHOTO_SHARE)[:, None] > 0
    weight = torch.where(
        share == bank.is_photo[None],
        bank.weight[None],
        torch.zeros_like(bank.weight[None]),
    )
    return dice.pick(weight)


def _other_boards(
    after: torch.Tensor, before: torch.Tensor, is_own: torch.Tensor, dice: Dice
) -> tuple[torch.Tensor, torch.Tensor]:
    """Lay one new board under the leads of both pictures, in some of the pairs."""
    colour = column(dice.uniform(0, 1, 3) * dice.uniform(0.1, 1)[:, None])
    texture = torch.where(
        column(dice.chance(0.5)) > 0,
        after.roll(1, 0),
        0.5 + 0.3 * value_noise(dice, paint.COLS, 12)[:, :, : paint.ROWS],
    )
    chosen = column(dice.chance(0.35)) > 0
    state = dice.generator.get_state()
    one = paint.other_board(paint.canvas(after), dice, colour, texture)
    dice.generator.set_state(state)
    other = paint.other_board(paint.canvas(before), dice, colour, texture)
    other = torch.where(is_own[:, None, None, None], other, one)
    return torch.where(chosen, one, after), torch.where(chosen, other, before)


def _same_decoys(
    after: torch.Tensor, before: torch.Tensor, dice: Dice
) -> tuple[torch.Tensor, torch.Tensor]:
    """Paint the same decoys into both pictures: they lie on the board."""
    state = dice.generator.get_state()
    first = paint.decoys(paint.canvas(after), dice)
    end = dice.generator.get_state()
    dice.generator.set_state(state)
    second = paint.decoys(paint.canvas(before), dice)
    dice.generator.set_state(end)
    return first, second


def _fault(
    after: torch.Tensor,
    may: torch.Tensor,
    seen: dict[str, torch.Tensor],
    dice: Dice,
    faults: dict[str, tuple[int, int]],
) -> tuple[torch.Tensor, torch.Tensor, dict[str, torch.Tensor]]:
    """Paint at most one fault into the pictures that may get one."""
    c = paint.canvas(after)
    which = torch.where(may, dice.index(20), 99)
    side = dice.chance(0.5) * 2 - 1
    bridged, cover = paint.paint_bridges(c, dice)
    pictures = {
        "bridge": bridged,
        "bent": paint.bend(c, dice, side),
        "lifted": paint.lift(c, dice, side),
        "much": paint.paint_much(c, dice, side)[0],
        "ball": paint.paint_ball(c, dice)[0],
    }
    masks = {k: (which >= low) & (which < high) for k, (low, high) in faults.items()}
    seen = dict(seen)
    for name, picture in pictures.items():
        mask = masks[name]
        after = torch.where(mask[:, None, None, None], picture, after)
        if name in ("bridge", "ball"):
            seen[name] = torch.where(mask, 1, seen[name])
        if name == "bridge":
            for lead in ("left", "right"):
                seen[lead] = torch.where(mask, IGNORE, seen[lead])
        elif name in CLASSES:
            for lead, sign in (("left", -1), ("right", 1)):
                is_it = mask & (side == sign)
                seen[lead] = torch.where(is_it, CLASSES.index(name), seen[lead])
    return after, cover * column(masks["bridge"].float()), seen


def _seen_anew(
    after: torch.Tensor,
    before: torch.Tensor,
    cover: torch.Tensor,
    knows: torch.Tensor,
    seen: dict[str, torch.Tensor],
    dice: Dice,
) -> Batch:
    """Look at both pictures from a new place, in a new light, with a new phone."""
    is_askew = dice.chance(ASKEW_SHARE) > 0
    view = _view(dice, is_askew)
    is_askew = is_askew | seen["is_lost"]
    own = torch.eye(3, device=dice.device).repeat(dice.batch, 1, 1)
    own[:, 0, 2] = dice.normal(0.8)
    own[:, 1, 2] = dice.normal(0.8)
    own[:, :2, :2] += dice.normal(0.008, 2, 2)
    after, cover = _warp(after, view), _warp(cover, view)
    before = _warp(before, view @ own)
    hue = _other_colours(dice)
    after, before = (torch.einsum("bij,bjhw->bihw", hue, i) for i in (after, before))
    after, before = _developed(after, dice), _developed(before, dice)
    flag = (dice.chance(1 - NO_BEFORE)[:, None, None, None]).expand(-1, 1, ROWS, COLS)
    picture = torch.cat([after, before * flag, flag], 1)
    small = F.avg_pool2d(cover, MAP_STEP)
    mirrored = dice.chance(0.5) > 0
    turn = mirrored[:, None, None, None]
    left = torch.where(mirrored, seen["right"], seen["left"])
    right = torch.where(mirrored, seen["left"], seen["right"])
    return Batch(
        picture=torch.where(turn, picture.flip(3), picture),
        cover=torch.where(turn, small.flip(3), small),
        knows_cover=knows & ~is_askew,
        bridge=torch.where(is_askew, IGNORE, seen["bridge"]),
        left=torch.where(is_askew, IGNORE, left),
        right=torch.where(is_askew, IGNORE, right),
        ball=torch.where(is_askew, IGNORE, seen["ball"]),
        is_square=(~is_askew).float(),
    )


def _other_colours(dice: Dice) -> torch.Tensor:
    """Mix the channels, the same way in both photos: a board of another colour."""
    eye = torch.eye(3, device=dice.device)
    order = torch.rand(dice.batch, 3, generator=dice.generator, device=dice.device)
    swapped = eye[order.argsort(1)]
    mixed = eye + dice.normal(0.12, 3, 3)
    mixed = mixed / mixed.sum(2, keepdim=True)
    pick = dice.uniform(0, 1)[:, None, None]
    return torch.where(pick < 0.3, swapped, torch.where(pick < 0.6, mixed, eye))


def _view(dice: Dice, is_askew: torch.Tensor) -> torch.Tensor:
    """Map from window pixels to canvas pixels: a small error, or a large one."""
    angle = dice.normal(0.05)
    zoom = torch.exp(dice.normal(0.05, 2))
    move = torch.stack(
        [dice.normal(3.5).clamp(-8, 8), dice.normal(3.0).clamp(-8, 8)], 1
    )
    kind = dice.index(3)
    sign = dice.chance(0.5) * 2 - 1
    off = is_askew & (kind == 0)
    move[:, 0] = torch.where(off, sign * dice.uniform(13, 18), move[:, 0])
    big = is_askew & (kind == 1)
    factor = torch.where(
        dice.chance(0.5) > 0, dice.uniform(0.5, 0.72), dice.uniform(1.35, 1.6)
    )
    zoom[:, 0] = torch.where(big, factor, zoom[:, 0])
    turned = is_askew & (kind == 2)
    angle = torch.where(turned, sign * dice.uniform(0.5, 1.57), angle)
    c, s = torch.cos(angle), torch.sin(angle)
    shear = dice.normal(0.08)
    m = torch.zeros(dice.batch, 3, 3, device=dice.device)
    m[:, 0, 0], m[:, 0, 1] = c * zoom[:, 0], (-s + shear) * zoom[:, 0]
    m[:, 1, 0], m[:, 1, 1] = s * zoom[:, 1], c * zoom[:, 1]
    m[:, 2, 2] = 1
    m[:, :2] *= SCALE
    centre = torch.tensor([(COLS - 1) / 2, (ROWS - 1) / 2], device=dice.device)
    middle = torch.tensor(
        [(paint.COLS - 1) / 2, (paint.ROWS - 1) / 2], device=dice.device
    )
    m[:, :2, 2] = (
        middle + move * SCALE - torch.einsum("bij,j->bi", m[:, :2, :2], centre)
    )
    return m


def plain(image: torch.Tensor) -> torch.Tensor:
    """The window itself, as it is cut when the network is used."""
    view = torch.eye(3, device=image.device) * SCALE
    view[2, 2] = 1
    view[0, 2] = (paint.COLS - 1) / 2 - SCALE * (COLS - 1) / 2
    view[1, 2] = (paint.ROWS - 1) / 2 - SCALE * (ROWS - 1) / 2
    return _warp(image, view.repeat(len(image), 1, 1))


def _warp(image: torch.Tensor, to_canvas: torch.Tensor) -> torch.Tensor:
    device = image.device
    ys, xs = torch.meshgrid(
        torch.arange(ROWS, device=device).float(),
        torch.arange(COLS, device=device).float(),
        indexing="ij",
    )
    points = torch.stack([xs, ys, torch.ones_like(xs)]).reshape(3, -1)
    mapped = to_canvas[:, :2] @ points
    size = torch.tensor([paint.COLS, paint.ROWS], device=device).reshape(1, 2, 1)
    grid = (mapped + 0.5) / size * 2 - 1
    grid = grid.reshape(-1, 2, ROWS, COLS).permute(0, 2, 3, 1)
    return F.grid_sample(image, grid, align_corners=False, padding_mode="zeros")


def _developed(image: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Another phone and light; a third stay as they are."""
    square = F.pad(image, (0, 0, 0, COLS - ROWS), mode="replicate")
    other = develop(square, dice)[:, :, :ROWS]
    grey = column(dice.chance(0.06))
    other = other + (other.mean(1, keepdim=True) - other) * grey
    return torch.where(column(dice.chance(0.65)) > 0, other, image).clamp(0, 1)
