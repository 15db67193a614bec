"""Monte Carlo proof of the alignment uncertainty on drawn boards with known truth.

    python -m tests.benchmark.bench_alignment --cases 2000 --seed 1

A case: a bare-lands photo and a photo with the chip moved by a known amount, each from
its own viewpoint; 0.5 to 1.27 mm pitch, 15 to 80 px/mm, tilt to 25 degrees.  Board
points with noise stand in for the registration.  Reported: how often the true value
lies within +/- U, the rms errors, and how many cases were refused and why.
"""

from __future__ import annotations

import argparse
import itertools
import json
import platform
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from tests.benchmark.flat_scene import PARTS, Camera, draw_board, strips
from vision.feet import Board, Foot3d, foot_plane_sd_mm, measure_foot, measure_land
from vision.geometry import apply_homography, homography
from vision.overhang import Doubt, read_leads
from vision.planes import estimate_view
from vision.seat import read_seat
from vision.uncertainty import expanded

POINT_SD_PX = 0.3
POINTS = 40
REACH_MM = 6.0


def camera_of(rng, px_per_mm):
    size = (int(9.5 * px_per_mm), int(8 * px_per_mm))
    return Camera(
        rng.uniform(0, 25),
        rng.uniform(0, 360),
        rng.uniform(-20, 20),
        px_per_mm,
        rng.uniform(0.8, 2.0) * max(size) * 1.5,
        size,
    )


def look_of(rng):
    lead = rng.uniform(110, 235)
    land = lead + rng.choice([-1, 1]) * rng.uniform(20, 60)
    return {
        "mask": rng.uniform(30, 75),
        "land": float(np.clip(land, 100, 245)),
        "lead": lead,
        "wall": rng.uniform(50, 130),
        "blur_px": rng.uniform(0.6, 1.8),
        "noise": rng.uniform(1.0, 4.0),
        "gradient": rng.uniform(0, 0.15),
        "texture": rng.uniform(0, 6),
        "foot_top_mm": 0.22 + rng.normal(0, 0.025),
    }


def map_sd_mm(points_mm, h, at_mm, sd_px):
    """Standard deviation of a fitted map at a place, by perturbing its points."""
    base = apply_homography(np.linalg.inv(h), apply_homography(h, [at_mm]))
    px = apply_homography(h, points_mm)
    total = 0.0
    step = 0.05
    where = apply_homography(h, [at_mm])
    for i in range(len(px)):
        for axis in range(2):
            moved = px.copy()
            moved[i, axis] += step
            shifted = apply_homography(
                np.linalg.inv(homography(points_mm, moved)), where
            )
            total += np.sum((shifted - base) ** 2) / 2 * (sd_px / step) ** 2
    return float(np.sqrt(total))


def one_case(seed):
    """Errors and expanded uncertainties of one case, or the reason it was refused."""
    rng = np.random.default_rng(seed)
    part = PARTS[rng.integers(len(PARTS))]
    px_per_mm = float(np.exp(rng.uniform(np.log(15), np.log(80))))
    move = {
        "dx": rng.uniform(-0.15, 0.15),
        "dy": rng.uniform(-0.4, 0.4) * part.land_width_mm,
        "skew_deg": rng.uniform(-2, 2),
    }
    lands_true = strips(part, feet=False)
    feet_true = strips(part, feet=True, **move)
    look = look_of(rng)
    bare_camera, camera = camera_of(rng, px_per_mm), camera_of(rng, px_per_mm)
    bare = draw_board(bare_camera, part, None, look_of(rng), rng)
    photo = draw_board(camera, part, feet_true, look, rng)

    points = rng.uniform(-REACH_MM, REACH_MM, (POINTS, 2))
    noise = lambda: rng.normal(0, POINT_SD_PX, points.shape)  # noqa: E731
    seen_bare = bare_camera.see(points) + noise()
    to_bare = homography(points, seen_bare)
    frame = apply_homography(np.linalg.inv(to_bare), bare_camera.see(points) + noise())
    seen = camera.see(points) + noise()
    to_photo = homography(frame, seen)
    joint_px = POINT_SD_PX * np.sqrt(2)
    reg = map_sd_mm(frame, to_photo, (0.0, 0.0), joint_px)
    view = estimate_view(frame, seen, camera.size, point_sd_px=joint_px)

    gap = part.pitch_mm - part.land_width_mm
    first = Board(gray=bare, board_to_image=to_bare, registration_sd_mm=reg)
    second = Board(gray=photo, board_to_image=to_photo, registration_sd_mm=reg)
    lands = [measure_land(first, land, gap) for land in lands_true]
    if not all(lands):
        return "land: " + next(x.reason for x in lands if not x)
    shape = Foot3d(body_half_mm=part.body_x_mm / 2 + 0.15, body_top_mm=part.top_mm)
    feet = [
        measure_foot(
            second, rough_foot(foot, part, rng), land, view, gap_mm=gap, shape=shape
        )
        for foot, land in zip(feet_true, lands, strict=True)
    ]
    refused = [foot.reason for foot in feet if not foot]
    feet = [foot for foot in feet if foot]
    if len(feet) < 4:
        return "body in the way" if "body" in refused[0] else "too small or unclear"
    case = {
        "pitch_mm": part.pitch_mm,
        "px_per_mm": px_per_mm,
        "tilt_deg": view.tilt_deg,
    }
    doubt = Doubt(
        registration_mm=reg,
        scale_frac=0.002,
        plane_mm=foot_plane_sd_mm(view, feet, shape),
    )
    truth = feet_true, lands_true
    return case | compared(feet, lands, doubt, truth, rng)


def rough_foot(foot, part, rng):
    """Where a coarse step would put the foot: near, square to the land."""
    width, (x, y) = part.lead_width_mm, foot.centre_mm
    return replace(
        foot,
        centre_mm=(x + rng.normal(0, 0.12 * width), y + rng.normal(0, 0.12 * width)),
        width_mm=width * (1 + rng.normal(0, 0.05)),
        outward=(np.sign(foot.outward[0]), 0.0),
    )


def compared(feet, lands, doubt, truth, rng):
    """Errors and expanded uncertainties: one lead drawn at random, and the chip."""
    feet_true, lands_true = truth
    numbers = {foot.number for foot in feet}
    feet_true = [foot for foot in feet_true if foot.number in numbers]
    seat, feet = read_seat(feet, lands, doubt)
    seat_true, _ = read_seat(feet_true, lands_true, Doubt())
    found = read_leads(feet, lands, doubt)
    known = read_leads(feet_true, lands_true, Doubt())
    lead = int(rng.integers(len(found)))
    side, toe = found[lead].side_overhang, found[lead].toe_overhang
    return {
        "side": (side.value - known[lead].side_overhang.value, expanded(side)),
        "toe": (toe.value - known[lead].toe_overhang.value, expanded(toe)),
        "dx": (seat.dx_mm - seat_true.dx_mm, 2 * seat.sd[0]),
        "dy": (seat.dy_mm - seat_true.dy_mm, 2 * seat.sd[1]),
        "skew": (seat.skew_deg - seat_true.skew_deg, 2 * seat.sd[2]),
        "lead_width_mm": feet_true[lead].width_mm,
    }


def report(cases):
    """Coverage and rms per quantity, over all cases and where 30 px a pitch or more."""
    rows = {}
    fine = [c for c in cases if c["px_per_mm"] * c["pitch_mm"] >= 30]
    for name in ("side", "toe", "dx", "dy", "skew"):
        error, u = np.array([c[name] for c in cases]).T
        fine_error = np.array([c[name][0] for c in fine])
        unit = "deg" if name == "skew" else "mm"
        rows[name] = {
            "unit": unit,
            "covered": float(np.mean(np.abs(error) <= u)),
            "rms": float(np.sqrt(np.mean(error**2))),
            "median_U": float(np.median(u)),
            "rms_30px_pitch": float(np.sqrt(np.mean(fine_error**2))),
            "rms_z": float(np.sqrt(np.mean((2 * error / u) ** 2))),
        }
    share = np.array([c["side"][0] / c["lead_width_mm"] for c in fine])
    rows["side"]["rms_frac_30px_pitch"] = float(np.sqrt(np.mean(share**2)))
    return rows


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    began = time.perf_counter()
    cases, refused = [], {}
    for i in range(chosen.cases):
        found = one_case((chosen.seed, i))
        if isinstance(found, str):
            key = found.split(":")[0]
            refused[key] = refused.get(key, 0) + 1
        else:
            cases.append(found)
    rows = report(cases)
    print(
        f"Python {platform.python_version()}, OpenCV {cv2.__version__}, "
        f"seed {chosen.seed}, {time.perf_counter() - began:.0f} s"
    )
    print(
        f"{len(cases)} of {chosen.cases} cases measured; refused: {refused or 'none'}"
    )
    for name, row in rows.items():
        print(
            f"{name:>5}: true value within U in {100 * row['covered']:.1f} %, "
            f"rms {row['rms']:.4f} {row['unit']}, median U {row['median_U']:.4f}, "
            f"rms at >= 30 px a pitch {row['rms_30px_pitch']:.4f}, "
            f"rms z {row['rms_z']:.2f}"
        )
    frac = rows["side"]["rms_frac_30px_pitch"]
    print(
        f"side overhang rms at >= 30 px a pitch: {100 * frac:.1f} % of the lead width"
    )
    for edge in ("pitch_mm", "px_per_mm", "tilt_deg"):
        values = np.array([c[edge] for c in cases])
        cuts = np.unique(np.quantile(values, [0, 0.25, 0.5, 0.75, 1]))
        for low, high in itertools.pairwise(cuts):
            inside = (values >= low) & (values <= high)
            covered = np.array([abs(c["side"][0]) <= c["side"][1] for c in cases])
            share, n = 100 * covered[inside].mean(), int(inside.sum())
            print(f"  side, {edge} {low:.2f}-{high:.2f}: {share:.1f} % (n {n})")
    if chosen.json:
        chosen.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
