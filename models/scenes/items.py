"""Named meshes with their materials: what the renderer is handed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from models.scenes.meshes import Mesh, merge, place
from models.scenes.solder import Pool, pool_mesh

if TYPE_CHECKING:
    import numpy as np

    from models.scenes.description import Pose
    from models.scenes.paint import Maps

Material = Literal[
    "painted",
    "tin",
    "solder",
    "dull_solder",
    "ceramic",
    "slate",
    "brown",
    "fibre",
    "laminate",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing in the picture: ``painted`` items carry their maps."""

    name: str
    mesh: Mesh
    material: Material
    maps: Maps | None = None


def solder_items(
    pools: tuple[Pool, ...],
    home: Pose,
    name: str,
    rng: np.random.Generator,
    *,
    step_mm: float,
) -> list[Item]:
    """Return the solder of pools lying in the frame ``home``, shiny and dull apart."""
    items = []
    for dull in (False, True):
        meshes = [
            place(pool_mesh(pool, rng, step_mm=step_mm), home)
            for pool in pools
            if pool.is_dull == dull
        ]
        if meshes:
            material: Material = "dull_solder" if dull else "solder"
            items.append(
                Item(name=f"{name}_{material}", mesh=merge(meshes), material=material)
            )
    return items
