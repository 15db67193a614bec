"""Measure how rows of feet are read from the side, on rendered photos.

    python -m models.side.measure RENDERS

RENDERS is what ``models.side.render`` wrote.  Of each photo the row of the chip that
matters is looked for, as ``dotward look --stage side`` does.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from vision.load import load_photo
from vision.results import NotFound
from vision.side_view import read_side
from vision.tables import variants_of

if TYPE_CHECKING:
    from vision.packages import Variant
    from vision.results import SideView

LIFTS_MM = (0.0, 0.1, 0.2, 1.0)
"""Ends of the classes of lift; 0 is a class of its own."""
ANOTHER_ROW_PITCHES = 0.5
ABOVE_DEG = 45.0
EDGE_PX = 4


def main() -> None:
    """Print answers by true lift, errors of heights, and why rows were not read."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("renders", type=Path)
    folder = parser.parse_args().renders
    answers: Counter[tuple[str, str]] = Counter()
    photos: Counter[str] = Counter()
    why: Counter[str] = Counter()
    errors: list[tuple[float, float]] = []
    for told in sorted(folder.glob("*.json")):
        for photo in json.loads(told.read_text()):
            if not photo["rows"]:
                continue
            row = photo["rows"][0]
            variant = variant_of(row)
            if variant is None or len(row["toe_px"]) < 3:
                continue
            pixels = load_photo(folder / photo["file"]).pixels
            view = read_side(pixels, variant)
            if photo["tilt_deg"] < ABOVE_DEG:
                photos[f"from above: {'not read' if not view else 'READ'}"] += 1
                continue
            if not all_inside(row, pixels.shape):
                photos["row cut off"] += 1
                continue
            said = judged(row, view)
            photos[said] += 1
            if isinstance(view, NotFound):
                why[view.reason.split(":")[0]] += 1
            elif said == "read":
                usual = float(np.median(row["lift_mm"]))
                errors += [
                    (foot.height_mm - (lift - usual), foot.u_mm)
                    for foot, lift in zip(view.feet, row["lift_mm"], strict=True)
                ]
            for k, lift in enumerate(row["lift_mm"]):
                state = said if said != "read" or not view else view.feet[k].state
                answers[class_of(lift), state] += 1
    tell(answers, photos, why, np.array(errors))


def variant_of(row: dict[str, Any]) -> Variant | None:
    """Find the package whose row it is."""
    fits = [
        v
        for v in variants_of(row["family"])
        if v.leads_per_side[0] == len(row["toe_px"])
        and abs(v.pitch_mm - row["pitch_mm"]) < 1e-6
    ]
    return fits[0] if fits else None


def all_inside(row: dict[str, Any], shape: tuple[int, ...]) -> bool:
    """Tell whether all feet of a row lie in the photo."""
    px = np.array(row["toe_px"] + row["land_px"])
    high, wide = shape[:2]
    inside = (px > EDGE_PX) & (px < np.array([wide, high]) - EDGE_PX)
    return bool(inside.all())


def judged(row: dict[str, Any], view: SideView | NotFound) -> str:
    """Say whether a row was read, and whether it was the right one."""
    if isinstance(view, NotFound):
        return "not read"
    at = np.array([foot.at_px for foot in view.feet])
    ends = np.array(row["land_px"])
    pitch = np.linalg.norm(np.diff(ends, axis=0), axis=1).mean()
    off = float(np.median(np.linalg.norm(at - ends, axis=1)))
    return "read" if off < ANOTHER_ROW_PITCHES * pitch else "another row"


def class_of(lift_mm: float) -> str:
    """Name the class of a lift."""
    if lift_mm == 0:
        return "0 mm"
    high = next(end for end in LIFTS_MM[1:] if lift_mm < end)
    low = LIFTS_MM[LIFTS_MM.index(high) - 1]
    return f"{low:.1f} to {high:.1f} mm" if high < 1 else f"{low:.1f} mm and more"


def tell(
    answers: Counter[tuple[str, str]],
    photos: Counter[str],
    why: Counter[str],
    errors: np.ndarray,
) -> None:
    """Print what was counted."""
    print("photos:", ", ".join(f"{n} {said}" for said, n in photos.most_common()))
    for lift in sorted({lift for lift, _ in answers}):
        said = {s: n for (mm, s), n in answers.items() if mm == lift}
        shown = ", ".join(f"{n} {s}" for s, n in sorted(said.items()))
        print(f"lifted by {lift}: {sum(said.values())} feet: {shown}")
    if len(errors):
        off, u = errors.T
        print(
            f"heights: rms error {np.sqrt((off**2).mean()):.3f} mm, median uncertainty "
            f"{np.median(u):.3f} mm, truth within it {(abs(off) <= u).mean():.3f}"
        )
    for reason, n in why.most_common(8):
        print(f"  {n} not read: {reason}")


if __name__ == "__main__":
    main()
