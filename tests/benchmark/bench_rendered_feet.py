"""Leads on their lands in path-traced photos, the lands themselves given exactly.

    python tests/benchmark/rendered_views.py VIEWS --views 40 --move --tilt 8
    python -m tests.benchmark.bench_rendered_feet VIEWS...

What ``compare --lands`` runs after it has read the bare lands and laid the photos over
each other; both are given by the scene, so that what is left are the feet, in their
solder and under real light.  The chip is found by ``look``.  Shown: mean and rms error,
median expanded uncertainty, and how often the truth lies within it.
"""

from __future__ import annotations

import argparse
import tomllib
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from models.scenes.assemble import toe_poses
from models.scenes.samples import samples
from tests.benchmark.given_lands import affine_of, bare_lands, matrix_of
from vision.geometry import apply_homography
from vision.lands import strips_of
from vision.limits import shop_limits
from vision.on_lands import seat_on_bare_lands
from vision.overhang import Doubt, Strip, read_leads
from vision.pipeline import look
from vision.results import Registration
from vision.seat import read_seat
from vision.tables import land_positions, variant_named
from vision.uncertainty import expanded

VARIANT = variant_named("SOIC", "SOIC-8 3.9x4.9 P1.27")
DRAWN = strips_of(land_positions(VARIANT))
CHIP = next(s for s in samples() if s.name == "after_good").scene.chip
LEAD_MM = CHIP.size.lead_width_mm
EXACT = Registration(before_to_after=matrix_of(np.eye(3)), inliers=200, residual_px=0.1)
LAND_SD_MM = 0.002


def true_lands(row):
    """The bare lands as they are in a view."""
    board = np.array(row["board_mm_to_px"])
    corners = np.array(row["chip"]["land_corners_px"])
    seen = apply_homography(np.linalg.inv(board), corners.reshape(-1, 2))
    centres = seen.reshape(-1, 4, 2).mean(axis=1)
    drawn = np.array([land.centre_mm for land in DRAWN])
    to_photo = board @ affine_of(drawn, centres)
    lands = [
        replace(land, across_sd_mm=LAND_SD_MM, end_sd_mm=LAND_SD_MM) for land in DRAWN
    ]
    return bare_lands(VARIANT, to_photo, lands, row["px_per_mm"])


def true_feet(row, lands):
    """The feet as they stand on the board, in the lands' frame.

    From the chip's pose: pixels of ``truth.toml`` show toes above the board.
    """
    dx, dy = row["chip"]["shift_mm"]
    chip = replace(CHIP, dx_mm=dx, dy_mm=dy, skew_deg=row["chip"]["skew_deg"])
    to_lands = np.linalg.inv(lands.to_photo) @ np.array(row["board_mm_to_px"])
    toes, heels = (
        apply_homography(
            to_lands,
            [chip.pose.apply(toe.apply((at, 0.0))) for toe in toe_poses(chip.size)],
        )
        for at in (0.0, -chip.size.foot_mm)
    )
    feet = []
    for number, (toe, heel) in enumerate(zip(toes, heels, strict=True), 1):
        run, (x, y) = toe - heel, (toe + heel) / 2
        out = run / np.linalg.norm(run)
        feet.append(
            Strip(
                number=number,
                centre_mm=(float(x), float(y)),
                length_mm=float(np.linalg.norm(run)),
                width_mm=LEAD_MM,
                outward=(float(out[0]), float(out[1])),
            )
        )
    return feet


def one_view(job):
    """Errors and expanded uncertainties of one view, or why it was refused."""
    folder, row = job
    seen, lands = look(folder / row["file"]), true_lands(row)
    middle = np.mean(row["chip"]["outline_px"], axis=0)
    package = min(
        seen.packages,
        key=lambda found: np.linalg.norm(np.mean(found.outline_px, axis=0) - middle),
    )
    seated = seat_on_bare_lands(
        seen.photo, package, VARIANT, lands, EXACT, shop_limits()
    )
    if not seated:
        return seated.reason
    feet = true_feet(row, lands)
    seat, (true, _) = seated.seat, read_seat(feet, lands.lands, Doubt())
    known = {lead.number: lead for lead in read_leads(feet, lands.lands, Doubt())}
    names = ("dx_mm", "dy_mm", "skew_deg")
    found = {
        name: [(getattr(seat, name) - getattr(true, name), 2 * sd)]
        for name, sd in zip(names, seat.sd, strict=False)
    }
    for name in ("side_overhang", "toe_overhang"):
        found[f"{name}_mm"] = [
            (
                getattr(lead, name).value - getattr(known[lead.number], name).value,
                expanded(getattr(lead, name)),
            )
            for lead in seated.readings
        ]
    return found


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("views", type=Path, nargs="+")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    args = parser.parse_args()
    jobs = [
        (folder, row)
        for folder in args.views
        for row in tomllib.loads((folder / "truth.toml").read_text("utf-8"))["photo"]
    ]
    with ProcessPoolExecutor(
        args.workers, initializer=cv2.setNumThreads, initargs=(1,)
    ) as pool:
        answers = list(pool.map(one_view, jobs))
    cases = [answer for answer in answers if not isinstance(answer, str)]
    print(f"{len(cases)} of {len(jobs)} views measured")
    for reason in answers:
        if isinstance(reason, str):
            print(f"  refused: {reason}")
    for name in cases[0]:
        error, u = np.array([pair for case in cases for pair in case[name]]).T
        rms = np.sqrt(np.mean(error**2))
        inside = 100 * np.mean(np.abs(error) <= u)
        print(
            f"{name:>16}: mean {error.mean():+.4f}, rms {rms:.4f}, "
            f"median U {np.median(u):.4f}, truth within U in {inside:.1f} % of {len(u)}"
        )


if __name__ == "__main__":
    main()
