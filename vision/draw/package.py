"""One photo with what was found on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.draw.canvas import (
    AMBER,
    INK,
    MUTED,
    PAPER,
    SKY,
    Box,
    Canvas,
    Rgb,
    Text,
    band,
)
from vision.draw.joints import draw_joints
from vision.draw.labels import Label, lead_labels, tag_place
from vision.draw.view import View, inset, render, window

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from vision.results import (
        Bridge,
        Cue,
        Package,
        Photo,
        PhotoReport,
        Point,
        Quad,
        State,
    )

PICTURE_PIXELS = 1_400_000
TEXT_PX = 32
AIR_FRACS = (0.17, 0.25, 0.35, 0.5, 0.7)
DISC_PX = 13.0
CUES_SHOWN = 3
CUE_TAGS = {"text-direction": "marking", "shape": "unlike rows"}


def draw_package(
    photo: Photo,
    report: PhotoReport,
    pin_names: Mapping[int, str] | None = None,
    *,
    caption: Sequence[str] = (),
    state: State | None = None,
) -> np.ndarray:
    """Draw what was found on a photo, close up round its main package.

    Parameters
    ----------
    photo : Photo
    report : PhotoReport
        Packages best first; the first is drawn with its leads, the others as bare
        outlines.
    pin_names : mapping of int to str, optional
        Names by lead number of the first package.
    caption : sequence of str, optional
        Sentences for the band under the picture; the first is the answer.
    state : str, optional
        State whose sign stands before the caption.

    Returns
    -------
    ndarray of shape (rows, cols, 3), uint8 BGR
        About 1400 px wide; a chip that is small in the photo is shown enlarged with
        an inset of the whole photo.
    """
    if not report.packages:
        everything = [(0.0, 0.0), (float(photo.width_px), float(photo.height_px))]
        bare = render(
            photo, window(everything, photo, pixels=PICTURE_PIXELS, air_frac=0.0)
        )
        return band(bare.finish(), caption, state, TEXT_PX)
    main, *others = report.packages
    view, labels = _window_with_labels(photo, main, pin_names or {})
    canvas = render(photo, view)
    for other in others:
        outline = view.all_at(other.outline_px)
        canvas.line(outline, MUTED, width=2, dashed=True, closed=True)
    draw_outline(canvas, view, main)
    draw_bridges(canvas, view, main.bridges)
    _draw_words(canvas, view, main, labels)
    draw_joints(canvas, view, main.joints, main.leads, main.bridges)
    _draw_cues(canvas, view, main)
    inset(canvas, photo, main.outline_px)
    return band(canvas.finish(), caption, state, TEXT_PX)


def package_points(package: Package) -> list[Point]:
    """Give every point of a package that a picture of it must show.

    Parameters
    ----------
    package : Package

    Returns
    -------
    list of Point
    """
    return [*package.outline_px, *(lead.toe_px for lead in package.leads)]


def draw_outline(
    canvas: Canvas,
    view: View,
    package: Package,
    *,
    colour: Rgb = SKY,
    dashed: bool = False,
) -> None:
    """Draw the body's outline, with a disc at the pin-1 corner if it is known.

    Parameters
    ----------
    canvas : Canvas
    view : View
    package : Package
        Dashed as well when its pin 1 is not known.
    colour : tuple of int, optional
    dashed : bool, optional
    """
    is_known = package.pin1.state == "ok"
    outline = view.all_at(package.outline_px)
    canvas.line(outline, colour, width=4, dashed=dashed or not is_known, closed=True)
    if is_known:
        draw_pin1_corner(canvas, outline, is_hollow=dashed)


def draw_pin1_corner(
    canvas: Canvas, outline: Sequence[Point], *, is_hollow: bool = False
) -> None:
    """Mark corner 0 of an outline: thick corner lines and a disc, or a ring.

    Parameters
    ----------
    canvas : Canvas
    outline : sequence of Point
        View pixels.
    is_hollow : bool, optional
        For where pin 1 was before.
    """
    quad = np.asarray(outline, float)
    arm = 0.22 * min(
        float(np.linalg.norm(quad[1] - quad[0])),
        float(np.linalg.norm(quad[3] - quad[0])),
    )
    ends = [_toward(quad[0], quad[1], arm), _toward(quad[0], quad[3], arm)]
    corner = (float(quad[0][0]), float(quad[0][1]))
    if is_hollow:
        canvas.ring(corner, DISC_PX, AMBER, width=4)
        return
    canvas.line([ends[0], corner, ends[1]], AMBER, width=8)
    canvas.disc(corner, DISC_PX, AMBER)


def draw_bridges(canvas: Canvas, view: View, bridges: Sequence[Bridge]) -> None:
    """Ring every solder bridge and name its leads.

    Parameters
    ----------
    canvas : Canvas
    view : View
    bridges : sequence of Bridge
    """
    for bridge in bridges:
        spot = view.at(bridge.at_px)
        canvas.ring(spot, 30, AMBER, width=5)
        mark = "" if bridge.state == "fault" else "?"
        words = f"bridge{mark} {bridge.between[0]}-{bridge.between[1]}"
        draw_tag(canvas, words, spot, (0.3, 1.0))


def draw_tag(
    canvas: Canvas,
    words: str,
    near: Point,
    outward: Sequence[float],
    *,
    fill: Rgb = AMBER,
    ink: Rgb = INK,
) -> None:
    """Put a word on a plate beside a point, with a line to it.

    Parameters
    ----------
    canvas : Canvas
    words : str
    near : Point
        View pixels.
    outward : sequence of float
        Direction (x, y) to try first.
    fill, ink : tuple of int, optional
    """
    place = tag_place(
        words,
        near,
        outward,
        size=TEXT_PX,
        taken=[text.box for text in canvas.texts],
        within=canvas.size,
    )
    canvas.line([near, place], fill, width=2)
    canvas.write(Text(words, place, TEXT_PX, ink, plate=fill))


def _window_with_labels(
    photo: Photo, package: Package, names: Mapping[int, str]
) -> tuple[View, list[Label]]:
    """Choose the closest window in which every lead label has room."""
    known = package.pin1.state == "ok"
    leads = package.leads if known else ()
    for air_frac in AIR_FRACS:
        view = window(
            package_points(package), photo, pixels=PICTURE_PIXELS, air_frac=air_frac
        )
        body = _bounds(view.all_at(package.outline_px), 0.8)
        labels = lead_labels(leads, names, view, size=TEXT_PX, taken=[body])
        width, height = view.size_px
        boxes = [label.text.box for label in labels]
        if all(b[0] > 0 and b[1] > 0 and b[2] < width and b[3] < height for b in boxes):
            break
    return view, labels


def _draw_words(
    canvas: Canvas, view: View, package: Package, labels: Sequence[Label]
) -> None:
    known = package.pin1.state == "ok"
    outline = view.all_at(package.outline_px)
    for lead in package.leads:
        heel_toe = [view.at(lead.heel_px), view.at(lead.toe_px)]
        canvas.line(heel_toe, PAPER, width=2)
    for label in labels:
        if label.is_moved:
            canvas.line([label.toe, _edge_towards(label.text.box, label.toe)], PAPER)
        canvas.write(label.text)
    middle = np.mean(outline, axis=0)
    if known:
        corner = np.asarray(outline[0])
        draw_tag(canvas, "pin 1", outline[0], tuple(corner - middle))
        canvas.disc(outline[0], DISC_PX, AMBER)
    else:
        words = "pin 1: cannot tell"
        place = (float(middle[0]), float(middle[1]))
        canvas.write(Text(words, place, TEXT_PX, INK, plate=AMBER))


def _draw_cues(canvas: Canvas, view: View, package: Package) -> None:
    """Ring the strongest cues and name them, with a ? while pin 1 is not known."""
    mark = "" if package.pin1.state == "ok" else "?"
    ranked = sorted(package.pin1.evidence, key=lambda cue: -cue.weight)
    shown: list[Cue] = [cue for cue in ranked if cue.weight > 0][:CUES_SHOWN]
    middle = np.mean(view.all_at(package.outline_px), axis=0)
    for cue in shown:
        spot = view.at(cue.at_px)
        inward = tuple(middle - np.asarray(spot) + 1e-3)
        canvas.ring(spot, 20, PAPER, width=2)
        words = CUE_TAGS.get(cue.kind, cue.kind) + mark
        draw_tag(canvas, words, spot, inward, fill=PAPER)


def _toward(start: np.ndarray, end: np.ndarray, length: float) -> Point:
    way = (end - start) / (float(np.linalg.norm(end - start)) or 1.0)
    point = start + way * length
    return float(point[0]), float(point[1])


def _edge_towards(box: Box, point: Point) -> Point:
    """Give the place on a box nearest to a point."""
    x = float(np.clip(point[0], box[0], box[2]))
    return x, float(np.clip(point[1], box[1], box[3]))


def _bounds(outline: Sequence[Point] | Quad, share: float) -> Box:
    cloud = np.asarray(outline, float)
    middle = cloud.mean(axis=0)
    low, high = (
        middle + share * (edge - middle) for edge in (cloud.min(0), cloud.max(0))
    )
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
