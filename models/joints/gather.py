"""Gather windows on gaps between leads for training, from photos and from renders.

    python -m models.joints.gather OUT --photos PHOTOS --renders RENDERS

PHOTOS holds ``labels.jsonl`` and pictures; only photos marked ``"training": true``
are taken, and all their joints count as sound.  RENDERS holds what
``models.joints.render`` wrote.  OUT, an .npz file, gets every window as JPEG with
room around it, what is wrong there, and where it came from.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from vision.geometry import apply_homography
from vision.packages import lead_positions
from vision.strips import (
    MIDDLE_COL,
    PITCH_PX,
    REACH_PX,
    TOE_ROW,
    GapWindow,
    cut_windows,
    gap_windows,
)
from vision.tables import rank_variants, variants_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from vision.packages import Variant

CANVAS = (1.25, 128, 160)
"""Scale, rows and columns: the window and half a pitch round it."""
CLASSES = ("sound", "lifted", "bent", "little", "much")
IGNORE = -1
LEAST_SPACING_PX = 7.0
LIFT_MM = 0.08
"""Feet lower than this count as standing; between it and half of it nobody says."""
LEADLESS = ("QFN", "SON", "DIP", "PLCC", "other")
QUALITY = 88
BALL_U, BALL_V = 0.42, (-0.95, 0.5)
"""How far off a gap's middle a ball is in it, pitches, and how far out, reaches."""
LEAST_BALL_PX = 1.2
"""Radius of a ball, window px, from which it has to be seen."""
ELSEWHERE = 10
"""Windows away from the chip, for each chip."""


def main() -> None:
    """Write the windows."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--photos", type=Path)
    parser.add_argument("--renders", type=Path)
    args = parser.parse_args()
    rows = list(from_photos(args.photos)) if args.photos else []
    rows += list(from_renders(args.renders)) if args.renders else []
    columns = {
        key: np.array([row[key] for row in rows])
        for key in rows[0]
        if key not in ("after", "before")
    }
    for key in ("after", "before"):
        pictures = np.empty(len(rows), object)
        pictures[:] = [row[key] for row in rows]
        columns[key] = pictures
    np.savez(args.out, **columns)
    real = columns["repo"] != ""
    print(f"{real.sum()} windows of photos, {(~real).sum()} rendered")


def from_photos(folder: Path) -> Iterator[dict[str, Any]]:
    """Windows on every gull-wing package of the photos that may be learned from."""
    lines = (folder / "labels.jsonl").read_text().splitlines()
    for row in map(json.loads, lines):
        if not row["training"]:
            continue
        image = None
        for chip in row["chips"]:
            sized = chip_windows(chip)
            if not sized:
                continue
            if image is None:
                image = cv2.imread(str(folder / row["file"]))
            windows = [w for w in sized if w.second is not None]
            yield from elsewhere(image, row, windows)
            for window, picture in zip(
                windows, cut_windows(image, windows, grow=CANVAS), strict=True
            ):
                yield {
                    "after": encode(picture),
                    "before": b"",
                    "repo": row["repo"],
                    "board": -1,
                    "is_gap": True,
                    "bridge": 0,
                    "left": 0,
                    "right": 0,
                    "ball": 0,
                    "spacing_px": window.spacing_px,
                }


def elsewhere(
    image: np.ndarray, row: dict[str, Any], windows: list[GapWindow]
) -> Iterator[dict[str, Any]]:
    """Windows away from every labelled chip, where there is no gap to be seen."""
    rng = np.random.default_rng(len(row["file"]) + len(windows))
    height, width = image.shape[:2]
    quads = [np.asarray(chip["outline"], np.float32) for chip in row["chips"]]
    for _ in range(ELSEWHERE):
        model = windows[int(rng.integers(len(windows)))].to_photo
        here = apply_homography(model, [[MIDDLE_COL, TOE_ROW]])[0]
        there = rng.uniform(0.05, 0.95, 2) * (width, height)
        point = (float(there[0]), float(there[1]))
        reach = 3.0 * windows[0].spacing_px
        if any(
            cv2.pointPolygonTest(q, point, measureDist=True) > -reach for q in quads
        ):
            continue
        a, zoom = rng.uniform(0, 2 * np.pi), float(np.exp(rng.normal(0, 0.4)))
        c, s = np.cos(a) * zoom, np.sin(a) * zoom
        spin = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
        to_here = np.array([[1, 0, -here[0]], [0, 1, -here[1]], [0, 0, 1]])
        to_there = np.array([[1, 0, there[0]], [0, 1, there[1]], [0, 0, 1]])
        window = replace(windows[0], to_photo=to_there @ spin @ to_here @ model)
        picture = cut_windows(image, [window], grow=CANVAS)[0]
        yield {
            "after": encode(picture),
            "before": b"",
            "repo": row["repo"],
            "board": -1,
            "is_gap": False,
            "bridge": IGNORE,
            "left": IGNORE,
            "right": IGNORE,
            "ball": IGNORE,
            "spacing_px": window.spacing_px,
        }


def chip_windows(chip: dict[str, Any]) -> tuple[GapWindow, ...]:
    """Windows of a labelled chip with leads; none where its gaps cannot be told."""
    return () if chip["family"] in LEADLESS else soldered_windows(chip)


def soldered_windows(chip: dict[str, Any]) -> tuple[GapWindow, ...]:
    """Windows of a labelled chip; none where its gaps cannot be told in the photo."""
    is_soldered = chip.get("state", "soldered") == "soldered"
    if not is_soldered or not chip.get("leads"):
        return ()
    quad = np.asarray(chip["outline"], float)
    variant = variant_by_shape(chip["family"], chip["leads"], quad)
    if variant is None:
        return ()
    windows = gap_windows(quad, variant)
    is_oblique = "oblique" in (chip.get("note") or "") and chip["leads"] > 16
    dense = [w.spacing_px for w in windows]
    if not windows or is_oblique or float(np.median(dense)) < LEAST_SPACING_PX:
        return ()
    return windows


def variant_by_shape(family: str, count: int, quad: np.ndarray) -> Variant | None:
    """Choose the size whose shape fits an outline best."""
    side = np.linalg.norm(quad - np.roll(quad, -1, axis=0), axis=1)
    ranked = rank_variants(
        family, count, float((side[0] + side[2]) / (side[1] + side[3]))
    )
    return ranked[0][0] if ranked else None


def from_renders(folder: Path) -> Iterator[dict[str, Any]]:
    """Windows on rendered boards, each after photo beside the one before."""
    for path in sorted(folder.rglob("*.json")):
        rows = [json.loads(line) for line in path.read_text().splitlines()]
        photos = [cv2.imread(str(path.parent / row["file"])) for row in rows]
        before = next(k for k, row in enumerate(rows) if row["stage"] == "before")
        for k in range(len(rows)):
            other = before if k != before else None
            yield from rendered_windows(rows, photos, k, other)


def rendered_windows(
    rows: list[dict[str, Any]], photos: list[np.ndarray], k: int, other: int | None
) -> Iterator[dict[str, Any]]:
    """Windows of one rendered photo with their truth."""
    row = rows[k]
    variant = next(v for v in variants_of(row["family"]) if v.name == row["variant"])
    windows = [
        w for w in gap_windows(row["outline_px"], variant) if w.second is not None
    ]
    pictures = cut_windows(photos[k], windows, grow=CANVAS)
    laid = None
    if other is not None:
        board = np.array(rows[other]["board_mm_to_px"]) @ np.linalg.inv(
            row["board_mm_to_px"]
        )
        laid = cut_windows(photos[other], windows, photo_to_pixels=board, grow=CANVAS)
    classes = lead_classes(row, variant)
    bridged = {tuple(b) for b in row["bridges"]}
    for i, window in enumerate(windows):
        assert window.second is not None
        yield {
            "after": encode(pictures[i]),
            "before": b"" if laid is None else encode(laid[i]),
            "repo": "",
            "is_gap": True,
            "board": row["board"],
            "bridge": int((window.first, window.second) in bridged),
            "left": classes[window.first - 1],
            "right": classes[window.second - 1],
            "ball": ball_label(window, row["balls_px"]),
            "spacing_px": window.spacing_px,
        }


def ball_label(window: GapWindow, balls_px: list[list[float]]) -> int:
    """Say whether a ball lies in a gap or before it; IGNORE where it is hard to say."""
    size = ball_in(window, balls_px)
    if size is None:
        return IGNORE
    if size and size < LEAST_BALL_PX:
        return IGNORE
    return int(size > 0)


def ball_in(window: GapWindow, balls_px: list[list[float]]) -> float | None:
    """Give the radius of the largest ball in a gap or before it, window px.

    A ball is its middle and radius, photo px.  Nought where there is none, None where
    one lies on the edge of what counts.
    """
    largest, is_near = 0.0, False
    for x, y, radius in balls_px:
        col, row = apply_homography(np.linalg.inv(window.to_photo), [[x, y]])[0]
        u, v = (col - MIDDLE_COL) / PITCH_PX, (row - TOE_ROW) / REACH_PX
        if abs(u) < BALL_U and BALL_V[0] < v < BALL_V[1]:
            largest = max(largest, radius * PITCH_PX / window.spacing_px)
        is_near |= abs(u) < BALL_U + 0.3 and BALL_V[0] - 0.2 < v < BALL_V[1] + 0.2
    return None if is_near and not largest else largest


def lead_classes(row: dict[str, Any], variant: Variant) -> list[int]:
    """Say for every lead which of ``CLASSES`` it is, or that it must not count."""
    flooded = {n for pair in row["bridges"] for n in pair}
    out = []
    for k, lift in enumerate(lifts_mm(row, variant)):
        bend = abs(row["bend_mm"][k])
        if k + 1 in flooded or LIFT_MM / 2 < lift < LIFT_MM:
            out.append(IGNORE)
        elif bend:
            out.append(CLASSES.index("bent"))
        elif lift >= LIFT_MM:
            out.append(CLASSES.index("lifted"))
        else:
            out.append({"good": 0, "starved": 3, "excess": 4}[row["kind"][k]])
    return out


def lifts_mm(row: dict[str, Any], variant: Variant) -> list[float]:
    """Say how high every lead stands, by itself and by the tilt of the chip, mm."""
    half = variant.body_x_mm[1] / 2
    return [
        lift + row["tilt_mm"] * (place.toe_mm[0] / half / 2 + 0.5)
        for lift, place in zip(row["lift_mm"], lead_positions(variant), strict=True)
    ]


def encode(picture: np.ndarray) -> bytes:
    """JPEG bytes of a window."""
    flags = [cv2.IMWRITE_JPEG_QUALITY, QUALITY]
    return cv2.imencode(".jpg", picture, flags)[1].tobytes()


if __name__ == "__main__":
    main()
