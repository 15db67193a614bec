"""What tells how a chip moved, and at which height each of them was seen.

The marking stands on the body's top, shoulders leave the body half way up, feet stand
on the board.  Where none of them can be followed, the rim or the outline is left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vision.chipview import ChipView, Likeness, rim_motion, top_motion
from vision.geometry import side_lengths
from vision.packages import PARTING_FRAC, PARTING_SD_FRAC
from vision.plane_shift import SeenShift
from vision.results import NotFound
from vision.tables import variant_named

if TYPE_CHECKING:
    from vision.chipview import Motion
    from vision.lead_motion import LayerMotion, LeadMotion
    from vision.results import Orientation, Package

OUTLINE_U_FRAC = 0.02
"""Standard uncertainty of one outline corner, of the body's long side."""
FLOOR_PX = 0.12
RIM_FLOOR_PX = 0.4
"""Standard uncertainty that no fit shows (tracking bias, lens, sampling), chip pixels,
for the marking and for the rim; from bench_compare."""
SHOULDER_FLOOR_MM, FOOT_FLOOR_MM = (0.012, 0.050), (0.012, 0.017)
LEAD_FLOOR_PX = 0.25
"""The same for shoulders and feet, across and along the leads, and in pixels of the
photo; path-traced views of known place (rendered_views).  Along the lead the body hides
shoulders by another length in each view; solder and lands hold a foot's edges back."""
USUAL_LIKENESS = 0.65
"""Leads less alike than this before and after are placed less surely."""
CLUSTER = 4.0
"""Followed points lie closer than their windows: that many share one error."""
SAME_CHIP_GAP = 0.24
"""Correlation gap from which the marking is the same and can be followed."""
FOOT_MM, FOOT_SD_MM = 0.18, 0.15
"""Edge of a foot as path-traced views show it: lead 0.17 to 0.25 mm (JEDEC drawings),
solder, the land."""
HEIGHT_FRAC = 0.4
"""Height of a package of unknown size, of its short side (SOIC 1.55 on 3.9 mm)."""
LAYER_SKEW_SD_DEG = 0.1
CLEAR_GAP = 0.06
"""The best place of the leads must be this much likelier than the next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """One witness of the chip's movement: what was seen at which height."""

    seen: SeenShift
    skew_deg: float
    sd_deg: float


def mm_per_chip_px(view: ChipView, before: Package) -> float:
    """Millimetres a pixel of the chip's picture; photo pixels where there is no scale.

    Parameters
    ----------
    view : ChipView
        The chip, before and after.
    before : Package
        Gives the scale.

    Returns
    -------
    float
    """
    zoom = float(np.sqrt(abs(np.linalg.det(view.to_before[:2, :2]))))
    return zoom / (before.px_per_mm or 1.0)


def package_height_mm(package: Package) -> float:
    """Height of a package by its table, or by its shape where its size is not known.

    Parameters
    ----------
    package : Package
        With its variant, or with outline and scale.

    Returns
    -------
    float
        Millimetres.
    """
    variant = variant_named(package.family, package.variant)
    if variant is not None:
        return variant.height_mm[1]
    sides = side_lengths(package.outline_px)
    return HEIGHT_FRAC * float(sides.min()) / (package.px_per_mm or 1.0)


def gather_witnesses(
    view: ChipView,
    before: Package,
    seen: tuple[Likeness, ...],
    orientation: Orientation,
    leads: LeadMotion | NotFound,
) -> tuple[Witness, ...]:
    """List what could be followed: marking, shoulders, feet; else rim; else outline.

    Parameters
    ----------
    view : ChipView
        The chip, before and after.
    before : Package
        Gives scale and height.
    seen : tuple of Likeness
        Correlation at each allowed turn, best first.
    orientation : Orientation
        The marking is used only when the chip is surely not turned.
    leads : LeadMotion or NotFound
        How shoulders and feet moved, chip's frame.

    Returns
    -------
    tuple of Witness
        At least one.  Without a scale in the before photo, lengths are in its pixels.
    """
    step = mm_per_chip_px(view, before)
    height = package_height_mm(before)
    shoulder_mm = max(PARTING_FRAC * height, FOOT_MM)
    found = []
    same_chip = seen[0].correlation - seen[1].correlation > SAME_CHIP_GAP
    top: Motion | None = None
    if orientation.turn_deg == 0 and seen[0].turn_deg == 0 and same_chip:
        top = top_motion(view, seen[0])
    if top is not None:
        found.append(_tracked("marking", height, top, FLOOR_PX, step))
    if leads:
        px_mm = LEAD_FLOOR_PX / (before.px_per_mm or 1.0)
        found += [
            _layer_reading(name, heights, layer, tuple(np.hypot(floor, px_mm)))
            for name, heights, floor, layer in (
                (
                    "lead shoulders",
                    (shoulder_mm, PARTING_SD_FRAC * shoulder_mm),
                    SHOULDER_FLOOR_MM,
                    leads.shoulder,
                ),
                ("feet", (FOOT_MM, FOOT_SD_MM), FOOT_FLOOR_MM, leads.foot),
            )
            if layer and layer.gap >= CLEAR_GAP
        ]
        if not leads.shoulder:  # feet are looked for from where the shoulders are
            found = [w for w in found if w.seen.name != "feet"]
    outlines = _outline_reading(view, shoulder_mm, step)
    if found:
        return (*found, outlines)
    rim = rim_motion(view, view.outline_shift_px, view.outline_skew_deg)
    if rim is not None:
        found.append(_tracked("rim", shoulder_mm, rim, RIM_FLOOR_PX, step))
    return (*found, outlines)


def _tracked(
    name: str, height_mm: float, motion: Motion, floor_px: float, step: float
) -> Witness:
    sd_px = float(np.hypot(motion.sd_px * np.sqrt(CLUSTER), floor_px))
    x, y = motion.shift_px
    return Witness(
        seen=SeenShift(
            name=name,
            height_mm=height_mm,
            height_sd_mm=PARTING_SD_FRAC * height_mm,
            shift_mm=(x * step, y * step),
            sd_mm=(sd_px * step, sd_px * step),
        ),
        skew_deg=motion.skew_deg,
        sd_deg=motion.sd_deg * float(np.sqrt(CLUSTER)),
    )


def _layer_reading(
    name: str,
    height_mm: tuple[float, float],
    layer: LayerMotion,
    floor_mm: tuple[float, float],
) -> Witness:
    """Weigh one height of the leads; ``floor_mm`` across and along them."""
    doubt = max(1.0, USUAL_LIKENESS / layer.likeness) ** 2
    upright = layer.upright_frac
    across, along = (1 / floor**2 for floor in floor_mm)
    floor_x = 1 / np.sqrt(upright * across + (1 - upright) * along)
    floor_y = 1 / np.sqrt(upright * along + (1 - upright) * across)
    x, y = doubt * np.hypot(layer.sd_mm, (floor_x, floor_y))
    return Witness(
        seen=SeenShift(
            name=name,
            height_mm=height_mm[0],
            height_sd_mm=height_mm[1],
            shift_mm=layer.shift_mm,
            sd_mm=(float(x), float(y)),
        ),
        skew_deg=layer.skew_deg,
        sd_deg=float(np.hypot(layer.sd_deg, LAYER_SKEW_SD_DEG)) * doubt,
    )


def _outline_reading(view: ChipView, height_mm: float, step: float) -> Witness:
    """Two outlines, each the mean of four corners; a side's two ends turn it."""
    x, y = view.outline_shift_px
    sd_mm = OUTLINE_U_FRAC * float(view.body_px.max()) * step * math.sqrt(2 / 4)
    return Witness(
        seen=SeenShift(
            name="outlines",
            height_mm=height_mm,
            height_sd_mm=PARTING_SD_FRAC * height_mm,
            shift_mm=(float(x) * step, float(y) * step),
            sd_mm=(sd_mm, sd_mm),
        ),
        skew_deg=view.outline_skew_deg,
        sd_deg=float(np.degrees(OUTLINE_U_FRAC)),
    )
