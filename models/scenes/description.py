"""One description of a made-up photo: board, parts, chip, joints, camera, phone.

Numbers only; nothing here draws.  Board frame, ``_mm``: x right, y down, seen from
above, origin at the middle of the board.  Package frame: the same axes, origin at
the body's centre, pin 1 in the upper left corner, leads counted counter-clockwise.
Angles are counter-clockwise positive as seen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

PointMm = tuple[float, float]
JointKind = Literal["good", "starved", "excess"]
BridgeKind = Literal["toe", "shoulder", "whisker"]
PinMark = Literal["dimple", "dot", "notch", "bar"]
PartKind = Literal["resistor", "capacitor", "crystal", "pins"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """Where something lies on the board; ``angle_deg`` is counter-clockwise as seen."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    angle_deg: float = 0.0

    def apply(self, point_mm: PointMm) -> PointMm:
        """Bring a point from the part's frame to the board frame."""
        c, s = _cos_sin(self.angle_deg)
        x, y = point_mm
        return (self.x_mm + c * x + s * y, self.y_mm - s * x + c * y)

    def invert(self, point_mm: PointMm) -> PointMm:
        """Bring a point from the board frame to the part's frame."""
        c, s = _cos_sin(self.angle_deg)
        x, y = point_mm[0] - self.x_mm, point_mm[1] - self.y_mm
        return (c * x - s * y, s * x + c * y)

    def then(self, inner: Pose) -> Pose:
        """Pose of something whose pose inside this one is ``inner``."""
        x, y = self.apply((inner.x_mm, inner.y_mm))
        return Pose(x_mm=x, y_mm=y, angle_deg=self.angle_deg + inner.angle_deg)


def _cos_sin(angle_deg: float) -> tuple[float, float]:
    angle = math.radians(angle_deg)
    return math.cos(angle), math.sin(angle)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageSize:
    """The numbers of one package variant, and the lands drawn for it.

    ``span_*`` run from toe to toe; ``span_y_mm`` is 0 where leads stand on two sides
    only.  A package whose ``span_x_mm`` equals ``body_x_mm`` has no leads but flat
    terminals of length ``foot_mm`` under the body edge.
    """

    family: str
    lead_count: int
    pitch_mm: float
    body_x_mm: float
    body_y_mm: float
    span_x_mm: float
    lead_width_mm: float
    foot_mm: float
    height_mm: float
    land_length_mm: float
    land_width_mm: float
    land_span_x_mm: float
    span_y_mm: float = 0.0
    land_span_y_mm: float = 0.0
    standoff_mm: float = 0.12
    lead_thickness_mm: float = 0.2
    thermal_pad_mm: PointMm | None = None

    @property
    def has_leads(self) -> bool:
        """Whether gull-wing leads stand out of the body."""
        return self.span_x_mm > self.body_x_mm + 0.2

    @property
    def side_count(self) -> int:
        """Two or four sides with leads."""
        return 4 if self.land_span_y_mm else 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Land:
    """A copper land: its centre and direction outward, in some frame, and its size."""

    pose: Pose
    length_mm: float
    width_mm: float
    is_round: bool = False
    is_ground: bool = False


def lead_poses(
    size: PackageSize, *, radius_x_mm: float, radius_y_mm: float
) -> tuple[Pose, ...]:
    """Place leads 1..n on a rectangle round the body, each pose's x axis outward.

    Parameters
    ----------
    size : PackageSize
    radius_x_mm, radius_y_mm : float
        Distance from the body's centre of the left/right and top/bottom rows.

    Returns
    -------
    tuple of Pose
        In the package frame, lead 1 first, counter-clockwise.
    """
    per_side = size.lead_count // size.side_count
    along = [(i - (per_side - 1) / 2) * size.pitch_mm for i in range(per_side)]
    left = [Pose(x_mm=-radius_x_mm, y_mm=a, angle_deg=180.0) for a in along]
    right = [Pose(x_mm=radius_x_mm, y_mm=-a, angle_deg=0.0) for a in along]
    if size.side_count == 2:
        return (*left, *right)
    bottom = [Pose(x_mm=a, y_mm=radius_y_mm, angle_deg=270.0) for a in along]
    top = [Pose(x_mm=-a, y_mm=-radius_y_mm, angle_deg=90.0) for a in along]
    return (*left, *bottom, *right, *top)


def package_lands(size: PackageSize) -> tuple[Land, ...]:
    """Return the lands of leads 1..n in the package frame, then the thermal pad."""
    half = size.land_length_mm / 2
    poses = lead_poses(
        size,
        radius_x_mm=size.land_span_x_mm / 2 - half,
        radius_y_mm=size.land_span_y_mm / 2 - half,
    )
    lands = [
        Land(pose=p, length_mm=size.land_length_mm, width_mm=size.land_width_mm)
        for p in poses
    ]
    if size.thermal_pad_mm:
        x, y = size.thermal_pad_mm
        lands.append(Land(pose=Pose(), length_mm=x, width_mm=y, is_ground=True))
    return tuple(lands)


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """How one lead was soldered.  ``bend_mm`` moves the toe sideways."""

    kind: JointKind = "good"
    is_dull: bool = False
    lift_mm: float = 0.0
    bend_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """Solder between two neighbouring leads, numbered from 1.

    ``place_frac`` runs from the toe (0) to the body (1), ``width_frac`` is half its
    width in lead widths; None takes what is usual for the kind.
    """

    between: tuple[int, int]
    kind: BridgeKind = "toe"
    place_frac: float | None = None
    width_frac: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ball:
    """A loose ball of solder on the board, in the frame of the footprint."""

    at_mm: PointMm
    radius_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mould:
    """The face of a body: the pin-1 mark, what only looks like one, the writing."""

    pin_mark: PinMark | None = "dimple"
    mark_mm: float = 0.7
    has_bevel: bool = False
    ejector_mm: float = 0.0
    lines: tuple[str, ...] = ()
    line_height_mm: float = 0.6
    text_turn_deg: float = 0.0
    text_up_mm: float = 0.0
    grey: float = 0.023
    paint_dot_mm: PointMm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chip:
    """A package standing on its lands, with the errors of its placing.

    ``home`` is the pose of the footprint.  ``dx_mm``, ``dy_mm`` are in the board frame.
    ``tilt_mm`` lifts the body's right edge over its left one, ``lean_mm`` its lower
    edge over its upper one.
    """

    size: PackageSize
    home: Pose = field(default_factory=Pose)
    mould: Mould = field(default_factory=Mould)
    dx_mm: float = 0.0
    dy_mm: float = 0.0
    skew_deg: float = 0.0
    turn_deg: int = 0
    tilt_mm: float = 0.0
    lean_mm: float = 0.0
    joints: dict[int, Joint] = field(default_factory=dict)
    bridges: tuple[Bridge, ...] = ()
    balls: tuple[Ball, ...] = ()

    @property
    def pose(self) -> Pose:
        """Where the body really lies on the board."""
        return Pose(
            x_mm=self.home.x_mm + self.dx_mm,
            y_mm=self.home.y_mm + self.dy_mm,
            angle_deg=self.home.angle_deg + self.turn_deg + self.skew_deg,
        )

    def rise_mm(self, x_mm: float, y_mm: float) -> float:
        """Return how much higher a place of the package stands, for tilt and lean."""
        across = self.tilt_mm * (x_mm / self.size.body_x_mm + 0.5)
        return across + self.lean_mm * (y_mm / self.size.body_y_mm + 0.5)

    def joint(self, lead: int) -> Joint:
        """Return how lead ``lead`` (from 1) was soldered; good if nothing is said."""
        return self.joints.get(lead, Joint())


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A neighbour: two-terminal part, crystal, or a row of soldered connector pins."""

    kind: PartKind
    pose: Pose
    length_mm: float
    width_mm: float
    height_mm: float
    land_length_mm: float
    land_width_mm: float
    land_span_mm: float
    code: str = ""
    pin_count: int = 2
    pitch_mm: float = 2.54


def part_lands(part: Part) -> tuple[Land, ...]:
    """Return the lands of a part in its own frame."""
    if part.kind == "pins":
        first = -(part.pin_count - 1) / 2 * part.pitch_mm
        return tuple(
            Land(
                pose=Pose(x_mm=first + i * part.pitch_mm),
                length_mm=part.land_length_mm,
                width_mm=part.land_length_mm,
                is_round=True,
            )
            for i in range(part.pin_count)
        )
    x = (part.land_span_mm - part.land_length_mm) / 2
    return tuple(
        Land(
            pose=Pose(x_mm=sign * x, angle_deg=0.0 if sign > 0 else 180.0),
            length_mm=part.land_length_mm,
            width_mm=part.land_width_mm,
        )
        for sign in (-1, 1)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """A copper track, or a printed line when it stands in ``Board.silk_lines``."""

    points_mm: tuple[PointMm, ...]
    width_mm: float = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class SilkText:
    """Printed letters, centred."""

    text: str
    pose: Pose
    height_mm: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Flux:
    """A patch of dried flux, or the print of a finger in it."""

    x_mm: float
    y_mm: float
    radius_mm: float
    strength: float = 1.0
    is_fingerprint: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """The bare board.  ``mask_rgb`` is linear; ``lands`` are in the board frame."""

    width_mm: float
    height_mm: float
    lands: tuple[Land, ...] = ()
    traces: tuple[Trace, ...] = ()
    vias_mm: tuple[PointMm, ...] = ()
    silk_lines: tuple[Trace, ...] = ()
    silk_texts: tuple[SilkText, ...] = ()
    flux: tuple[Flux, ...] = ()
    has_pour: bool = True
    mask_rgb: tuple[float, float, float] = (0.012, 0.074, 0.036)
    wear: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A hand-held phone.  ``azimuth_deg`` says to which side of the target it leans.

    Tilt 0 looks straight down; azimuth 0 leans to the lower edge of the board,
    90 to the right.  ``roll_deg`` turns the picture clockwise.
    """

    target_mm: PointMm = (0.0, 0.0)
    distance_mm: float = 75.0
    view_mm: float = 18.0
    tilt_deg: float = 6.0
    azimuth_deg: float = 0.0
    roll_deg: float = 0.0
    aperture_mm: float = 0.9
    focus_shift_mm: float = 0.0
    width_px: int = 1600
    height_px: int = 1200


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """A bench: a window, ceiling panels, a lamp, all in a dim room."""

    lamp_azimuth_deg: float = 40.0
    lamp_elevation_deg: float = 55.0
    lamp_strength: float = 1.0
    window_azimuth_deg: float = 200.0
    window_strength: float = 1.0
    warmth: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Phone:
    """What the phone does to the light it caught."""

    exposure: float = 0.42
    red_gain: float = 1.0
    blue_gain: float = 1.0
    sharpening: float = 0.7
    noise: float = 1.0
    blur_px: float = 0.5
    shake_px: float = 0.0
    shake_deg: float = 0.0
    jpeg_quality: int = 88


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything in one picture.  ``chip`` is the one that matters; it may be absent.

    ``seed`` settles what stays the same on one board (wear, neighbours' solder),
    ``shot_seed`` what differs from photo to photo (the chip's solder, dust, noise).
    """

    board: Board
    chip: Chip | None
    neighbours: tuple[Chip, ...] = ()
    parts: tuple[Part, ...] = ()
    camera: Camera = field(default_factory=Camera)
    light: Light = field(default_factory=Light)
    phone: Phone = field(default_factory=Phone)
    dust_count: int = 6
    seed: int = 0
    shot_seed: int = 0
