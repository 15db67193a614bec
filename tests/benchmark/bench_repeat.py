"""Repeatability: the same still board photographed anew, measured by the whole tool.

    python tests/benchmark/rendered_views.py VIEWS --views 20 --seed 4
    python tests/benchmark/bench_repeat.py VIEWS

Every view but the first is compared with the first, which lies straightest; the truth
is no movement at all.  Side overhang is measured against the bare lands of
``sample_images/donor_lands.jpg``, the same board.  Shown: mean, standard deviation, the
median expanded uncertainty and how often the truth lies within it; by tilt.
"""

from __future__ import annotations

import argparse
import platform
import re
import tomllib
from pathlib import Path

import cv2
import numpy as np

from vision.geometry import apply_homography
from vision.load import load_photo
from vision.pipeline import compare_looks, look

LANDS = Path("sample_images/donor_lands.jpg")
LAND_MM, LEAD_MM = 0.60, 0.41


def tilt_deg(row: dict) -> float:
    """How far a view looks off square, from its exact map."""
    board = np.asarray(row["board_mm_to_px"])
    at = apply_homography(board, [[0.0, 0.0], [0.1, 0.0], [0.0, 0.1]])
    sides = np.linalg.svd(np.stack([at[1] - at[0], at[2] - at[0]]), compute_uv=False)
    return float(np.degrees(np.arccos(min(1.0, sides[1] / sides[0]))))


def true_overhang_mm(row: dict, lead: int) -> float:
    """Side overhang of a lead from the place of the chip; rows lie along x."""
    dx, _ = row["chip"]["shift_mm"]
    y = 2.475 if lead <= 4 else -2.475
    away = dx + np.radians(row["chip"]["skew_deg"]) * y
    return abs(away) - (LAND_MM - LEAD_MM) / 2


def table(rows: list[tuple[float, list[float]]], title: str) -> None:
    """Print one block: quantities by mean, spread, uncertainty and coverage."""
    print(f"\n{title}: {len(rows)} views")
    print("quantity            mean      sd   median U   within U")
    values = np.array([row for _, row in rows])
    for k, name in enumerate(("dx mm", "dy mm", "skew deg", "overhang mm")):
        error, u = values[:, 2 * k], values[:, 2 * k + 1]
        good = np.isfinite(error)
        error, u = error[good], u[good]
        if len(error) < 2:
            continue
        print(
            f"{name:<16}{error.mean():>8.3f}{error.std(ddof=1):>8.3f}"
            f"{np.median(u):>11.3f}{np.mean(np.abs(error) <= u):>11.2f}  n {len(error)}"
        )


def main() -> None:
    """Compare every view with the straightest one."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("views", type=Path)
    args = parser.parse_args()
    cv2.setNumThreads(1)
    print(f"python {platform.python_version()} opencv {cv2.__version__}")
    text = (args.views / "truth.toml").read_text(encoding="utf-8")
    truth = tomllib.loads(text)["photo"]
    truth.sort(key=tilt_deg)
    looks = [look(args.views / row["file"]) for row in truth]
    lands = load_photo(LANDS)
    rows, lost = [], 0
    for row, seen in zip(truth[1:], looks[1:], strict=True):
        found = compare_looks(looks[0], seen, lands_photo=lands)
        shift = found.alignment
        if shift.dx_mm is None or shift.u_mm is None or shift.skew_deg is None:
            lost += 1
            continue
        read = [
            (int(m[1]), float(m[2]))
            for text in found.budgets
            if (m := re.match(r"lead (\d+) side overhang: (\S+) mm", text))
        ]
        over = [value - true_overhang_mm(row, lead) for lead, value in read]
        u_over = [r.u_frac * LEAD_MM for r in found.overhang]
        rows.append(
            (
                tilt_deg(row),
                [
                    shift.dx_mm,
                    shift.u_mm,
                    shift.dy_mm,
                    shift.u_mm,
                    shift.skew_deg,
                    shift.u_deg,
                    float(np.mean(over)) if over else np.nan,
                    float(np.mean(u_over)) if over else np.nan,
                ],
            )
        )
    print(f"compared {len(rows)} of {len(truth) - 1}; {lost} could not be measured")
    table([r for r in rows if r[0] <= 10], "tilt to 10 degrees")
    table([r for r in rows if r[0] > 10], "tilt above 10 degrees")
    table(rows, "all")


if __name__ == "__main__":
    main()
