"""Neighbours without leads: resistors, capacitors, crystals, soldered pins."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from models.scenes.description import Pose, part_lands
from models.scenes.faces import label_maps
from models.scenes.items import Item, Material, solder_items
from models.scenes.meshes import Mesh, place, rounded_box
from models.scenes.solder import Foot, Pool

if TYPE_CHECKING:
    from models.scenes.description import Part
    from models.scenes.paint import Maps

SOLDER_STEP_MM = 0.02
PIN_CLIMB_MM = 0.75  # solder on a connector pin
END_CLIMB_FRAC = 0.6  # solder on the end of a chip part, of its height

Piece = tuple[Mesh, Material, "Maps | None"]


def _pools(part: Part) -> tuple[Pool, ...]:
    pools = []
    for land in part_lands(part):
        if part.kind == "pins":
            width, depth, climb = part.width_mm, part.width_mm, PIN_CLIMB_MM
            pose = Pose(x_mm=land.pose.x_mm + part.width_mm / 2)
        else:
            width = part.width_mm * (0.6 if part.kind == "crystal" else 0.96)
            depth, climb = 0.2 * part.length_mm, END_CLIMB_FRAC * part.height_mm
            side = float(np.sign(land.pose.x_mm))
            pose = Pose(x_mm=side * part.length_mm / 2, angle_deg=land.pose.angle_deg)
        line = np.array([(-depth, climb), (0.0, climb)])
        foot = Foot(pose=pose, line=line, width_mm=width, thickness_mm=0.01)
        pools.append(Pool(lands=(land,), feet=(foot,)))
    return tuple(pools)


def _block(part: Part, less_mm: float, height_mm: float) -> Mesh:
    """Return the body of a part, ``less_mm`` narrower than the part."""
    size = (part.length_mm - 0.04, part.width_mm - less_mm, height_mm)
    return place(rounded_box(size, 0.04), Pose(), z_mm=0.02)


def _ends(part: Part) -> list[Piece]:
    """Return the two metal ends of a chip part."""
    box = rounded_box((0.19 * part.length_mm, part.width_mm, part.height_mm), 0.07)
    x = 0.405 * part.length_mm
    return [(place(box, Pose(x_mm=s * x), z_mm=0.02), "tin", None) for s in (-1, 1)]


def _pieces(part: Part, rng: np.random.Generator) -> list[Piece]:
    """Return the solid pieces of a part in its own frame."""
    length, width, height = part.length_mm, part.width_mm, part.height_mm
    if part.kind == "pins":
        pin = rounded_box((width, width, height), 0.2)
        return [(place(pin, land.pose), "tin", None) for land in part_lands(part)]
    if part.kind == "capacitor":
        return [(_block(part, 0.03, height - 0.02), "brown", None), *_ends(part)]
    if part.kind == "resistor":
        maps = label_maps(
            (0.62 * length, 0.94 * width), part.code, is_metal=False, rng=rng
        )
        glaze = rounded_box((0.62 * length, 0.94 * width, 0.05), 0.02)
        top: Piece = (place(glaze, Pose(), z_mm=height - 0.045), "painted", maps)
        return [(_block(part, 0.02, height - 0.04), "ceramic", None), *_ends(part), top]
    maps = label_maps((0.88 * length, 0.82 * width), part.code, is_metal=True, rng=rng)
    lid = rounded_box((0.88 * length, 0.82 * width, 0.3), 0.12)
    return [
        (_block(part, 0.02, height - 0.04), "slate", None),
        (place(lid, Pose(), z_mm=height - 0.1), "painted", maps),
    ]


def part_items(part: Part, name: str, rng: np.random.Generator) -> list[Item]:
    """Return a neighbour with its solder, in the board frame."""
    items = solder_items(_pools(part), part.pose, name, rng, step_mm=SOLDER_STEP_MM)
    for k, (mesh, material, maps) in enumerate(_pieces(part, rng)):
        placed = place(mesh, part.pose)
        items.append(
            Item(name=f"{name}_{k}", mesh=placed, material=material, maps=maps)
        )
    return items
