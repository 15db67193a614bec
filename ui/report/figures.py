"""Photos of a job as report pictures, the tool's findings drawn on them.

Drawn from the recorded answer alone, so an old job looks the same for ever.
Lines are dark with a light edge and told apart by form and number, not colour.
"""

from __future__ import annotations

import io
import math
import warnings
from typing import TYPE_CHECKING, Any

from PIL import Image, ImageDraw, ImageFont, ImageOps

from ui.read_contract import bridge_state
from ui.record.claims import open_picture
from ui.report.fonts import REGULAR

if TYPE_CHECKING:
    from pathlib import Path

LONG_SIDE_PX = 1400
MAX_PIXELS = 120_000_000
JPEG_QUALITY = 85
_DARK, _LIGHT = (20, 20, 20), (255, 255, 255)

Point = tuple[float, float]


class Sketch:
    """A drawing on a scaled photo; takes points of the full upright photo."""

    def __init__(self, picture: Image.Image, scale: float) -> None:
        self._draw = ImageDraw.Draw(picture)
        self._scale = scale
        self._unit = max(picture.size) / 520
        self._font = ImageFont.truetype(str(REGULAR), round(17 * self._unit))

    def outline(self, corners: list[Point]) -> None:
        """Draw a closed outline."""
        self._line([*corners, corners[0]])

    def pin1(self, at: Point, *, is_sure: bool) -> None:
        """Mark the pin-1 corner, or with a question mark where it is not sure."""
        self._ring(at)
        self._word(at, "pin 1" if is_sure else "pin 1 ?")

    def fault(self, at: Point, word: str) -> None:
        """Mark a fault by a cross and a word."""
        x, y = self._here(at)
        arm = 8 * self._unit
        for one, two in (((-1, -1), (1, 1)), ((-1, 1), (1, -1))):
            ends = [(x + arm * dx, y + arm * dy) for dx, dy in (one, two)]
            self._stroke(ends)
        self._word(at, word)

    def doubt(self, at: Point, word: str) -> None:
        """Mark what could not be judged by a ring and a word."""
        self._ring(at)
        self._word(at, word)

    def foot(self, at: Point, reach: float, word: str) -> None:
        """Draw a square on a foot and a word above it."""
        x, y = at
        corners = [(x - reach, y), (x - reach, y - 2 * reach)]
        self.outline([*corners, (x + reach, y - 2 * reach), (x + reach, y)])
        self._word((x - reach, y + 0.6 * reach), word)

    def _line(self, points: list[Point]) -> None:
        self._stroke([self._here(point) for point in points])

    def _stroke(self, points: list[Point]) -> None:
        for width, colour in ((4.5, _LIGHT), (2, _DARK)):
            self._draw.line(
                points,
                fill=colour,
                width=max(1, round(width * self._unit)),
                joint="curve",
            )

    def _ring(self, at: Point) -> None:
        x, y = self._here(at)
        for radius, width, colour in ((11, 5, _LIGHT), (10, 2.5, _DARK)):
            r = radius * self._unit
            self._draw.ellipse(
                (x - r, y - r, x + r, y + r),
                outline=colour,
                width=max(1, round(width * self._unit)),
            )

    def _word(self, at: Point, word: str) -> None:
        x, y = self._here(at)
        self._draw.text(
            (x + 14 * self._unit, y - 9 * self._unit),
            word,
            font=self._font,
            fill=_DARK,
            stroke_width=max(1, round(2 * self._unit)),
            stroke_fill=_LIGHT,
        )

    def _here(self, point: Point) -> Point:
        return (point[0] * self._scale, point[1] * self._scale)


def photo_jpeg(
    path: Path, package: dict[str, Any] | None, feet: dict[str, Any] | None = None
) -> tuple[bytes, int, int]:
    """Make a report picture of a photo.

    Parameters
    ----------
    path : Path
        The stored photo.
    package : dict or None
        The chip to draw, as the answer describes it.
    feet : dict, optional
        The answer about a row of feet to draw.

    Returns
    -------
    bytes, int, int
        JPEG without any claims or place, width and height in pixels.

    Raises
    ------
    OSError
        The photo cannot be decoded or is too large.
    """
    with open_picture(path) as opened, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if opened.width * opened.height > MAX_PIXELS:
            message = f"{opened.width} x {opened.height} pixels are too many to show"
            raise OSError(message)
        opened.draft("RGB", (LONG_SIDE_PX, LONG_SIDE_PX))
        full_px = _upright_width_px(path)
        picture = ImageOps.exif_transpose(opened).convert("RGB")
    picture.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX))
    shown = Image.new("RGB", picture.size)
    shown.paste(picture)
    sketch = Sketch(shown, shown.width / full_px)
    if package is not None:
        _draw_package(sketch, package)
    if feet is not None:
        _draw_feet(sketch, feet)
    out = io.BytesIO()
    shown.save(out, "JPEG", quality=JPEG_QUALITY)
    return out.getvalue(), shown.width, shown.height


def package_of(answer: dict[str, Any], side: str) -> dict[str, Any] | None:
    """Find the chip that an answer is about.

    Parameters
    ----------
    answer : dict
        A look or compare answer.
    side : str
        ``before`` or ``after`` for a comparison, anything for a look.

    Returns
    -------
    dict or None
        The package, with bridges and joints of a comparison on its after side.
    """
    found = answer.get(f"{side}_package")
    if isinstance(found, dict):
        compared = {name: answer.get(name) for name in ("bridges", "joints")}
        return {**found, **(compared if side == "after" else {})}
    packages = answer.get("packages")
    if isinstance(packages, list) and packages and isinstance(packages[0], dict):
        return packages[0]
    return None


def _draw_package(sketch: Sketch, package: dict[str, Any]) -> None:
    corners = _points(package.get("outline_px"))
    if len(corners) == 4:
        sketch.outline(corners)
        pin1 = package.get("pin1")
        state = pin1.get("state") if isinstance(pin1, dict) else None
        if state == "ok":
            sketch.pin1(corners[0], is_sure=True)
    bridges = package.get("bridges")
    for bridge in bridges if isinstance(bridges, list) else []:
        if not isinstance(bridge, dict):
            continue
        at, between = _points([bridge.get("at_px")]), bridge.get("between")
        if at and isinstance(between, list):
            words = "-".join(str(n)[:4] for n in between[:2])
            if bridge_state(bridge) == "fault":
                sketch.fault(at[0], f"bridge {words}")
            else:
                sketch.doubt(at[0], f"bridge? {words}")
    _draw_joint_faults(sketch, package)


def _draw_feet(sketch: Sketch, answer: dict[str, Any]) -> None:
    """Draw each foot with its name; one that stands out with its height, a cross."""
    feet = answer.get("feet")
    pitch_px = _positive(answer.get("px_per_mm")) * _positive(answer.get("pitch_mm"))
    for foot in feet if isinstance(feet, list) else []:
        if not isinstance(foot, dict):
            continue
        lead, height = foot.get("lead"), foot.get("height_mm")
        name = str(lead or foot.get("from_left"))[:4]
        shown = f" {height:+.2f}" if isinstance(height, int | float) else ""
        word = {"ok": name, "fault": f"{name}:{shown}"}.get(
            str(foot.get("state")), f"{name} ?"
        )
        for x, y in _points([foot.get("at_px")]):
            sketch.foot((x, y), 0.3 * pitch_px, word)
            if foot.get("state") == "fault":
                sketch.fault((x, y - 0.3 * pitch_px), "")


def _positive(value: object) -> float:
    """Give a number of a sane size, else one that draws a small mark."""
    if isinstance(value, int | float) and 0 < value < 1e4:
        return float(value)
    return 1.0


def _draw_joint_faults(sketch: Sketch, package: dict[str, Any]) -> None:
    leads, joints = package.get("leads"), package.get("joints")
    if not isinstance(leads, list) or not isinstance(joints, list):
        return
    toes = {
        lead.get("number"): _points([lead.get("toe_px")])
        for lead in leads
        if isinstance(lead, dict)
    }
    for joint in joints:
        if isinstance(joint, dict) and joint.get("state") == "fault":
            for at in toes.get(joint.get("lead"), []):
                sketch.fault(at, f"lead {str(joint.get('lead'))[:4]}")


def _points(value: object) -> list[Point]:
    """Keep what is a finite point of a sane size."""
    if not isinstance(value, list):
        return []
    return [
        (float(point[0]), float(point[1]))
        for point in value
        if isinstance(point, list)
        and len(point) == 2
        and all(isinstance(v, int | float) and math.isfinite(v) for v in point)
        and all(abs(v) < 1e6 for v in point)
    ]


def _upright_width_px(path: Path) -> int:
    with open_picture(path) as picture:
        turned = picture.getexif().get(0x0112, 1) in (5, 6, 7, 8)
        return picture.height if turned else picture.width
