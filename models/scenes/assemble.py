"""Turn a scene's description into named meshes with their materials, board frame."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from models.scenes.board_maps import board_maps
from models.scenes.description import (
    Land,
    Mould,
    PackageSize,
    Pose,
    lead_poses,
    package_lands,
    part_lands,
)
from models.scenes.faces import face_maps
from models.scenes.items import Item, solder_items
from models.scenes.meshes import (
    FOOT_GAP_MM,
    Mesh,
    body_meshes,
    lead_line,
    lead_mesh,
    merge,
    parting_z_mm,
    place,
    raised,
    rounded_box,
    sphere,
    tube,
)
from models.scenes.small_parts import part_items
from models.scenes.solder import Foot, Pool, Strip

if TYPE_CHECKING:
    from models.scenes.description import Board, Bridge, Chip, Part, Scene

FINE_STEP_MM, STEP_MM = 0.0125, 0.02  # of solder on the chip and on its neighbours
WETTING_LIFT_MM = 0.06  # a foot higher than this stands clear of its solder


def relative(outer: Pose, inner: Pose) -> Pose:
    """Express ``inner`` in the frame of ``outer``; both stand on the board."""
    x, y = outer.invert((inner.x_mm, inner.y_mm))
    return Pose(x_mm=x, y_mm=y, angle_deg=inner.angle_deg - outer.angle_deg)


def toe_poses(size: PackageSize) -> tuple[Pose, ...]:
    """Poses of the lead ends in the package frame, x axis outward."""
    return lead_poses(
        size,
        radius_x_mm=size.span_x_mm / 2,
        radius_y_mm=(size.span_y_mm or size.body_y_mm) / 2,
    )


def board_lands(
    board: Board, chips: tuple[Chip, ...], parts: tuple[Part, ...]
) -> Board:
    """Return the board with the lands of everything that is soldered to it."""
    lands = list(board.lands)
    for chip in chips:
        lands += [
            replace(p, pose=chip.home.then(p.pose)) for p in package_lands(chip.size)
        ]
    for part in parts:
        lands += [replace(p, pose=part.pose.then(p.pose)) for p in part_lands(part)]
    return replace(board, lands=tuple(lands))


def _foot(chip: Chip, number: int, toe: Pose) -> Foot:
    """Describe the wetted foot of one lead in the frame of the footprint."""
    size, joint = chip.size, chip.joint(number)
    if size.has_leads:
        line = lead_line(size, joint)
    else:
        line = np.array([(-size.foot_mm, 0.05), (0.0, 0.05)])
    rise = chip.rise_mm(toe.x_mm, toe.y_mm)
    return Foot(
        pose=relative(chip.home, chip.pose.then(toe)),
        line=line + np.array([0.0, rise]),
        width_mm=size.lead_width_mm,
        thickness_mm=size.lead_thickness_mm,
        kind=joint.kind,
        bend_mm=joint.bend_mm,
    )


def _is_on(land: Land, foot: Foot) -> bool:
    inside = land.pose.invert(foot.pose.apply((-0.2, 0.0)))
    return (
        abs(inside[0]) < land.length_mm / 2 + 0.1
        and abs(inside[1]) < (land.width_mm + foot.width_mm) / 2
        and foot.line[:, 1].min() - foot.thickness_mm / 2
        < FOOT_GAP_MM + WETTING_LIFT_MM
    )


def _strip(bridge: Bridge, feet: dict[int, Foot]) -> Strip:
    """Lay a bridge between two feet, at their ends or at their knees."""
    first, second = (feet[n] for n in bridge.between)
    at_end = bridge.kind == "toe"
    inner = float(first.line[:, 0].min())
    back = -0.22 if at_end else 0.62 * inner
    if bridge.place_frac is not None:
        back = 0.8 * inner * bridge.place_frac
    width = bridge.width_frac or (0.95 if at_end else 0.7)
    return Strip(
        start_mm=first.pose.apply((back, 0.0)),
        end_mm=second.pose.apply((back, 0.0)),
        half_width_mm=width * first.width_mm,
    )


def chip_pools(chip: Chip) -> tuple[Pool, ...]:
    """Return the solder of a chip, one pool a land, bridged lands together."""
    bridges = [b for b in chip.bridges if b.kind != "whisker"]
    flooded = {n for bridge in bridges for n in bridge.between}
    feet = {n: _foot(chip, n, p) for n, p in enumerate(toe_poses(chip.size), 1)}
    feet |= {n: replace(feet[n], kind="excess") for n in flooded}
    lands = package_lands(chip.size)[: chip.size.lead_count]
    on_land = [[n for n in feet if _is_on(land, feet[n])] for land in lands]
    group = list(range(len(lands)))
    strips: dict[int, list[Strip]] = {}
    for bridge in bridges:
        a, b = (
            next(i for i, on in enumerate(on_land) if n in on) for n in bridge.between
        )
        group = [group[a] if g == group[b] else g for g in group]
        strips.setdefault(group[a], []).append(_strip(bridge, feet))
    pools = []
    for g in sorted(set(group)):
        members = [i for i, other in enumerate(group) if other == g]
        numbers = [n for i in members for n in on_land[i]]
        pools.append(
            Pool(
                lands=tuple(lands[i] for i in members),
                feet=tuple(feet[n] for n in numbers),
                strips=tuple(strips.get(g, ())),
                is_dull=any(chip.joint(n).is_dull for n in numbers),
            )
        )
    return tuple(pools)


def chip_items(
    chip: Chip, name: str, rng: np.random.Generator, *, step_mm: float
) -> list[Item]:
    """Return body, leads, solder and whiskers of a chip standing on the board."""
    size = chip.size
    upper, lower = body_meshes(size, chip.mould)
    plain = Mould(pin_mark=None, grey=0.9 * chip.mould.grey)

    def stand(mesh: Mesh) -> Mesh:
        return place(raised(mesh, chip.rise_mm), chip.pose)

    items = [
        Item(
            name=f"{name}_body",
            mesh=stand(upper),
            material="painted",
            maps=face_maps(size, chip.mould, rng),
        ),
        Item(
            name=f"{name}_below",
            mesh=stand(lower),
            material="painted",
            maps=face_maps(size, plain, rng),
        ),
    ]
    toes = toe_poses(size)
    for n, toe in enumerate(toes, 1):
        if size.has_leads:
            lead = place(lead_mesh(size, chip.joint(n)), toe)
        else:
            box = rounded_box((size.foot_mm, size.lead_width_mm, 0.2), 0.02)
            lead = place(
                place(box, Pose(x_mm=-size.foot_mm / 2 + 0.015), z_mm=0.02), toe
            )
        items.append(Item(name=f"{name}_lead_{n}", mesh=stand(lead), material="tin"))
    items += solder_items(chip_pools(chip), chip.home, name, rng, step_mm=step_mm)
    whiskers = [
        place(_whisker(toes, bridge, size), chip.pose)
        for bridge in chip.bridges
        if bridge.kind == "whisker"
    ]
    balls = [
        place(
            sphere(ball.radius_mm),
            chip.home.then(Pose(x_mm=ball.at_mm[0], y_mm=ball.at_mm[1])),
            z_mm=ball.radius_mm,
        )
        for ball in chip.balls
    ]
    for what, meshes in (("whiskers", whiskers), ("balls", balls)):
        if meshes:
            mesh = merge(meshes)
            items.append(Item(name=f"{name}_{what}", mesh=mesh, material="solder"))
    return items


def _whisker(toes: tuple[Pose, ...], bridge: Bridge, size: PackageSize) -> Mesh:
    """Draw a thin thread from foot to foot, in the frame of the package."""
    a, b = (
        np.array(toes[n - 1].apply((-0.45 * size.foot_mm, 0.0))) for n in bridge.between
    )
    f = np.linspace(0, 1, 12)[:, None]
    height = 0.3 * parting_z_mm(size) + 0.1 * np.sin(f * 3)
    return tube(np.concatenate([a + f * (b - a), height], axis=1), 0.03)


def _dust(scene: Scene, rng: np.random.Generator) -> list[Item]:
    """Fibres and specks lying about."""
    threads = []
    for i in range(scene.dust_count):
        at = rng.uniform(-0.48, 0.48, 2) * (
            scene.camera.view_mm,
            scene.camera.view_mm * 0.75,
        )
        at = at + scene.camera.target_mm
        length = rng.uniform(0.3, 1.4) if i % 3 == 0 else rng.uniform(0.03, 0.07)
        heading = rng.uniform(0, 6.3) + np.cumsum(rng.normal(0, 0.16, 24))
        steps = np.stack([np.cos(heading), np.sin(heading)], -1) * length / 24
        path = np.concatenate(
            [at + np.cumsum(steps, axis=0), np.full((24, 1), 0.045)], axis=1
        )
        path[:, 2] += 0.05 * np.abs(np.sin(np.linspace(0, 3, 24))) * (length > 0.1)
        threads.append(tube(path, 0.007 if length > 0.1 else 0.014))
    return [Item(name="dust", mesh=merge(threads), material="fibre")] if threads else []


def assemble(scene: Scene) -> list[Item]:
    """Build every mesh of a scene.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    list of Item
        Meshes in the board frame, z up from the copper's surface.  The items of the
        chip that matters are named ``chip_*``; the board is ``board``.
    """
    chips = (*scene.neighbours, *((scene.chip,) if scene.chip else ()))
    board = board_lands(scene.board, chips, scene.parts)
    half = np.array([board.width_mm, board.height_mm]) / 2
    corners = np.array([(-1, -1), (1, -1), (-1, 1), (1, 1)]) * half
    x, y = corners[:, 0].reshape(2, 2), corners[:, 1].reshape(2, 2)
    top = Mesh(
        np.stack([x, y, np.zeros_like(x)], -1).reshape(-1, 3),
        np.array([[0, 2, 1], [1, 2, 3]]),
        np.array([(0, 0), (1, 0), (0, 1), (1, 1)], float),
    )
    slab = rounded_box((board.width_mm, board.height_mm, 1.6), 0.02)
    items = [
        Item(
            name="board",
            mesh=top,
            material="painted",
            maps=board_maps(board, np.random.default_rng(scene.seed)),
        ),
        Item(name="slab", mesh=place(slab, Pose(), z_mm=-1.603), material="laminate"),
    ]
    for i, chip in enumerate(chips):
        is_main = chip is scene.chip
        name = "chip" if is_main else f"neighbour_{i}"
        rng = np.random.default_rng((scene.shot_seed if is_main else scene.seed, i))
        items += chip_items(
            chip, name, rng, step_mm=FINE_STEP_MM if is_main else STEP_MM
        )
    for i, part in enumerate(scene.parts):
        items += part_items(
            part, f"part_{i}", np.random.default_rng((scene.seed, 100 + i))
        )
    if scene.board.lands:
        pools = tuple(Pool(lands=(p,)) for p in scene.board.lands)
        items += solder_items(
            pools,
            Pose(),
            "bare",
            np.random.default_rng(scene.shot_seed),
            step_mm=FINE_STEP_MM,
        )
    return items + _dust(scene, np.random.default_rng(scene.shot_seed))
