"""Random chips on random boards, sound and faulty, for the network that reads joints.

Numbers only; ``models.joints.render`` path-traces them.  A board is described twice:
once as it was before, all joints sound, and once after, with faults.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from models.scenes.description import (
    Board,
    Bridge,
    Camera,
    Chip,
    Flux,
    Joint,
    Light,
    Mould,
    PackageSize,
    Phone,
    Pose,
    Scene,
    SilkText,
    Trace,
    package_lands,
)
from vision.tables import families, variants_of

if TYPE_CHECKING:
    from models.scenes.description import Land, PointMm
    from vision.packages import Variant

SHARE_OF_FAMILY = {
    "SOIC": 0.56,
    "TSSOP": 0.14,
    "SSOP": 0.08,
    "MSOP": 0.10,
    "QFP": 0.08,
    "SOT": 0.04,
}
MOST_LEADS = 32
MASKS_RGB = (
    (0.012, 0.074, 0.036),
    (0.017, 0.073, 0.031),
    (0.010, 0.035, 0.13),
    (0.14, 0.012, 0.014),
    (0.012, 0.012, 0.014),
    (0.05, 0.10, 0.02),
    (0.55, 0.56, 0.53),
)
BRIDGE_KINDS = ("toe", "shoulder", "whisker")
MARGIN_MM = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One board: the size of its chip and its scenes, before and after."""

    variant: Variant
    before: Scene
    after: Scene


def package_size(variant: Variant, rng: np.random.Generator) -> PackageSize:
    """Draw one package of a size within the tolerances of its drawing."""
    low, high = variant.lead_width_mm[0], variant.lead_width_mm[2]
    width = float(np.clip(rng.normal((low + high) / 2, (high - low) / 6), low, high))
    land = variant.land
    is_four = variant.leads_per_side[1] > 0
    return PackageSize(
        family=variant.family,
        lead_count=variant.lead_count,
        pitch_mm=variant.pitch_mm,
        body_x_mm=variant.body_x_mm[1],
        body_y_mm=variant.body_y_mm[1],
        span_x_mm=variant.span_x_mm[1] + float(rng.normal(0, 0.03)),
        lead_width_mm=width,
        foot_mm=variant.foot_length_mm[1],
        height_mm=variant.height_mm[1] * float(rng.uniform(0.85, 1.0)),
        land_length_mm=land.length_mm,
        land_width_mm=land.width_mm * float(rng.uniform(0.85, 1.08)),
        land_span_x_mm=2 * land.centre_x_mm + land.length_mm,
        span_y_mm=variant.span_y_mm[1] if is_four else 0.0,
        land_span_y_mm=2 * land.centre_y_mm + land.length_mm if is_four else 0.0,
        standoff_mm=float(rng.uniform(0.06, 0.18)),
        lead_thickness_mm=0.2 if variant.pitch_mm > 1 else 0.15,
    )


def draw_variant(rng: np.random.Generator) -> Variant:
    """Draw a gull-wing size with evenly filled sides, SOIC most often."""
    names = [n for n in SHARE_OF_FAMILY if n in families()]
    share = np.array([SHARE_OF_FAMILY[n] for n in names])
    while True:
        family = names[int(rng.choice(len(names), p=share / share.sum()))]
        fits = [
            v
            for v in variants_of(family)
            if v.lead_count <= MOST_LEADS
            and v.lead_style == "gull_wing"
            and v.leads_per_side[0] == v.leads_per_side[2]
            and v.leads_per_side[0] >= 2
            and v.leads_per_side[1] in (0, v.leads_per_side[0])
            and v.pin1_index == 0
        ]
        weight = np.array([1 / v.lead_count for v in fits])
        if fits:
            return fits[int(rng.choice(len(fits), p=weight / weight.sum()))]


def draw_case(rng: np.random.Generator, seed: int, width_px: int) -> Case:
    """Draw a board with a chip, before and after.

    Parameters
    ----------
    rng : numpy.random.Generator
    seed : int
        Settles wear and grain; the shots get seeds of their own.
    width_px : int
        Of the pictures.

    Returns
    -------
    Case
    """
    variant = draw_variant(rng)
    size = package_size(variant, rng)
    reach = max(size.span_x_mm, size.land_span_x_mm, size.body_y_mm + 1.0)
    if size.side_count == 4:
        reach = max(reach, size.land_span_y_mm)
    board = draw_board(size, reach, rng)
    before = Chip(size=size, mould=draw_mould(rng), joints=sound_joints(size, rng))
    before = _placed(before, rng)
    after = _placed(replace(before, mould=draw_mould(rng)), rng)
    joints = draw_joints(size, rng)
    after = replace(after, joints=joints, bridges=_bridges(size, joints, rng))
    if not after.bridges and rng.random() < 0.08:
        after = replace(
            after, tilt_mm=float(rng.choice([-1, 1]) * rng.uniform(0.1, 0.4))
        )
    scenes = []
    for k, chip in enumerate((before, after)):
        flux = tuple(draw_flux(reach, rng) for _ in range(int(rng.integers(0, 3))))
        scenes.append(
            Scene(
                board=replace(board, flux=flux),
                chip=chip,
                dust_count=int(rng.integers(0, 9)),
                seed=seed,
                shot_seed=2 * seed + k + 1,
            )
        )
    shots = [shoot(scene, reach, rng, width_px) for scene in scenes]
    return Case(variant=variant, before=shots[0], after=shots[1])


def shoot(
    scene: Scene, reach_mm: float, rng: np.random.Generator, width_px: int
) -> Scene:
    """Take a photo of a scene from a new place, in a new light, with a new phone."""
    roll = float(rng.choice([0, 90, 180, 270]) + rng.normal(0, 8))
    camera = Camera(
        target_mm=(float(rng.normal(0, 0.15)), float(rng.normal(0, 0.15))),
        view_mm=reach_mm * float(rng.uniform(1.32, 1.6)),
        tilt_deg=float(abs(rng.normal(0, 9))),
        azimuth_deg=float(rng.uniform(0, 360)),
        roll_deg=roll,
        aperture_mm=float(rng.uniform(0.4, 1.2)),
        focus_shift_mm=float(rng.normal(0, 0.4)),
        width_px=width_px,
        height_px=width_px,
    )
    light = Light(
        lamp_azimuth_deg=float(rng.uniform(0, 360)),
        lamp_elevation_deg=float(rng.uniform(25, 75)),
        lamp_strength=float(rng.uniform(0.2, 1.6)),
        window_azimuth_deg=float(rng.uniform(0, 360)),
        window_strength=float(rng.uniform(0.2, 1.5)),
        warmth=float(rng.uniform(0, 0.9)),
    )
    phone = Phone(
        exposure=float(rng.uniform(0.3, 0.6)),
        red_gain=float(rng.normal(1, 0.05)),
        blue_gain=float(rng.normal(1.1, 0.07)),
        sharpening=float(rng.uniform(0.1, 1.4)),
        noise=float(rng.uniform(0.4, 2.5)),
        blur_px=float(rng.uniform(0.2, 1.0)),
    )
    return replace(scene, camera=camera, light=light, phone=phone)


def draw_mould(rng: np.random.Generator) -> Mould:
    letters = "ABCDEFGHKLMNPRSTUVXZ0123456789"
    lines = tuple(
        "".join(rng.choice(list(letters), int(rng.integers(4, 9))))
        for _ in range(int(rng.integers(1, 4)))
    )
    return Mould(
        lines=lines,
        line_height_mm=float(rng.uniform(0.4, 0.7)),
        grey=float(rng.uniform(0.012, 0.05)),
    )


def _placed(chip: Chip, rng: np.random.Generator) -> Chip:
    off = 0.05 * chip.size.pitch_mm
    return replace(
        chip,
        dx_mm=float(rng.normal(0, off)),
        dy_mm=float(rng.normal(0, off)),
        skew_deg=float(rng.normal(0, 0.5)),
    )


def sound_joints(size: PackageSize, rng: np.random.Generator) -> dict[int, Joint]:
    """Draw joints as sound ones are, on three boards in ten dull."""
    dull = rng.random() < 0.3
    return {
        n: Joint(is_dull=bool(dull and rng.random() < 0.8))
        for n in range(1, size.lead_count + 1)
    }


def draw_joints(size: PackageSize, rng: np.random.Generator) -> dict[int, Joint]:
    """Draw the joints of a chip after reflow, on six boards in ten some faulty."""
    joints = sound_joints(size, rng)
    if rng.random() < 0.4:
        return joints
    for n, joint in joints.items():
        dice = rng.random()
        if dice < 0.12:
            joints[n] = replace(joint, lift_mm=float(rng.uniform(0.07, 0.4)))
        elif dice < 0.17:
            joints[n] = replace(joint, kind="starved")
        elif dice < 0.22:
            joints[n] = replace(joint, kind="excess")
        elif dice < 0.27:
            side = float(rng.choice([-1, 1]) * rng.uniform(0.22, 0.4))
            joints[n] = replace(
                joint, bend_mm=side * size.pitch_mm, lift_mm=float(rng.uniform(0, 0.1))
            )
    return joints


def _bridges(
    size: PackageSize, joints: dict[int, Joint], rng: np.random.Generator
) -> tuple[Bridge, ...]:
    """Bridge some gaps between leads that both stand in their solder."""
    if rng.random() < 0.4:
        return ()
    per_side = size.lead_count // size.side_count
    out, last = [], 0
    for n in range(1, size.lead_count):
        is_clear = any(joints[m].lift_mm or joints[m].bend_mm for m in (n, n + 1))
        if n % per_side == 0 or n == last or is_clear or rng.random() > 0.2:
            continue
        last = n + 1
        out.append(
            Bridge(
                between=(n, n + 1),
                kind=BRIDGE_KINDS[int(rng.choice(3, p=[0.5, 0.35, 0.15]))],
                place_frac=float(rng.uniform(0, 1)),
                width_frac=float(rng.uniform(0.25, 1.1)),
            )
        )
    return tuple(out)


def draw_flux(reach_mm: float, rng: np.random.Generator) -> Flux:
    x, y = rng.uniform(-0.55, 0.55, 2) * reach_mm
    return Flux(
        x_mm=float(x),
        y_mm=float(y),
        radius_mm=float(rng.uniform(0.4, 2.0)),
        strength=float(rng.uniform(0.1, 0.9)),
        is_fingerprint=bool(rng.random() < 0.15),
    )


def draw_board(size: PackageSize, reach_mm: float, rng: np.random.Generator) -> Board:
    """Draw a bare board about a chip: tracks, print, vias, mask and wear."""
    side = reach_mm * 1.75
    lands = package_lands(size)
    lines, texts = _silk(size, reach_mm, rng)
    return Board(
        width_mm=side,
        height_mm=side,
        traces=tuple(_traces(lands, size, rng)),
        vias_mm=tuple(
            (float(x), float(y))
            for x, y in rng.uniform(-0.5, 0.5, (int(rng.integers(0, 8)), 2)) * side
            if max(abs(x), abs(y)) > reach_mm / 2 + 0.5
        ),
        silk_lines=lines,
        silk_texts=texts,
        has_pour=bool(rng.random() < 0.6),
        mask_rgb=MASKS_RGB[int(rng.integers(len(MASKS_RGB)))],
        wear=float(rng.uniform(0, 1)),
    )


def _traces(
    lands: tuple[Land, ...], size: PackageSize, rng: np.random.Generator
) -> list[Trace]:
    """Draw tracks away from lands, under the body, and from land to land."""
    out = []
    for k, land in enumerate(lands[: size.lead_count]):
        width = float(rng.uniform(0.12, 0.8) * size.land_width_mm)
        start = land.pose.apply((0.0, 0.0))
        dice = rng.random()
        if dice < 0.5:
            turn = rng.choice([-0.5, 0.0, 0.5]) * size.pitch_mm
            first = land.pose.apply((land.length_mm * 0.8, 0.0))
            last = land.pose.apply((land.length_mm * 0.8 + 1.2, float(turn)))
            out.append(Trace(points_mm=(start, first, last), width_mm=width))
        elif dice < 0.7:
            end = land.pose.apply((-land.length_mm - 0.6, 0.0))
            out.append(Trace(points_mm=(start, end), width_mm=width))
        elif dice < 0.85 and (k + 1) % (size.lead_count // size.side_count):
            at = float(rng.uniform(-0.45, 0.45)) * land.length_mm
            pair: tuple[PointMm, ...] = (
                land.pose.apply((at, 0.0)),
                lands[k + 1].pose.apply((at, 0.0)),
            )
            out.append(Trace(points_mm=pair, width_mm=width * float(rng.uniform(1, 2))))
    return out


def _silk(
    size: PackageSize, reach_mm: float, rng: np.random.Generator
) -> tuple[tuple[Trace, ...], tuple[SilkText, ...]]:
    """Print lines along the body, a dot, letters; now and then a line near the toes."""
    hx, hy = size.body_x_mm / 2, size.body_y_mm / 2
    lines = []
    if rng.random() < 0.5:
        for s in (-1, 1):
            y = s * (hy + 0.2)
            lines.append(Trace(points_mm=((-hx, y), (hx, y)), width_mm=0.13))
    if rng.random() < 0.35:
        out = size.land_span_x_mm / 2 + float(rng.uniform(0.12, 0.4))
        for s in (-1, 1):
            x = s * out
            lines.append(Trace(points_mm=((x, -hy), (x, hy)), width_mm=0.13))
    texts = tuple(
        SilkText(
            text="".join(rng.choice(list("CRUQJ0123456789"), 3)),
            pose=Pose(
                x_mm=float(rng.choice([-1, 1]) * rng.uniform(0.5, 0.7) * reach_mm),
                y_mm=float(rng.uniform(-0.5, 0.5) * reach_mm),
                angle_deg=float(rng.choice([0, 90])),
            ),
            height_mm=float(rng.uniform(0.7, 1.1)),
        )
        for _ in range(int(rng.integers(0, 4)))
    )
    return tuple(lines), texts
