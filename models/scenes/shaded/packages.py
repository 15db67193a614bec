"""Package shapes for the shaded training scenes, drawn at random from real sizes.

Rows hold the numbers of one outline; every draw varies them by a few per cent.
Frame: origin at the body centre, x right, y down, pin 1 at the upper left, so
the sides in the order of numbering are left, bottom, right, top.  Sizes repeat
those of ``vision/data/families`` and, for transformers, are from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch

FAMILIES = (
    "SOIC", "SSOP", "TSSOP", "MSOP", "TSOP", "QFP",
    "QFN", "SON", "SOT", "DIP", "PLCC", "other",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shape:
    """One package outline: leads a side (left, bottom, right, top), sizes in mm."""

    family: str
    leads: tuple[int, int, int, int]
    pitch_mm: float
    body_x_mm: float
    body_y_mm: float
    reach_mm: float
    lead_width_mm: float
    height_mm: float
    weight: float


def _two_rows(
    family: str,
    count: int,
    pitch: float,
    size: tuple[float, float],
    lead: tuple[float, float],
    height: float,
    weight: float,
) -> Shape:
    half = count // 2
    reach, width = lead
    return Shape(family, (half, 0, half, 0), pitch, *size, reach, width, height, weight)


def _four_sides(
    family: str, count: int, pitch: float, body: float, lead: tuple[float, float],
    height: float, weight: float,
) -> Shape:  # fmt: skip
    side = count // 4
    reach, width = lead
    return Shape(family, (side,) * 4, pitch, body, body, reach, width, height, weight)


SHAPES: tuple[Shape, ...] = (
    _two_rows("SOIC", 8, 1.27, (3.9, 4.9), (1.05, 0.41), 1.5, 14),
    _two_rows("SOIC", 8, 1.27, (5.25, 5.25), (1.32, 0.42), 1.9, 13),
    _two_rows("SOIC", 14, 1.27, (3.9, 8.65), (1.05, 0.41), 1.5, 5),
    _two_rows("SOIC", 16, 1.27, (3.9, 9.9), (1.05, 0.41), 1.5, 5),
    _two_rows("SOIC", 16, 1.27, (7.5, 10.3), (1.4, 0.41), 2.4, 5),
    _two_rows("SOIC", 18, 1.27, (7.5, 11.55), (1.4, 0.41), 2.4, 3),
    _two_rows("SOIC", 20, 1.27, (7.5, 12.8), (1.4, 0.41), 2.4, 5),
    _two_rows("SOIC", 24, 1.27, (7.5, 15.4), (1.4, 0.41), 2.4, 1),
    _two_rows("SOIC", 28, 1.27, (7.5, 17.9), (1.4, 0.41), 2.4, 3),
    _two_rows("TSSOP", 8, 0.65, (4.4, 3.0), (1.0, 0.24), 1.0, 3),
    _two_rows("TSSOP", 14, 0.65, (4.4, 5.0), (1.0, 0.24), 1.0, 3),
    _two_rows("TSSOP", 16, 0.65, (4.4, 5.0), (1.0, 0.24), 1.0, 3),
    _two_rows("TSSOP", 20, 0.65, (4.4, 6.5), (1.0, 0.24), 1.0, 7),
    _two_rows("TSSOP", 24, 0.65, (4.4, 7.8), (1.0, 0.24), 1.0, 3),
    _two_rows("TSSOP", 28, 0.65, (4.4, 9.7), (1.0, 0.24), 1.0, 2),
    _two_rows("MSOP", 8, 0.65, (3.0, 3.0), (0.95, 0.3), 1.0, 4),
    _two_rows("MSOP", 10, 0.5, (3.0, 3.0), (0.95, 0.22), 1.0, 7),
    _two_rows("SSOP", 10, 1.0, (3.9, 4.9), (1.05, 0.4), 1.5, 2),
    _two_rows("SSOP", 16, 0.635, (3.9, 4.9), (1.05, 0.25), 1.5, 2),
    _two_rows("SSOP", 16, 0.65, (5.3, 6.2), (1.25, 0.3), 1.8, 1),
    _two_rows("SSOP", 20, 0.65, (5.3, 7.2), (1.25, 0.3), 1.8, 3),
    _two_rows("SSOP", 28, 0.65, (5.3, 10.2), (1.25, 0.3), 1.8, 4),
    _two_rows("SSOP", 56, 0.635, (7.5, 18.4), (1.4, 0.25), 2.4, 2),
    _two_rows("TSOP", 28, 0.55, (11.8, 8.1), (0.8, 0.2), 1.0, 1),
    _two_rows("TSOP", 32, 0.5, (18.4, 8.0), (0.8, 0.22), 1.0, 2),
    _two_rows("TSOP", 40, 0.5, (18.4, 10.0), (0.8, 0.22), 1.0, 2),
    _two_rows("TSOP", 48, 0.5, (18.4, 12.0), (0.8, 0.22), 1.0, 4),
    _two_rows("TSOP", 44, 0.8, (10.16, 18.41), (0.8, 0.35), 1.0, 2),
    _two_rows("TSOP", 50, 0.8, (10.16, 20.95), (0.8, 0.35), 1.0, 3),
    _two_rows("TSOP", 54, 0.8, (10.16, 22.2), (0.8, 0.35), 1.0, 4),
    _two_rows("TSOP", 66, 0.65, (10.16, 22.2), (0.8, 0.3), 1.0, 2),
    _two_rows("TSOP", 86, 0.5, (10.16, 22.2), (0.8, 0.2), 1.0, 2),
    _four_sides("QFP", 32, 0.8, 7.0, (1.0, 0.37), 1.4, 4),
    _four_sides("QFP", 44, 0.8, 10.0, (1.0, 0.37), 1.4, 3),
    _four_sides("QFP", 48, 0.5, 7.0, (1.0, 0.22), 1.4, 3),
    _four_sides("QFP", 64, 0.5, 10.0, (1.0, 0.22), 1.4, 3),
    _four_sides("QFP", 64, 0.8, 14.0, (1.0, 0.35), 1.4, 1),
    _four_sides("QFP", 80, 0.5, 12.0, (1.0, 0.22), 1.4, 1.5),
    _four_sides("QFP", 100, 0.5, 14.0, (1.0, 0.22), 1.4, 2.5),
    Shape("QFP", (38, 26, 38, 26), 0.5, 14.0, 20.0, 1.0, 0.22, 1.6, 1),
    _four_sides("QFP", 128, 0.4, 14.0, (1.0, 0.18), 1.4, 1.5),
    _four_sides("QFP", 144, 0.5, 20.0, (1.0, 0.22), 1.4, 1.5),
    _four_sides("QFP", 176, 0.5, 24.0, (1.0, 0.22), 1.4, 1),
    _four_sides("QFN", 16, 0.5, 3.0, (0.06, 0.25), 0.8, 2),
    _four_sides("QFN", 20, 0.5, 4.0, (0.06, 0.25), 0.8, 2),
    _four_sides("QFN", 24, 0.5, 4.0, (0.06, 0.25), 0.8, 3),
    _four_sides("QFN", 28, 0.5, 5.0, (0.06, 0.25), 0.8, 2),
    _four_sides("QFN", 32, 0.5, 5.0, (0.06, 0.25), 0.8, 3),
    _four_sides("QFN", 40, 0.5, 6.0, (0.06, 0.25), 0.8, 2),
    _four_sides("QFN", 48, 0.5, 7.0, (0.06, 0.25), 0.8, 3),
    _four_sides("QFN", 64, 0.5, 9.0, (0.06, 0.25), 0.8, 2),
    _four_sides("QFN", 88, 0.4, 10.0, (0.06, 0.2), 0.8, 2),
    _two_rows("SON", 8, 1.27, (6.0, 5.0), (0.06, 0.42), 0.8, 7),
    _two_rows("SON", 8, 1.27, (8.0, 6.0), (0.06, 0.42), 0.8, 7),
    _two_rows("SON", 8, 0.5, (2.0, 3.0), (0.05, 0.25), 0.6, 1),
    Shape("SOT", (2, 0, 1, 0), 1.9, 1.3, 2.9, 0.55, 0.42, 1.0, 5),
    Shape("SOT", (3, 0, 2, 0), 0.95, 1.6, 2.9, 0.6, 0.4, 1.1, 3),
    _two_rows("SOT", 6, 0.95, (1.6, 2.9), (0.6, 0.4), 1.1, 4),
    Shape("SOT", (3, 0, 1, 0), 2.3, 3.5, 6.5, 1.75, 0.7, 1.6, 5),
    _two_rows("DIP", 8, 2.54, (6.35, 9.6), (0.9, 1.4), 3.6, 2),
    _two_rows("DIP", 14, 2.54, (6.35, 19.0), (0.9, 1.4), 3.6, 1),
    _two_rows("DIP", 16, 2.54, (6.35, 19.3), (0.9, 1.4), 3.6, 1),
    Shape("PLCC", (9, 7, 9, 7), 1.27, 11.43, 13.97, 0.45, 0.7, 3.0, 1.0),
    _four_sides("PLCC", 44, 1.27, 16.6, (0.45, 0.7), 3.8, 0.7),
    _two_rows("other", 24, 1.0, (7.0, 15.0), (1.2, 0.45), 5.0, 3),
    _two_rows("other", 16, 1.27, (7.1, 12.7), (1.4, 0.5), 5.0, 1.5),
)
LEAD_COUNTS = tuple(sorted({sum(shape.leads) for shape in SHAPES}))
TAB = 3.1  # width in mm of the single wide lead of the fourth SOT shape, SOT-223


@dataclass(frozen=True, slots=True)
class PackageBatch:
    """A batch of drawn packages; every tensor's first axis is the batch."""

    family: torch.Tensor  # (B,) int64, index into FAMILIES
    count: torch.Tensor  # (B,) int64, index into LEAD_COUNTS
    leads: torch.Tensor  # (B, 4) leads on left, bottom, right, top
    pitch: torch.Tensor  # (B, 4) mm
    lead_width: torch.Tensor  # (B, 4) mm
    half: torch.Tensor  # (B, 2) half of the body in x and y, mm
    reach: torch.Tensor  # (B,) from body to toe, mm
    height: torch.Tensor  # (B,) body top over the board, mm
    is_long_row: torch.Tensor  # (B,) bool: rows run along the shorter sides (TSOP-I)


def draw_packages(batch: int, generator: torch.Generator) -> PackageBatch:
    """Draw ``batch`` packages by their weights, each size varied by some per cent."""
    device = generator.device
    weights = torch.tensor([s.weight for s in SHAPES], device=device)
    pick = torch.multinomial(weights, batch, replacement=True, generator=generator)

    def column(values: list[object]) -> torch.Tensor:
        return torch.tensor(values, device=device)[pick]

    def vary(frac: float, *shape: int) -> torch.Tensor:
        noise = torch.rand(batch, *shape, generator=generator, device=device)
        return 1 + frac * (2 * noise - 1)

    family = column([FAMILIES.index(s.family) for s in SHAPES])
    leads = column([list(s.leads) for s in SHAPES]).float()
    pitch = column([[s.pitch_mm] * 4 for s in SHAPES])
    width = column([[s.lead_width_mm] * 4 for s in SHAPES]) * vary(0.2, 1)
    is_tab = (leads[:, 2] == 1) & (leads[:, 0] == 3)
    width[:, 2] = torch.where(is_tab, TAB * vary(0.05), width[:, 2])
    half = column([[s.body_x_mm / 2, s.body_y_mm / 2] for s in SHAPES]) * vary(0.025, 2)
    half = half * vary(0.015, 1)
    count = column([LEAD_COUNTS.index(sum(s.leads)) for s in SHAPES])
    return PackageBatch(
        family=family,
        count=count,
        leads=leads,
        pitch=pitch,
        lead_width=width,
        half=half,
        reach=column([s.reach_mm for s in SHAPES]) * vary(0.12),
        height=column([s.height_mm for s in SHAPES]) * vary(0.15),
        is_long_row=column(
            [s.family == "TSOP" and s.body_x_mm > s.body_y_mm for s in SHAPES]
        ),
    )
