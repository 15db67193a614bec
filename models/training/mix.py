"""Average the weights of training runs that started from one another.

    python -m models.training.mix FIRST.pt SECOND.pt OUT.pt

Two stops on one path of training, averaged, judge photos they never saw better than
either: M. Wortsman et al., "Model soups", ICML (2022), arXiv:2203.05482.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import torch


def mixed(states: list[dict[str, torch.Tensor]]) -> dict[str, torch.Tensor]:
    """Mean of floating-point tensors; the last run's counters."""
    return {
        key: torch.stack([s[key].float() for s in states]).mean(0).half()
        if last.dtype.is_floating_point
        else last
        for key, last in states[-1].items()
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("runs", type=Path, nargs="+")
    parser.add_argument("out", type=Path)
    args = parser.parse_args()
    states = [torch.load(run, map_location="cpu") for run in args.runs]
    torch.save(mixed(states), args.out)


if __name__ == "__main__":
    main()
