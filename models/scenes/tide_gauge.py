"""The demo's board, read from ``tide_gauge.toml``: parts, tracks and print.

Everything about it is invented, see there.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from models.scenes.assemble import board_lands
from models.scenes.description import (
    Board,
    Chip,
    Mould,
    PackageSize,
    Part,
    PointMm,
    Pose,
    SilkText,
    Trace,
    package_lands,
    part_lands,
)
from models.scenes.routing import line_distance, route
from models.scenes.solder import land_distance

MEMORY = "U3"
LETTER_MM, LINE_MM = 0.78, 0.13
STITCH_CLEAR_MM, STITCH_APART_MM = (
    0.6,
    2.2,
)  # of ground vias, from copper and each other


@cache
def _data() -> dict[str, Any]:
    text = Path(__file__).with_suffix(".toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def chips() -> dict[str, Chip]:
    """Return the board's chips by reference, as they should stand."""
    data = _data()
    out = {}
    for name, row in data["chip"].items():
        mould = row["mould"] | {"lines": tuple(row["mould"]["lines"])}
        out[name] = Chip(
            size=PackageSize(**data["size"][row["size"]]),
            home=Pose(**row["home"]),
            mould=Mould(**mould),
        )
    return out


@cache
def parts() -> dict[str, Part]:
    """Return the board's other parts by reference."""
    data = _data()
    out = {}
    for name, row in data["part"].items():
        x, y, angle = row["at"]
        pose = Pose(x_mm=x, y_mm=y, angle_deg=angle)
        out[name] = Part(
            pose=pose, code=row.get("code", ""), **data["case"][row["case"]]
        )
    return out


def _frame(pose: Pose, half: PointMm, *, open_x: float) -> list[Trace]:
    """Print two brackets round a part, open for ``open_x`` on both sides of its middle.

    When ``open_x`` reaches the corners, two plain lines are left.
    """
    hx, hy = half
    ends = [(-open_x, -hy), (-hx, -hy), (-hx, hy), (-open_x, hy)]
    if open_x >= hx:
        ends = ends[1:3]
    return [
        Trace(
            points_mm=tuple(pose.apply((s * x, y)) for x, y in ends), width_mm=LINE_MM
        )
        for s in (1, -1)
    ]


def _silk_lines() -> list[Trace]:
    lines: list[Trace] = []
    for part in parts().values():
        if part.kind == "pins":
            half = (part.pin_count * part.pitch_mm / 2, 1.25)
            lines += _frame(part.pose, half, open_x=0.0)
            continue
        wide = max(part.land_width_mm, part.width_mm if part.kind == "crystal" else 0)
        half = (part.land_span_mm / 2 + 0.25, wide / 2 + 0.25)
        lines += _frame(part.pose, half, open_x=0.3 if part.kind != "crystal" else 2.6)
    for chip in chips().values():
        if chip.size.side_count == 2:
            half = (chip.size.body_y_mm / 2 + 0.17, chip.size.body_x_mm / 2 - 0.4)
            sideways = replace(chip.home, angle_deg=chip.home.angle_deg - 90)
            lines += _frame(sideways, half, open_x=half[0])
    for x, y, diameter in _data()["silk"]["pin_dots"]:
        lines.append(Trace(points_mm=((x, y), (x, y)), width_mm=diameter))
    return lines


def _point(name: str) -> PointMm:
    """Find what a net's end stands for: a lead, a part's end, a via or a point."""
    if name.startswith("@"):
        x, y = (float(v) for v in name[1:].split(","))
        return x, y
    if name.startswith("V"):
        x, y = _data()["routing"]["vias"][int(name[1:])]
        return x, y
    owner, number = name.split(".")
    if owner in chips():
        home, lands = chips()[owner].home, package_lands(chips()[owner].size)
    else:
        home, lands = parts()[owner].pose, part_lands(parts()[owner])
    pose = lands[int(number) - 1].pose
    return home.apply((pose.x_mm, pose.y_mm))


def _stitching(board: Board, rng: np.random.Generator) -> list[PointMm]:
    """Scatter ground vias where nothing else lies."""
    reach = np.array([board.width_mm / 2 - 4, board.height_mm / 2 - 4])
    x, y = rng.uniform(-reach, reach, (2500, 2)).T
    clear = np.minimum.reduce([land_distance(p, x, y) for p in board.lands])
    for trace in board.traces:
        for a, b in pairwise(trace.points_mm):
            clear = np.minimum(clear, line_distance(x, y, a, b) - trace.width_mm / 2)
    labels = [(x, y) for _, x, y, _ in _data()["silk"]["texts"]]
    vias = list(board.vias_mm)
    for k in np.nonzero(clear > STITCH_CLEAR_MM)[0]:
        at = (float(x[k]), float(y[k]))
        near = np.hypot(*(np.array([*vias, *labels]) - at).T).min()
        if near > STITCH_APART_MM:
            vias.append(at)
    return vias


@cache
def bare_board() -> Board:
    """Return the board with tracks, vias and print; the same on every call."""
    data = _data()
    empty = Board(width_mm=data["width_mm"], height_mm=data["height_mm"])
    landed = board_lands(empty, tuple(chips().values()), tuple(parts().values()))
    vias = tuple((x, y) for x, y in data["routing"]["vias"])
    nets = [(_point(a), _point(b), width) for a, b, width in data["routing"]["nets"]]
    traces = route((empty.width_mm, empty.height_mm), landed.lands, nets, vias_mm=vias)
    routed = replace(landed, traces=traces, vias_mm=vias)
    texts = tuple(
        SilkText(
            text=text,
            pose=Pose(x_mm=x, y_mm=y, angle_deg=angle),
            height_mm=LETTER_MM,
        )
        for text, x, y, angle in data["silk"]["texts"]
    )
    return replace(
        empty,
        traces=traces,
        vias_mm=tuple(_stitching(routed, np.random.default_rng(7))),
        silk_lines=tuple(_silk_lines()),
        silk_texts=texts,
    )
