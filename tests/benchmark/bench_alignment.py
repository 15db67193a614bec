"""Monte Carlo proof of the alignment uncertainty on drawn boards with known truth.

    python -m tests.benchmark.bench_alignment --cases 2000 --seed 1 --workers 2

A case: a view of the bare lands and a photo with the chip moved by a known amount, each
from its own viewpoint; 0.5 to 1.27 mm pitch, 15 to 80 px/mm, tilt to 25 degrees; leads,
span and lands within their tolerances.  It goes through what ``compare --lands`` runs,
``seat_on_bare_lands``.  An outline with noise stands in for the networks, board points
with noise for the registration, land edges with noise for ``read_bare_lands``.
Reported: how often the true value lies within +/- U, the rms errors, and how many cases
were refused and why.
"""

from __future__ import annotations

import argparse
import itertools
import json
import platform
import re
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from tests.benchmark.flat_scene import (
    PARTING_FRAC,
    PARTS,
    Camera,
    draw_board,
    made,
    moved,
    shifted,
    strips,
    tinned,
)
from tests.benchmark.given_lands import affine_of, bare_lands, matrix_of
from vision.geometry import apply_homography, body_corners_mm, homography
from vision.lands import corners_mm, strips_of
from vision.limits import shop_limits
from vision.on_lands import seat_on_bare_lands
from vision.overhang import Doubt, read_leads
from vision.results import Package, Photo, Pin1, Registration
from vision.seat import read_seat
from vision.tables import land_positions
from vision.uncertainty import expanded

POINT_SD_PX = 0.3
POINTS, CLUSTER = 40, 4
"""Points followed lie closer than their windows: four share one error."""
LAND_SD_PX = 0.15
"""Of the middle line of a bare land; its end and width are known less well."""
PHOTO_PX, FOCAL_PX = (4000, 3000), (2800, 8000)
"""A phone's 12 megapixels; 26 mm equivalent to a threefold lens."""
CORNER_SD_FRAC = 0.01
"""Of an outline's corners, of the body's long side."""
SHARES = (0.25, 0.2, 0.1, 0.25, 0.2)
"""Of the parts among the cases; the one with 32 leads costs most."""
QUANTITIES = ("side", "toe", "dx", "dy", "skew")


def camera_of(rng, part, px_per_mm):
    """A viewpoint; only the middle of the photo, the lands' surroundings, is drawn."""
    side = int(2 * part.reach_mm * px_per_mm)
    return Camera(
        rng.uniform(0, 25),
        rng.uniform(0, 360),
        rng.uniform(-20, 20),
        px_per_mm,
        float(np.exp(rng.uniform(*np.log(FOCAL_PX)))),
        (side, side),
    )


def look_of(rng, solder):
    """Brightness of every surface, blur and noise."""
    lead = rng.uniform(110, 235)
    land = lead + rng.choice([-1, 1] if lead < 185 else [-1]) * rng.uniform(20, 60)
    return {
        "mask": rng.uniform(30, 75),
        "land": float(max(land, 90)),
        "lead": lead,
        "solder": solder,
        "wall": rng.uniform(50, 130),
        "bend": rng.uniform(60, 200),
        "blur_px": rng.uniform(0.6, 1.8),
        "noise": rng.uniform(1.0, 4.0),
        "gradient": rng.uniform(0, 0.15),
        "texture": rng.uniform(0, 6),
        "foot_top_mm": 0.22 + rng.normal(0, 0.025),
    }


def photo_of(gray):
    """The drawn picture in the middle of a photo that is black elsewhere."""
    pixels = np.zeros((*PHOTO_PX[::-1], 3), np.uint8)
    x, y = corner_px(gray.shape[::-1])
    pixels[y : y + gray.shape[0], x : x + gray.shape[1]] = gray[:, :, None]
    return Photo(
        path=Path("drawn.png"),
        sha256="",
        width_px=PHOTO_PX[0],
        height_px=PHOTO_PX[1],
        pixels=pixels,
    )


def corner_px(size):
    """Where a picture lies whose middle is that of the photo."""
    return tuple((np.array(PHOTO_PX) - size) // 2)


def seen_px(camera, points, height=0.0):
    """Photo pixels of points at a height."""
    return camera.see(points, height) + corner_px(camera.size)


def package_of(camera, part, pose, rng):
    """What the networks would say: the outline at the parting line, with noise."""
    variant = part.variant
    size = variant.body_x_mm[1], variant.body_y_mm[1]
    level = PARTING_FRAC * variant.height_mm[1]
    outline = seen_px(camera, moved(body_corners_mm(*size), **pose), level)
    sides = np.linalg.norm(outline - np.roll(outline, 1, axis=0), axis=1)
    outline += rng.normal(0, CORNER_SD_FRAC * sides.max(), outline.shape)
    a, b, c, d = ((float(x), float(y)) for x, y in outline)
    return Package(
        outline_px=(a, b, c, d),
        confidence=0.95,
        family=variant.family,
        family_confidence=0.97,
        lead_count=variant.lead_count,
        pin1=Pin1(state="ok", confidence=0.999),
        px_per_mm=float(sides.sum() / (2 * sum(size))),
        variant=variant.name,
    )


def registration_of(bare_camera, camera, part, rng):
    """The board, bare photo to the other, from followed points."""
    points = rng.uniform(-part.reach_mm, part.reach_mm, (POINTS, 2))
    points = np.repeat(points, CLUSTER, axis=0)
    noise = np.repeat(rng.normal(0, POINT_SD_PX, (POINTS, 2)), CLUSTER, axis=0)
    before, after = seen_px(bare_camera, points), seen_px(camera, points) + noise
    matrix = homography(before, after)
    left = after - apply_homography(matrix, before)
    return Registration(
        before_to_after=matrix_of(matrix),
        inliers=len(points),
        residual_px=float(np.sqrt(np.mean(np.sum(left**2, axis=1)))),
    )


def lands_of(camera, part, rng):
    """What reading the bare lands would give: an affine frame, strips with noise."""
    lands = tinned(part)
    centres = np.array(
        [land.centre_mm for land in strips_of(land_positions(part.variant))]
    )
    seen = seen_px(camera, centres)
    to_photo = affine_of(centres, seen)
    px_per_mm = float(np.sqrt(abs(np.linalg.det(to_photo))))
    found = [seen_land(land, camera, to_photo, px_per_mm, rng) for land in lands]
    return bare_lands(part.variant, to_photo, found, px_per_mm)


def seen_land(land, camera, to_photo, px_per_mm, rng):
    """A land through the camera into the frame of ``to_photo``, with noise.

    As ``measure_land`` gives it: of the drawn length, its outer end where it was seen.
    """
    back = np.linalg.inv(to_photo)
    quad = apply_homography(back, seen_px(camera, corners_mm(land)))
    toe, run = (quad[1] + quad[2]) / 2, (quad[1] + quad[2] - quad[0] - quad[3]) / 2
    out = run / np.linalg.norm(run)
    centre = toe - out * land.length_mm / 2
    side, sd = np.array([-out[1], out[0]]), LAND_SD_PX / px_per_mm
    width = float((quad[2] + quad[3] - quad[0] - quad[1]) @ side) / 2
    seen = replace(
        land,
        centre_mm=(float(centre[0]), float(centre[1])),
        width_mm=width,
        outward=(float(out[0]), float(out[1])),
        across_sd_mm=sd,
        end_sd_mm=2 * sd,
        width_sd_mm=1.5 * sd,
    )
    return shifted(seen, *(rng.normal(0, 1, 3) * [sd, 2 * sd, 1.5 * sd]))


def one_case(seed, solder=1.0):
    """Errors and expanded uncertainties of one case, or the reason it was refused.

    ``solder``: how much shows beside the feet, as a share of ``flat_scene``'s most.
    """
    rng = np.random.default_rng(seed)
    part = made(PARTS[rng.choice(len(PARTS), p=SHARES)], rng)
    px_per_mm = float(np.exp(rng.uniform(np.log(15), np.log(80))))
    land_mm = strips(part, feet=False)[0].width_mm
    pose = {
        "dx": rng.uniform(-0.15, 0.15),
        "dy": rng.uniform(-0.4, 0.4) * land_mm,
        "skew_deg": rng.uniform(-2, 2),
    }
    bare_camera = camera_of(rng, part, px_per_mm)
    camera = camera_of(rng, part, px_per_mm)
    photo = photo_of(draw_board(camera, part, pose, look_of(rng, solder), rng))
    lands = lands_of(bare_camera, part, rng)
    seated = seat_on_bare_lands(
        photo,
        package_of(camera, part, pose, rng),
        part.variant,
        lands,
        registration_of(bare_camera, camera, part, rng),
        shop_limits(),
    )
    if not seated:
        return "leads: " + seated.reason
    case = {
        "part": part.variant.name,
        "pitch_mm": part.pitch_mm,
        "px_per_mm": px_per_mm,
        "tilt_deg": tilt_deg(camera),
        "lead_width_mm": part.lead_width_mm,
    }
    return case | compared(seated, part, pose, turned(lands, bare_camera), rng)


def tilt_deg(camera):
    """Between the camera's ray to the board's middle and the board's normal."""
    return float(np.degrees(np.arccos(camera.place[2] / np.linalg.norm(camera.place))))


def turned(lands, camera):
    """Cosine and sine of the quarter turns at which a square pattern was found."""
    axes = [[0.0, 0.0], [1.0, 0.0]]
    true, found = (
        np.diff(seen_px(camera, axes), axis=0),
        apply_homography(lands.to_photo, axes),
    )
    x, y = np.diff(found, axis=0)[0]
    angle = np.arctan2(y, x) - np.arctan2(true[0, 1], true[0, 0])
    quarters = round(float(angle) / (np.pi / 2))
    return np.round([np.cos(quarters * np.pi / 2), np.sin(quarters * np.pi / 2)])


def compared(seated, part, pose, turn, rng):
    """Errors and expanded uncertainties: one lead drawn at random, and the chip."""
    feet_true = strips(part, feet=True, **pose)
    lands_true = strips(part, feet=False)
    seat, (true, _) = seated.seat, read_seat(feet_true, lands_true, Doubt())
    dx, dy = (
        turn[0] * true.dx_mm + turn[1] * true.dy_mm,
        turn[0] * true.dy_mm - turn[1] * true.dx_mm,
    )
    known = {lead.number: lead for lead in read_leads(feet_true, lands_true, Doubt())}
    found = seated.readings[int(rng.integers(len(seated.readings)))]
    lead = known[found.number]
    side, toe = found.side_overhang, found.toe_overhang
    return {
        "side": (side.value - lead.side_overhang.value, expanded(side)),
        "toe": (toe.value - lead.toe_overhang.value, expanded(toe)),
        "dx": (seat.dx_mm - dx, 2 * seat.sd[0]),
        "dy": (seat.dy_mm - dy, 2 * seat.sd[1]),
        "skew": (seat.skew_deg - true.skew_deg, 2 * seat.sd[2]),
    }


def report(cases):
    """Coverage and rms per quantity, over all cases and where 30 px a pitch or more."""
    rows = {}
    fine = [c for c in cases if c["px_per_mm"] * c["pitch_mm"] >= 30]
    scale = np.array([c["px_per_mm"] for c in fine])
    for name in QUANTITIES:
        error, u = np.array([c[name] for c in cases]).T
        fine_error = np.array([c[name][0] for c in fine])
        rows[name] = {
            "unit": "deg" if name == "skew" else "mm",
            "covered": float(np.mean(np.abs(error) <= u)),
            "rms": rms(error),
            "median_U": float(np.median(u)),
            "rms_30px_pitch": rms(fine_error),
            "rms_z": rms(2 * error / u),
        }
        if name != "skew":
            # 0.010 mm or 0.4 px, whichever is larger, is 1.
            bar = np.maximum(0.010, 0.4 / scale)
            rows[name]["rms_of_bar_30px_pitch"] = rms(fine_error / bar)
    share = np.array([c["side"][0] / c["lead_width_mm"] for c in fine])
    rows["side"]["rms_frac_30px_pitch"] = rms(share)
    return rows


def covered(cases, name):
    """Share of cases whose true value lies within U, percent."""
    return 100 * float(np.mean([abs(c[name][0]) <= c[name][1] for c in cases]))


def rms(values):
    """Root of the mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def run(count, seed, workers, solder):
    """All cases, and how many were refused for which reason."""
    cases, refused, began = [], {}, time.perf_counter()
    seeds = [(seed, i) for i in range(count)]
    judged = partial(one_case, solder=solder)
    with ProcessPoolExecutor(
        workers, initializer=cv2.setNumThreads, initargs=(1,)
    ) as pool:
        for i, found in enumerate(pool.map(judged, seeds, chunksize=10), 1):
            if isinstance(found, str):
                key = re.sub(r"[0-9]+[.][0-9]+ px", "too few px", found)
                refused[key] = refused.get(key, 0) + 1
            else:
                cases.append(found)
            if i % 100 == 0:
                print(f"  {i} cases, {time.perf_counter() - began:.0f} s", flush=True)
    return cases, refused


def tell(rows, cases):
    """Print the figures, the errors of each part, and the coverage by what varies."""
    for name, row in rows.items():
        bar = row.get("rms_of_bar_30px_pitch")
        print(
            f"{name:>5}: true value within U in {100 * row['covered']:.1f} %, "
            f"rms {row['rms']:.4f} {row['unit']}, median U {row['median_U']:.4f}, "
            f"rms at >= 30 px a pitch {row['rms_30px_pitch']:.4f}"
            + ("" if bar is None else f" ({bar:.2f} of 0.010 mm or 0.4 px)")
            + f", rms z {row['rms_z']:.2f}"
        )
    frac = rows["side"]["rms_frac_30px_pitch"]
    print(
        f"side overhang rms at >= 30 px a pitch: {100 * frac:.1f} % of the lead width"
    )
    for part in sorted({c["part"] for c in cases}):
        told = report([c for c in cases if c["part"] == part])
        shares = "  ".join(
            f"{name} {told[name]['rms_30px_pitch']:.4f}" for name in QUANTITIES
        )
        frac = told["side"]["rms_frac_30px_pitch"]
        print(f"  {part}, rms at >= 30 px a pitch: {shares}, side {100 * frac:.1f} %")
    for edge in ("pitch_mm", "px_per_mm", "tilt_deg"):
        values = np.array([c[edge] for c in cases])
        cuts = np.unique(np.quantile(values, [0, 0.25, 0.5, 0.75, 1]))
        for low, high in itertools.pairwise(cuts):
            inside = [c for c in cases if low <= c[edge] <= high]
            shares = "  ".join(f"{n} {covered(inside, n):.1f} %" for n in QUANTITIES)
            print(f"  {edge} {low:.2f}-{high:.2f} (n {len(inside)}): {shares}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1, help="processes")
    parser.add_argument(
        "--solder", type=float, default=1.0, help="beside the feet: 0 none, 1 as usual"
    )
    parser.add_argument("--json", type=Path, help="figures and every case")
    chosen = parser.parse_args()
    began = time.perf_counter()
    cases, refused = run(chosen.cases, chosen.seed, chosen.workers, chosen.solder)
    rows = report(cases)
    print(
        f"Python {platform.python_version()}, OpenCV {cv2.__version__}, "
        f"seed {chosen.seed}, {time.perf_counter() - began:.0f} s"
    )
    print(f"{len(cases)} of {chosen.cases} cases measured")
    for reason, n in sorted(refused.items(), key=lambda row: -row[1]):
        print(f"  {n} refused: {reason}")
    tell(rows, cases)
    if chosen.json:
        text = json.dumps({"rows": rows, "cases": cases}, indent=1)
        chosen.json.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
