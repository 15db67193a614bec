"""Two photos in one frame: the board lies still and what the chip did is drawn."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from vision.draw.canvas import AMBER, INK, PAPER, Canvas, Text, band
from vision.draw.joints import draw_joints
from vision.draw.package import (
    draw_bridges,
    draw_outline,
    draw_pin1_corner,
    draw_tag,
    package_points,
)
from vision.draw.view import View, render, window
from vision.results import NotFound

if TYPE_CHECKING:
    from vision.results import Package, PairReport, Photo, Point, State

PANEL_PIXELS = 600_000
TEXT_PX = 28
AIR_FRAC = 0.35
SEAM_PX = 8
ENLARGEMENTS = (1, 2, 5, 10, 20, 50)
VISIBLE_PX = 90.0
LONGEST_PX = 300.0
BLINK_MS = 800


@dataclass(frozen=True, slots=True, kw_only=True)
class PairWords:
    """The words for a picture of a pair, made by whoever knows the language.

    ``shift`` and ``turn`` stand beside their arrows; an empty one draws no arrow.
    """

    caption: tuple[str, ...] = ()
    state: State | None = None
    shift: str = ""
    turn: str = ""


def draw_pair(
    before: Photo,
    after: Photo,
    report: PairReport,
    *,
    words: PairWords | None = None,
) -> np.ndarray:
    """Show before and after side by side in the frame of the before photo.

    Parameters
    ----------
    before, after : Photo
    report : PairReport
        Without a registration each photo is shown in its own frame and the picture
        says so.
    words : PairWords, optional

    Returns
    -------
    ndarray of shape (rows, cols, 3), uint8 BGR
    """
    said = words or PairWords()
    panels = _panels(before, after, report)
    left, right = panels.before, panels.after
    if report.before_package:
        draw_outline(left, panels.view, report.before_package, dashed=True)
    if report.before_package and panels.is_aligned:
        draw_outline(right, panels.view, report.before_package, dashed=True)
    if report.after_package:
        draw_outline(right, panels.after_view, report.after_package)
    draw_bridges(right, panels.after_view, report.bridges)
    if report.after_package and report.is_numbered:
        leads = report.after_package.leads
        draw_joints(right, panels.after_view, report.joints, leads, report.bridges)
    if panels.is_aligned:
        _draw_finding(right, panels, report, said)
    _title(left, "before")
    _title(
        right, "after; dashed: before" if panels.is_aligned else "after, not laid over"
    )
    picture = _side_by_side(left.finish(), right.finish())
    return band(picture, said.caption, said.state, TEXT_PX)


def blink_picture(before: Photo, after: Photo, report: PairReport) -> bytes | NotFound:
    """Make a picture that blinks between before and after, laid over each other.

    Parameters
    ----------
    before, after : Photo
    report : PairReport

    Returns
    -------
    bytes or NotFound
        An animated WebP file; not found where the photos could not be laid over
        each other, for then a blink would show a shift that is not there.
    """
    if isinstance(report.registration, NotFound):
        return report.registration
    panels = _panels(before, after, report)
    frames = []
    for canvas, title in ((panels.before, "before"), (panels.after, "after")):
        _title(canvas, title)
        frames.append(Image.fromarray(canvas.finish()[..., ::-1]))
    file = io.BytesIO()
    frames[0].save(
        file,
        format="WEBP",
        save_all=True,
        append_images=frames[1:],
        duration=BLINK_MS,
        loop=0,
        quality=82,
    )
    return file.getvalue()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panels:
    before: Canvas
    after: Canvas
    view: View
    after_view: View
    is_aligned: bool


def _panels(before: Photo, after: Photo, report: PairReport) -> _Panels:
    registration = report.registration
    if isinstance(registration, NotFound):
        view = _own_window(before, report.before_package)
        after_view = _own_window(after, report.after_package)
    else:
        before_to_after = np.asarray(registration.before_to_after, float)
        after_to_before = np.linalg.inv(before_to_after)
        points = _corners(before)
        if report.before_package:
            points = package_points(report.before_package)
        if report.before_package and report.after_package:
            moved = View(photo_to_view=after_to_before, size_px=(1, 1))
            points = points + moved.all_at(package_points(report.after_package))
        view = window(points, before, pixels=PANEL_PIXELS, air_frac=AIR_FRAC)
        after_view = view.through(after_to_before)
    return _Panels(
        before=render(before, view),
        after=render(after, after_view),
        view=view,
        after_view=after_view,
        is_aligned=not isinstance(registration, NotFound),
    )


def _own_window(photo: Photo, package: Package | None) -> View:
    if package is None:
        return window(_corners(photo), photo, pixels=PANEL_PIXELS, air_frac=0.0)
    points = package_points(package)
    return window(points, photo, pixels=PANEL_PIXELS, air_frac=AIR_FRAC)


def _side_by_side(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Join two pictures with a dark seam, the shorter one filled up below."""
    rows = max(left.shape[0], right.shape[0])
    joined = np.empty((rows, left.shape[1] + SEAM_PX + right.shape[1], 3), np.uint8)
    joined[:] = INK[::-1]
    joined[: left.shape[0], : left.shape[1]] = left
    joined[: right.shape[0], -right.shape[1] :] = right
    return joined


def _corners(photo: Photo) -> list[Point]:
    return [(0.0, 0.0), (float(photo.width_px), float(photo.height_px))]


def _draw_finding(
    canvas: Canvas, panels: _Panels, report: PairReport, said: PairWords
) -> None:
    if report.before_package is None or report.after_package is None:
        return
    was = np.asarray(panels.view.all_at(report.before_package.outline_px))
    now = np.asarray(panels.after_view.all_at(report.after_package.outline_px))
    turn_deg = report.orientation.turn_deg
    if said.turn and turn_deg:
        _draw_turn(canvas, was, turn_deg, said.turn)
        if report.before_package.pin1.state == "ok":
            draw_pin1_corner(canvas, [tuple(p) for p in was], is_hollow=True)
            draw_tag(canvas, "pin 1 before", tuple(was[0]), tuple(was[0] - was.mean(0)))
        if report.is_numbered:
            draw_tag(canvas, "pin 1 now", tuple(now[0]), tuple(now[0] - now.mean(0)))
    if said.shift and not (said.turn and report.alignment.state == "ok"):
        _draw_shift(canvas, panels, report, said.shift)


def _draw_turn(canvas: Canvas, was: np.ndarray, turn_deg: int, words: str) -> None:
    """Draw an arc from where pin 1 was to where it is, the way the chip was turned."""
    middle = was.mean(axis=0)
    spoke = was[0] - middle
    radius = 0.62 * float(np.linalg.norm(was - middle, axis=1).min())
    start = float(np.arctan2(spoke[1], spoke[0]))
    sweep = np.radians(np.linspace(8, turn_deg - 8, 60))
    arc = [
        (
            float(middle[0] + radius * np.cos(start - angle)),
            float(middle[1] + radius * np.sin(start - angle)),
        )
        for angle in sweep
    ]
    canvas.arrow(arc, AMBER, width=7)
    canvas.write(
        Text(words, (float(middle[0]), float(middle[1])), TEXT_PX, INK, plate=AMBER)
    )


def _draw_shift(
    canvas: Canvas, panels: _Panels, report: PairReport, words: str
) -> None:
    """Draw the shift from the old centre, enlarged if it would be too small to see."""
    alignment, package = report.alignment, report.before_package
    if alignment.dx_mm is None or alignment.dy_mm is None or package is None:
        return
    px_per_mm = alignment.px_per_mm or package.px_per_mm
    if px_per_mm is None:
        return
    middle = np.mean(package.outline_px, axis=0)
    step = np.array([alignment.dx_mm, alignment.dy_mm]) * px_per_mm
    start = np.asarray(panels.view.at(tuple(middle)))
    way = np.asarray(panels.view.at(tuple(middle + step))) - start
    length = float(np.linalg.norm(way))
    if length == 0:
        return
    times = enlargement(length)
    tip = start + way * times
    note = words if times == 1 else f"{words}, drawn {times} times as long"
    canvas.disc(tuple(start), 7, PAPER)
    canvas.arrow([tuple(start), tuple(tip)], PAPER, width=6)
    draw_tag(canvas, note, tuple(tip), tuple(way), fill=PAPER)


def enlargement(length_px: float) -> int:
    """Choose how many times an arrow is drawn longer than it is.

    Parameters
    ----------
    length_px : float
        True length in the picture.

    Returns
    -------
    int
        The smallest step that makes it `VISIBLE_PX` long, at most `LONGEST_PX`.
    """
    for times in ENLARGEMENTS:
        if length_px * times >= VISIBLE_PX:
            return times if length_px * times <= LONGEST_PX or times == 1 else 1
    return ENLARGEMENTS[-1]


def _title(canvas: Canvas, words: str) -> None:
    size = round(1.1 * TEXT_PX)
    probe = Text(words, (0.0, 0.0), size, PAPER, plate=INK)
    width = probe.box[2] - probe.box[0]
    canvas.write(Text(words, (width / 2 + 10, 30.0), size, PAPER, plate=INK))
