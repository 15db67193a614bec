"""Train one network.

    python -m models.training.run crop|board DATA OUT --minutes 7 --seed 1
        [--start FILE] [--photos-from 0.65] [--fold K]

DATA is the folder made by ``models.training.prepare``.  OUT gets
``NAME-shaded.pt`` (before any photograph was seen) and ``NAME.pt``, weights
averaged over the last steps, half precision.  The learning rate falls with the
time spent, so a run ends when it should; ``--fold K`` leaves the photos of a
third of the repositories out.
"""

from __future__ import annotations

import argparse
import copy
import math
import time
from pathlib import Path

import torch
from torch import nn

from models.scenes.shaded.boards import BoardBatch, shade_boards
from models.scenes.shaded.crops import shade_crops
from models.scenes.shaded.primitives import Dice
from models.training import nets, photos, targets

FILL = (0.40, 0.76)
BOARD_PX = 512
BATCH = {"crop": 128, "board": 16}
PHOTO_BATCH = {"crop": 64, "board": 16}
PEAK_RATE = 2e-3
REPLAY_BATCHES = 1500


class Trainer:
    """A network, its optimiser, its running average and the sources of pictures."""

    def __init__(self, args: argparse.Namespace) -> None:
        self.args = args
        self.device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
        torch.manual_seed(args.seed)
        self.generator = torch.Generator(self.device).manual_seed(args.seed)
        self.words = photos.load_words(args.data, self.device)
        self.crops, self.boards = photos.load_photos(
            args.data, self.device, held_out_fold=args.fold
        )
        self.net = (nets.CropNet() if args.name == "crop" else nets.BoardNet()).to(
            self.device
        )
        if args.start:
            state = torch.load(args.start, map_location=self.device)
            self.net.load_state_dict(
                {k: v.float() for k, v in state.items()}, strict=False
            )
        self.net = self.net.to(memory_format=torch.channels_last)
        self.average = copy.deepcopy(self.net)
        self.optimiser = torch.optim.AdamW(
            self.net.parameters(), lr=args.rate, weight_decay=0.02
        )
        self.replay = Replay(REPLAY_BATCHES)
        self.skipped = 0

    def step(self, loss_of: object, done: float) -> float:
        """One optimiser step; a batch that is not finite is skipped and counted."""
        warm = min(1.0, done / 0.02) if not self.args.start else 1.0
        rate = self.args.rate * warm * 0.5 * (1 + math.cos(math.pi * min(done, 1.0)))
        for group in self.optimiser.param_groups:
            group["lr"] = max(rate, 1e-6)
        with torch.autocast(self.device.type, dtype=torch.bfloat16):
            loss = loss_of()  # type: ignore[operator]
        if not torch.isfinite(loss):
            self.skipped += 1
            return float("nan")
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        norm = nn.utils.clip_grad_norm_(self.net.parameters(), 5.0)
        if not torch.isfinite(norm):
            self.skipped += 1
            return float("nan")
        self.optimiser.step()
        with torch.no_grad():
            for kept, new in zip(
                self.average.state_dict().values(),
                self.net.state_dict().values(),
                strict=True,
            ):
                if kept.dtype.is_floating_point:
                    kept.lerp_(new, 0.004)
                else:
                    kept.copy_(new)
        return float(loss.detach())

    def save(self, name: str) -> None:
        self.args.out.mkdir(parents=True, exist_ok=True)
        state = {
            k: v.half() if v.dtype.is_floating_point else v
            for k, v in self.average.state_dict().items()
        }
        torch.save(state, self.args.out / f"{name}.pt")


def crop_losses(
    net: nn.Module, image: torch.Tensor, truth: dict[str, torch.Tensor]
) -> torch.Tensor:
    """All losses of the crop network; ``truth`` in px of the picture."""
    maps, family, count = net(image.contiguous(memory_format=torch.channels_last))
    maps = maps.float()
    corners = (truth["corners"] + 0.5) / 2 - 0.5
    loss = targets.corner_loss(maps, corners, truth["is_certain"]).mean()
    half = nn.functional.avg_pool2d
    if "leads" in truth:
        loss = (
            loss
            + 2
            * targets.area_loss(
                maps, half(truth["body"], 2), half(truth["leads"], 2)
            ).mean()
        )
        at = (truth["mark_at"] + 0.5) / 2 - 0.5
        loss = loss + 0.3 * targets.mark_loss(maps, at, truth["has_mark"]).mean()
    loss = loss + 0.4 * nn.functional.cross_entropy(
        family.float(), truth["family"], label_smoothing=0.03
    )
    known = truth["count"] >= 0
    if known.any():
        loss = loss + 0.4 * nn.functional.cross_entropy(
            count.float()[known], truth["count"][known], label_smoothing=0.03
        )
    return loss


def shaded_crop_steps(trainer: Trainer, done: float) -> float:
    """Draw once, learn twice: as drawn, and by quarter turns in another colour."""
    with torch.no_grad():
        batch = shade_crops(
            BATCH["crop"], nets.CROP_PX, trainer.generator, trainer.words, fill=FILL
        )
    truth = {
        "corners": batch.corners, "family": batch.family, "count": batch.count,
        "body": batch.body, "leads": batch.leads, "mark_at": batch.mark_at,
        "has_mark": batch.has_mark, "is_certain": torch.ones_like(batch.family),
    }  # fmt: skip
    loss = trainer.step(lambda: crop_losses(trainer.net, batch.image, truth), done)
    last = nets.CROP_PX - 1
    image = batch.image
    for _ in range(1, trainer.args.uses):
        image = torch.rot90(image, 1, (2, 3))[:, torch.randperm(3, device=image.device)]
        for key in ("body", "leads"):
            truth[key] = torch.rot90(truth[key], 1, (2, 3))
        for key in ("corners", "mark_at"):
            x, y = truth[key][..., 0], truth[key][..., 1]
            truth[key] = torch.stack([y, last - x], -1)
        trainer.step(
            lambda i=image, t=dict(truth): crop_losses(trainer.net, i, t), done
        )
    return loss


def photo_crop_step(trainer: Trainer, done: float) -> float:
    dice = Dice(PHOTO_BATCH["crop"], trainer.generator)
    with torch.no_grad():
        image, corners, pick = photos.redraw_crops(
            trainer.crops, dice, nets.CROP_PX, FILL
        )
    crops = trainer.crops
    truth = {
        "corners": corners, "family": crops.family[pick], "count": crops.count[pick],
        "is_certain": crops.is_certain[pick],
    }  # fmt: skip
    return trainer.step(lambda: crop_losses(trainer.net, image, truth), done)


class Replay:
    """The boards drawn so far, kept as bytes, so that one drawing serves many steps."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.batches: list[tuple[torch.Tensor, torch.Tensor, torch.Tensor]] = []
        self.drawn = 0

    def add(self, batch: BoardBatch) -> None:
        image = (batch.image.clamp(0, 1) * 255).to(torch.uint8)
        kept = (image, batch.corners, batch.is_there)
        if len(self.batches) < self.most:
            self.batches.append(kept)
        else:
            self.batches[self.drawn % self.most] = kept
        self.drawn += 1

    def pick(self) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """One batch put together from four drawings of different age."""
        part = BATCH["board"] // 4
        picks = torch.randint(len(self.batches), (4,)).tolist()
        start = int(torch.randint(4, (1,))) * part
        rows = [[t[start : start + part] for t in self.batches[k]] for k in picks]
        image, corners, is_there = (torch.cat(t) for t in zip(*rows, strict=True))
        return image.float() / 255, corners, is_there


def shaded_board_step(trainer: Trainer, done: float) -> float:
    """Draw once, learn many times: turned, mirrored and recoloured, old ones again."""
    with torch.no_grad():
        trainer.replay.add(
            shade_boards(BATCH["board"], BOARD_PX, trainer.generator, trainer.words)
        )
    whole = torch.ones(BATCH["board"], device=trainer.device)
    loss, last = math.nan, BOARD_PX - 1
    for _ in range(min(trainer.args.uses, 1 + trainer.replay.drawn // 4)):
        image, corners, is_there = trainer.replay.pick()
        turn, is_mirrored = torch.randint(4, (1,)).item(), torch.rand(1) < 0.5
        if torch.rand(1) < 0.5:
            image = image[:, torch.randperm(3, device=image.device)]
        image = torch.rot90(image, int(turn), (2, 3))
        for _ in range(int(turn)):
            corners = torch.stack([corners[..., 1], last - corners[..., 0]], -1)
        if is_mirrored:
            image = image.flip(3)
            corners = torch.stack([last - corners[..., 0], corners[..., 1]], -1).flip(2)
        picture = image.contiguous(memory_format=torch.channels_last)
        loss = trainer.step(
            lambda i=picture, c=corners, t=is_there: targets.board_loss(
                trainer.net(i).float(), c, t, whole
            ),
            done,
        )
        if done >= trainer.args.photos_from and torch.rand(1) < 0.3:
            photo_board_step(trainer, done)
    return loss


def photo_board_step(trainer: Trainer, done: float) -> float:
    dice = Dice(PHOTO_BATCH["board"], trainer.generator)
    with torch.no_grad():
        image, quads, is_there = photos.redraw_boards(trainer.boards, dice, BOARD_PX)
    part = torch.zeros(dice.batch, device=trainer.device)
    image = image.contiguous(memory_format=torch.channels_last)
    return trainer.step(
        lambda: targets.board_loss(trainer.net(image).float(), quads, is_there, part),
        done,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("name", choices=("crop", "board"))
    parser.add_argument("data", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--minutes", type=float, default=7.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path)
    parser.add_argument("--photos-from", type=float, default=0.65, dest="photos_from")
    parser.add_argument("--photo-steps", type=int, default=1, dest="photo_steps")
    parser.add_argument("--fold", type=int)
    parser.add_argument("--rate", type=float, default=PEAK_RATE)
    parser.add_argument(
        "--uses", type=int, default=2, help="times that a drawn picture is learnt from"
    )
    args = parser.parse_args()
    trainer = Trainer(args)
    shaded = shaded_crop_steps if args.name == "crop" else shaded_board_step
    photo = photo_crop_step if args.name == "crop" else photo_board_step
    begun, steps, next_print, is_saved = time.monotonic(), 0, 0.0, False
    seen = math.nan
    while (done := (time.monotonic() - begun) / (60 * args.minutes)) < 1:
        with_photos = done >= args.photos_from
        if with_photos and not is_saved:
            trainer.save(f"{args.name}-shaded")
            is_saved = True
        loss = shaded(trainer, done)
        for _ in range(args.photo_steps if with_photos else 0):
            seen = photo(trainer, done)
        steps += 1
        if time.monotonic() - begun > next_print:
            print(
                f"{args.name} {done:.2f} step {steps} shaded {loss:.3f} "
                f"photos {seen:.3f} skipped {trainer.skipped}",
                flush=True,
            )
            next_print += 20
    trainer.save(args.name)
    print(f"{args.name}: {steps} draws, {trainer.skipped} skipped", flush=True)


if __name__ == "__main__":
    main()
