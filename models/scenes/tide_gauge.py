"""The demo's board: an invented harbour tide-gauge logger with its calibration memory.

Everything here is made up, except package sizes and land patterns, which repeat
rows of ``vision/data/families``.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from models.scenes.assemble import board_lands
from models.scenes.description import (
    Board,
    Chip,
    Mould,
    PackageSize,
    Part,
    PartKind,
    PointMm,
    Pose,
    SilkText,
    Trace,
    package_lands,
    part_lands,
)
from models.scenes.routing import route
from models.scenes.solder import land_distance

SOIC_8 = PackageSize(
    family="SOIC", lead_count=8, pitch_mm=1.27, body_x_mm=3.9, body_y_mm=4.9, span_x_mm=6.0,
    lead_width_mm=0.41, foot_mm=0.72, height_mm=1.55, standoff_mm=0.15, lead_thickness_mm=0.21,
    land_length_mm=1.95, land_width_mm=0.6, land_span_x_mm=6.9,
)  # fmt: skip
TSSOP_14 = PackageSize(
    family="TSSOP", lead_count=14, pitch_mm=0.65, body_x_mm=4.4, body_y_mm=5.0, span_x_mm=6.4,
    lead_width_mm=0.24, foot_mm=0.6, height_mm=1.1, standoff_mm=0.1, lead_thickness_mm=0.15,
    land_length_mm=1.475, land_width_mm=0.4, land_span_x_mm=7.2,
)  # fmt: skip
LQFP_48 = PackageSize(
    family="QFP", lead_count=48, pitch_mm=0.5, body_x_mm=7.0, body_y_mm=7.0, span_x_mm=9.0,
    span_y_mm=9.0, lead_width_mm=0.22, foot_mm=0.6, height_mm=1.5, standoff_mm=0.1,
    lead_thickness_mm=0.14, land_length_mm=1.475, land_width_mm=0.3, land_span_x_mm=9.8,
    land_span_y_mm=9.8,
)  # fmt: skip
WIDTH_MM, HEIGHT_MM = 46.0, 36.0
HOME = Pose(angle_deg=90.0)
CHIP_MOULD = Mould(
    pin_mark="dimple", mark_mm=0.75, has_bevel=True, ejector_mm=0.0,
    lines=("TIDE-25C", "CAL 0417", "HARBOUR 3"), line_height_mm=0.5, text_turn_deg=-90.0, text_up_mm=0.3,
)  # fmt: skip
NEIGHBOURS = (
    Chip(
        size=LQFP_48, home=Pose(x_mm=-11.0, y_mm=0.9, angle_deg=0.0),
        mould=Mould(mark_mm=0.8, ejector_mm=1.2, lines=("GAUGE-48", "LOG 2.1", "0316 K"), line_height_mm=0.8),
    ),
    Chip(
        size=TSSOP_14, home=Pose(x_mm=7.5, y_mm=-0.9, angle_deg=180.0),
        mould=Mould(mark_mm=0.6, lines=("SWELL-14", "0409"), line_height_mm=0.55, text_turn_deg=90.0),
    ),
)  # fmt: skip
SIZES = {  # length, width, height of resistor and capacitor, land length, width, span
    "0603": (1.6, 0.8, 0.45, 0.8, 0.8, 0.95, 2.45),
    "0805": (2.0, 1.25, 0.55, 1.1, 1.025, 1.4, 2.85),
}


def _small(kind: PartKind, size: str, at: PointMm, angle_deg: float, code: str = "") -> Part:
    length, width, low, high, land_length, land_width, span = SIZES[size]
    return Part(
        kind=kind,
        pose=Pose(x_mm=at[0], y_mm=at[1], angle_deg=angle_deg),
        length_mm=length,
        width_mm=width,
        height_mm=low if kind == "resistor" else high,
        land_length_mm=land_length,
        land_width_mm=land_width,
        land_span_mm=span,
        code=code,
    )


PARTS: dict[str, Part] = {
    "R12": _small("resistor", "0603", (-4.15, -2.6), 90, "103"),
    "R13": _small("resistor", "0603", (-4.2, 3.4), 88.5, "472"),
    "C7": _small("capacitor", "0603", (4.35, 4.35), 1.5),
    "C9": _small("capacitor", "0805", (8.3, 4.6), 0),
    "R14": _small("resistor", "0603", (2.7, 6.9), 90, "220"),
    "R15": _small("resistor", "0603", (4.7, 6.8), 91, "220"),
    "C8": _small("capacitor", "0603", (-5.2, -5.6), 0),
    "C5": _small("capacitor", "0805", (-8.7, -6.6), 0),
    "R17": _small("resistor", "0805", (-8.4, 7.4), -1, "331"),
    "Y1": Part(
        kind="crystal", pose=Pose(x_mm=-1.9, y_mm=7.0), length_mm=5.0, width_mm=3.2,
        height_mm=0.9, land_length_mm=1.4, land_width_mm=2.4, land_span_mm=6.0, code="8.192 T",
    ),
    "J2": Part(
        kind="pins", pose=Pose(x_mm=4.2, y_mm=-6.3), length_mm=0.64, width_mm=0.64, height_mm=1.0,
        land_length_mm=1.7, land_width_mm=1.7, land_span_mm=0.0, pin_count=6, pitch_mm=2.54,
    ),
}  # fmt: skip
LABELS: tuple[tuple[str, PointMm, float], ...] = (
    ("U3", (3.15, 2.75), 0), ("R12", (-5.3, -2.6), 90), ("R13", (-5.35, 3.3), 90),
    ("C7", (6.3, 3.5), 0), ("C9", (10.9, 4.6), 90), ("R14", (1.55, 6.9), 90),
    ("R15", (5.8, 6.8), 90), ("C8", (-3.15, -5.2), 0), ("Y1", (-5.6, 6.4), 0),
    ("U2", (-7.3, -4.75), 0), ("U5", (11.9, 0.9), 90), ("J2", (-4.6, -7.6), 0),
    ("TIDE LOGGER C", (9.2, 7.0), 0), ("REV 2", (7.9, 8.3), 0),
)  # fmt: skip


def _frame(pose: Pose, half_x: float, half_y: float, *, gap_mm: float = 0.0) -> list[Trace]:
    """Print two brackets, or the two long sides when ``gap_mm`` is 0, round a part."""
    corners = [(-half_x, -half_y), (half_x, -half_y), (half_x, half_y), (-half_x, half_y)]
    a, b, c, d = (pose.apply(p) for p in corners)
    if not gap_mm:
        return [Trace(points_mm=(a, b), width_mm=0.13), Trace(points_mm=(d, c), width_mm=0.13)]
    left = [pose.apply((x, y)) for x, y in ((-gap_mm, -half_y), (-half_x, -half_y), (-half_x, half_y), (-gap_mm, half_y))]
    right = [pose.apply((-x, y)) for x, y in ((-gap_mm, -half_y), (-half_x, -half_y), (-half_x, half_y), (-gap_mm, half_y))]
    return [Trace(points_mm=tuple(side), width_mm=0.13) for side in (left, right)]


def _silk_lines() -> list[Trace]:
    lines = _frame(HOME, 1.45, 2.62)
    lines.append(Trace(points_mm=((-2.85, 2.75), (-2.85, 2.75)), width_mm=0.5))
    for part in PARTS.values():
        if part.kind in ("resistor", "capacitor"):
            lines += _frame(part.pose, part.land_span_mm / 2 + 0.25, part.land_width_mm / 2 + 0.25, gap_mm=0.3)
        elif part.kind == "crystal":
            lines += _frame(part.pose, 3.25, 1.9, gap_mm=2.6)
        else:
            half = part.pin_count * part.pitch_mm / 2
            lines += _frame(part.pose, half, 1.25, gap_mm=0.01)
    lines += _frame(NEIGHBOURS[1].home, 2.0, 2.75)
    lines.append(Trace(points_mm=((11.3, 1.6), (11.3, 1.6)), width_mm=0.4))
    return lines


def _pin(chip: Chip, number: int) -> PointMm:
    pose = package_lands(chip.size)[number - 1].pose
    return chip.home.apply((pose.x_mm, pose.y_mm))


def _end(name: str, index: int) -> PointMm:
    part = PARTS[name]
    pose = part_lands(part)[index].pose
    return part.pose.apply((pose.x_mm, pose.y_mm))


def _nets() -> tuple[list[tuple[PointMm, PointMm, float]], list[PointMm]]:
    memory = Chip(size=SOIC_8, home=HOME)
    logic, driver = NEIGHBOURS
    u, q, t = (lambda n: _pin(memory, n)), (lambda n: _pin(logic, n)), (lambda n: _pin(driver, n))
    vias = [(3.1, 0.2), (0.7, 0.3), (-0.6, -0.4), (3.2, -3.9), (-6.3, 7.9), (6.4, 2.6), (0.2, 4.4),
            (-3.0, -4.6), (1.2, -0.5), (7.2, -4.3), (10.6, 3.2), (-6.0, -7.9), (-8.2, 5.9), (12.6, -3.0)]  # fmt: skip
    nets = [
        (u(1), q(28), 0.2), (u(1), _end("R13", 1), 0.2), (u(2), q(26), 0.2), (u(3), _end("C7", 0), 0.3),
        (u(4), vias[6], 0.4), (u(8), _end("R12", 0), 0.3), (u(8), _end("J2", 0), 0.4),
        (u(7), _end("J2", 1), 0.25), (u(6), vias[3], 0.2), (u(5), t(8), 0.2), (u(5), vias[0], 0.2),
        (_end("R12", 1), q(33), 0.2), (_end("R13", 0), q(25), 0.2), (_end("C7", 1), vias[5], 0.4),
        (_end("Y1", 0), q(20), 0.2), (_end("Y1", 1), _end("R14", 1), 0.2), (_end("R14", 0), vias[1], 0.2),
        (_end("R15", 1), vias[2], 0.2), (_end("R15", 0), _end("C9", 0), 0.3), (t(14), vias[5], 0.25),
        (t(1), _end("J2", 3), 0.25), (t(2), vias[13], 0.2), (t(3), _end("J2", 5), 0.2), (t(13), vias[8], 0.2),
        (t(12), _end("J2", 2), 0.2), (t(4), (15.0, 2.0), 0.2), (t(5), (15.0, 4.0), 0.2), (_end("C9", 1), vias[10], 0.4),
        (_end("C8", 1), vias[7], 0.4), (_end("C8", 0), q(38), 0.25), (q(35), vias[11], 0.2), (q(30), (-4.2, 0.6), 0.2),
        ((-4.2, 0.6), vias[9], 0.2), (q(22), vias[12], 0.2), (q(23), _end("R17", 1), 0.2), (_end("C5", 1), q(40), 0.3),
        (q(36), (-2.0, -12.0), 0.2), (_end("J2", 4), (9.0, -14.0), 0.3), (t(6), (15.0, 6.0), 0.2),
        (_end("R17", 0), vias[4], 0.3), (_end("Y1", 0), (-6.0, 14.0), 0.2),
    ]  # fmt: skip
    return nets, [*vias, (-4.2, 0.6)]


def _stitching(board: Board, rng: np.random.Generator) -> list[PointMm]:
    """Scatter ground vias where nothing else lies."""
    x, y = rng.uniform((-19.0, -14.0), (19.0, 14.0), (2500, 2)).T
    clear = np.minimum.reduce([land_distance(p, x, y) for p in board.lands])
    for trace in board.traces:
        for (ax, ay), (bx, by) in zip(trace.points_mm, trace.points_mm[1:], strict=False):
            f = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / max((bx - ax) ** 2 + (by - ay) ** 2, 1e-9), 0, 1)
            away = np.hypot(x - ax - f * (bx - ax), y - ay - f * (by - ay)) - trace.width_mm / 2
            clear = np.minimum(clear, away)
    labels = np.array([p for _, p, _ in LABELS])
    taken: list[PointMm] = list(board.vias_mm)
    for k in np.nonzero(clear > 0.6)[0]:
        at = (float(x[k]), float(y[k]))
        near = np.hypot(*(np.array([*taken, *labels]) - at).T).min()
        if near > 2.2:
            taken.append(at)
    return taken


@lru_cache(maxsize=1)
def bare_board() -> Board:
    """Return the logger's board with tracks, vias and print; the same on every call."""
    memory = Chip(size=SOIC_8, home=HOME)
    empty = Board(width_mm=WIDTH_MM, height_mm=HEIGHT_MM)
    parts = tuple(PARTS.values())
    landed = board_lands(empty, (memory, *NEIGHBOURS), parts)
    nets, vias = _nets()
    traces = route((WIDTH_MM, HEIGHT_MM), landed.lands, nets, vias_mm=vias)
    routed = replace(landed, traces=traces, vias_mm=tuple(vias))
    texts = tuple(
        SilkText(text=text, pose=Pose(x_mm=x, y_mm=y, angle_deg=angle), height_mm=0.78)
        for text, (x, y), angle in LABELS
    )
    return replace(
        empty,
        traces=traces,
        vias_mm=tuple(_stitching(routed, np.random.default_rng(7))),
        silk_lines=tuple(_silk_lines()),
        silk_texts=texts,
    )
