"""The known answers to a described scene, as a table for ``truth.toml``."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np

from models.scenes.viewpoint import (
    board_homography,
    body_outline_px,
    land_truth,
    lead_truth,
    px_per_mm,
)

if TYPE_CHECKING:
    from models.scenes.description import Chip, Scene


def _text(value: object, digits: int = 2) -> str:
    """Write one value as TOML; arrays are rounded."""
    if isinstance(value, np.ndarray):
        return json.dumps(np.round(value, digits).tolist())
    return json.dumps(value)


def _chip_lines(chip: Chip, scene: Scene) -> list[str]:
    faults = {n: j.lift_mm for n, j in chip.joints.items() if j.lift_mm}
    pairs: list[tuple[str, object]] = [
        ("family", chip.size.family),
        ("lead_count", chip.size.lead_count),
        ("marking", list(chip.mould.lines)),
        ("outline_px", body_outline_px(chip, scene.camera)),
        ("turn_deg", chip.turn_deg),
        ("shift_mm", [chip.dx_mm, chip.dy_mm]),
        ("skew_deg", chip.skew_deg),
        ("bridges", [list(b.between) for b in chip.bridges]),
        ("lifted_leads", sorted(faults)),
        ("lift_mm", [faults[n] for n in sorted(faults)]),
    ]
    lines = [f"{key} = {_text(value)}" for key, value in pairs]
    leads = lead_truth(chip, scene.camera)
    lines += [
        f"lead_{key} = {_text(np.array([lead[key] for lead in leads]))}"
        for key in ("toe_px", "heel_px", "width_px")
    ]
    lines.append(f"land_corners_px = {_text(land_truth(chip, scene.camera))}")
    return lines


def toml_table(name: str, stage: str, shows: str, scene: Scene) -> str:
    """Return the ``[[photo]]`` table of one picture.

    Parameters
    ----------
    name, stage, shows : str
        File name without ending, step of the work, and a sentence.
    scene : Scene

    Returns
    -------
    str
        TOML text, ending in a newline.
    """
    lines = [
        "[[photo]]",
        f"file = {_text(name + '.jpg')}",
        f"stage = {_text(stage)}",
        f"shows = {_text(shows)}",
        f"px_per_mm = {px_per_mm(scene.camera):.3f}",
        f"board_mm_to_px = {_text(board_homography(scene.camera), 8)}",
    ]
    if scene.chip:
        lines += ["[photo.chip]", *_chip_lines(scene.chip, scene)]
    return "\n".join(lines) + "\n"
