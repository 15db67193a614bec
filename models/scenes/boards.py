"""Path-trace many random boards, each from several viewpoints, with exact truth."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from models.scenes.assemble import assemble
from models.scenes.pathtrace import render
from models.scenes.phone import develop, encode_jpeg

if TYPE_CHECKING:
    from collections.abc import Callable

    from models.scenes.description import Scene

VIEWS = 4


def render_boards(
    about: str,
    draw: Callable[[np.random.Generator, int], Scene],
    shoot: Callable[[Scene, np.random.Generator, int], Scene],
    truth: Callable[[Scene, str], dict[str, Any]],
    *,
    width_px: int,
    samples: int,
) -> None:
    """Render boards until so many are there, as the command line asks.

    Parameters
    ----------
    about : str
        First line of the help.
    draw : callable
        From a random generator and a seed to a board.
    shoot : callable
        From a board, a generator and a width in px to the same with a camera.
    truth : callable
        From a board with a camera and the photo's file name to what is known of it.
    width_px, samples : int
        Usual width of a picture and samples a pixel.
    """
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("out", type=Path)
    parser.add_argument("--boards", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--views", type=int, default=VIEWS)
    parser.add_argument("--width", type=int, default=width_px)
    parser.add_argument("--samples", type=int, default=samples)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for k in range(args.first, args.first + args.boards):
        told = args.out / f"{k:05d}.json"
        if told.exists():
            continue
        rng = np.random.default_rng((args.seed, k))
        scene = draw(rng, args.seed * 100_000 + k)
        items = assemble(scene)
        rows = []
        for v in range(args.views):
            shot = shoot(scene, rng, args.width)
            light = render(shot, samples=args.samples, items=items)
            name = f"{k:05d}_{v}.jpg"
            picture = develop(light, shot.phone, rng)
            (args.out / name).write_bytes(encode_jpeg(picture, shot.phone))
            rows.append(truth(shot, name))
        told.write_text(json.dumps(rows))
