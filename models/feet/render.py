"""Path-trace boards from above, with the exact places of feet and lands.

    python -m models.feet.render OUT --boards 500 --seed 1 [--views 4] [--samples 48]

OUT gets ``NNNNN_V.jpg`` and ``NNNNN.json``, a row a photo: of each lead the corners of
its upper face, those of its land, and the same toe down on the board, in pixels.  A run
can be stopped and taken up again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from models.feet.scenes import draw_feet_scene, shoot_above
from models.scenes.assemble import toe_poses
from models.scenes.boards import render_boards
from models.scenes.meshes import lead_path
from models.scenes.viewpoint import land_truth, project, px_per_mm

if TYPE_CHECKING:
    from models.scenes.description import Chip, Scene

WIDTH_PX, SAMPLES = 448, 48


def main() -> None:
    """Render boards until so many are there."""
    render_boards(
        (__doc__ or "").splitlines()[0], draw_feet_scene, shoot_above, truth,
        width_px=WIDTH_PX, samples=SAMPLES,
    )  # fmt: skip


def truth(scene: Scene, name: str) -> dict[str, Any]:
    """Say where the feet and lands of a photo are.

    Parameters
    ----------
    scene : Scene
    name : str
        Of the file.

    Returns
    -------
    dict
        ``face_px`` (leads, 4, 2): the foot's upper face, toe left and right, one width
        inward left and right, seen outward; ``toe_down_px`` (leads, 2): the middle of
        the toe straight down on the board; ``land_px`` (leads, 4, 2).
    """
    chip = scene.chip
    assert chip is not None
    faces = np.array([_face(chip, k) for k in range(chip.size.lead_count)])
    toes = faces[:, :2].mean(axis=1) * [1, 1, 0]
    return {
        "file": name,
        "px_per_mm": px_per_mm(scene.camera),
        "lead_width_mm": chip.size.lead_width_mm,
        "lift_mm": [chip.joint(n).lift_mm for n in range(1, len(faces) + 1)],
        "face_px": _rounded(
            project(scene.camera, faces.reshape(-1, 3)).reshape(-1, 4, 2)
        ),
        "toe_down_px": _rounded(project(scene.camera, toes)),
        "land_px": _rounded(land_truth(chip, scene.camera)),
    }


def _face(chip: Chip, index: int) -> list[tuple[float, float, float]]:
    """Corners of a foot's upper face, board frame, mm."""
    size, toe = chip.size, toe_poses(chip.size)[index]
    path = lead_path(size, chip.joint(index + 1))
    out = []
    for t in (0.0, -size.lead_width_mm):
        aside, high = (float(np.interp(t, path[:, 0], path[:, c])) for c in (1, 2))
        for half in (-size.lead_width_mm / 2, size.lead_width_mm / 2):
            x, y = toe.apply((t, aside + half))
            z = high + size.lead_thickness_mm / 2 + chip.rise_mm(x, y)
            out.append((*chip.pose.apply((x, y)), z))
    return out


def _rounded(places: np.ndarray) -> Any:
    return np.round(places, 3).tolist()


if __name__ == "__main__":
    main()
