"""Frozen records that the steps hand to each other and that a job keeps.

Numpy only, so old jobs open without OpenCV.  Frames and signs: ``geometry.py``.
A point is ``(x, y)`` in pixels of the upright photo (pixel centres at whole
numbers) unless the name says ``_mm``; an outline is four points, corner 0 at
pin 1, then counter-clockwise as pins are numbered from above.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    import numpy as np

State = Literal["ok", "fault", "unsure"]
WORST_FIRST: tuple[State, ...] = ("fault", "unsure", "ok")
Decision = Literal["no-fault-seen", "stop", "check-by-hand", "retake"]
Point = tuple[float, float]
Quad = tuple[Point, Point, Point, Point]
LeadRow = tuple[int, int]
"""First and last lead of a row on one side of a package."""
Matrix3 = tuple[tuple[float, float, float], ...]
BY_HAND = "set by hand"
"""The one reason of a pin 1 that a person set; its confidence is not measured."""


def worst_state(states: Iterable[State]) -> State:
    """Give the worst of some states.

    Parameters
    ----------
    states : iterable of str

    Returns
    -------
    str
        ``unsure`` when there is none: nothing measured is never ``ok``.
    """
    return min(states, key=WORST_FIRST.index, default="unsure")


@dataclass(frozen=True, slots=True, kw_only=True)
class NotFound:
    """An answer that says: we looked and could not tell.  False in a condition."""

    reason: str

    def __bool__(self) -> Literal[False]:
        return False


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """An upright photo and its origin.

    ``pixels``: (rows, cols, 3) uint8 BGR.  ``worked_out``: what a step made of all of
    them and keeps for the next, under the step's own name for it.
    """

    path: Path
    sha256: str
    width_px: int
    height_px: int
    pixels: np.ndarray = field(compare=False, repr=False)
    worked_out: dict[str, np.ndarray] = field(
        init=False, default_factory=dict, compare=False, repr=False
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One check's outcome: ``reasons`` are sentences for the technician."""

    state: State
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A package body as found on the whole photo; ``corners_px`` start anywhere."""

    corners_px: Quad
    score: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One piece of evidence for pin 1; ``weight`` is log-odds for corner 0."""

    kind: str
    at_px: Point
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin1:
    """The judgement which corner is pin 1.  ``confidence`` is calibrated, 0..1."""

    state: State
    confidence: float
    evidence: tuple[Cue, ...] = ()
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """One lead: number from pin 1 counter-clockwise; toe is the outer end."""

    number: int
    toe_px: Point
    heel_px: Point
    width_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """What could be said of one lead's solder joint."""

    lead: int
    state: State
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """Solder between two neighbouring leads, ``unsure`` where it may be none."""

    between: tuple[int, int]
    confidence: float
    at_px: Point
    state: State = "fault"


@dataclass(frozen=True, slots=True)
class SizeScores:
    """How well each size fits what was seen: log-odds by (family, name of the size).

    ``other_share`` is the belief, 0..1, that it is none of the families.
    """

    by_size: Mapping[tuple[str, str], float] = field(default_factory=dict)
    other_share: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """Everything found out about one package in one photo.

    When ``pin1.state`` is not ``ok`` the start of ``outline_px`` means nothing.
    ``lead_count`` and ``px_per_mm`` are None where they cannot be told;
    ``variant`` names the row of ``vision/data/families`` that gave the scale, and
    ``size_scores`` are those of all rows that were thought of.
    """

    outline_px: Quad
    confidence: float
    family: str
    family_confidence: float
    lead_count: int | None
    pin1: Pin1
    px_per_mm: float | None = None
    variant: str | None = None
    size_scores: SizeScores = field(default_factory=SizeScores, compare=False)
    leads: tuple[Lead, ...] = ()
    joints: tuple[Joint, ...] = ()
    bridges: tuple[Bridge, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoReport:
    """The answer of ``look`` for one photo: the package meant, then the best first.

    ``unread_px``: outlines of what looks like a package and could not be read.
    ``meant``: whether the first package is surely the one that the photo is of.
    """

    photo: Photo
    quality: Finding
    packages: tuple[Package, ...]
    unread_px: tuple[Quad, ...] = ()
    meant: Finding = field(default_factory=lambda: Finding(state="ok"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """The board of the before photo laid over the after photo.

    ``before_to_after`` maps homogeneous before pixels to after pixels;
    ``residual_px`` is the rms distance of the inliers, in after pixels.
    """

    before_to_after: Matrix3
    inliers: int
    residual_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Orientation:
    """How far the chip is turned on its board, counter-clockwise: 0 90 180 270."""

    state: State
    turn_deg: int | None
    confidence: float
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """Centre of the chip after minus before, in the before photo's x and y axes.

    ``skew_deg`` is counter-clockwise positive as seen.  ``u_*`` are expanded
    uncertainties, coverage factor 2.  None where there is no scale.  ``limit_*`` are
    the shop limits of the whole shift and of the skew; ``px_per_mm`` is the scale of
    the before photo that the shift was measured by.
    """

    state: State
    dx_mm: float | None = None
    dy_mm: float | None = None
    skew_deg: float | None = None
    u_mm: float | None = None
    u_deg: float | None = None
    limit_mm: float | None = None
    limit_deg: float | None = None
    px_per_mm: float | None = None
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhang:
    """Side overhang of one lead past its land, as a share of the lead's width."""

    lead: int
    side_overhang_frac: float
    u_frac: float
    limit_frac: float
    state: State


@dataclass(frozen=True, slots=True, kw_only=True)
class SideFoot:
    """One foot, counted from the left of the photo; ``u_mm`` is expanded, k = 2.

    ``seen_frac``: belief that the foot is where it was measured.  ``at_px``: the outer
    end of its land.
    """

    from_left: int
    height_mm: float
    u_mm: float
    seen_frac: float
    at_px: Point
    state: State


@dataclass(frozen=True, slots=True, kw_only=True)
class SideView:
    """The feet of one row seen from the side, their limit and what was seen.

    ``reasons`` say why feet that stand beyond the limit are no fault.
    """

    state: State
    feet: tuple[SideFoot, ...]
    limit_mm: float
    pitch_mm: float
    px_per_mm: float
    reasons: tuple[str, ...] = ()

    @property
    def mark_reach_px(self) -> float:
        """Half the side of the square that marks a foot: 0.3 of the pitch."""
        return 0.3 * self.px_per_mm * self.pitch_mm

    def square_px(self, foot: SideFoot) -> Quad:
        """Give the corners of the square that stands on a foot's place."""
        (x, y), reach = foot.at_px, self.mark_reach_px
        left, right, high = x - reach, x + reach, y - 2 * reach
        return (left, high), (left, y), (right, y), (right, high)


@dataclass(frozen=True, slots=True, kw_only=True)
class SideSeen:
    """A photo of one row of feet; ``leads`` is the row that a person named, or None.

    Seen from outside the chip, leads count from left to right.  ``note`` says why a
    name that was given does not count.
    """

    photo: Photo
    leads: LeadRow | None
    view: SideView | NotFound
    note: str = ""

    def lead(self, foot: SideFoot) -> int | None:
        """Give the number of a foot's lead; None where the row has no name."""
        return None if self.leads is None else self.leads[0] + foot.from_left - 1


@dataclass(frozen=True, slots=True)
class WrongWay:
    """A chip that lies turned by quarter turns: by so much it has to be turned back.

    ``turn_deg`` is counter-clockwise.
    """

    turn_deg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PairReport:
    """The answer of ``compare``; a part that could not be judged says why.

    ``budgets`` are the uncertainty budgets behind the numbers, as printed tables;
    ``notes`` what is worth a look and decides nothing; ``limits`` names what the shop
    judges by.
    """

    before: PhotoReport
    after: PhotoReport
    before_package: Package | None
    after_package: Package | None
    registration: Registration | NotFound
    orientation: Orientation
    alignment: Alignment
    overhang: tuple[Overhang, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    joints: tuple[Joint, ...] = ()
    side: tuple[SideSeen, ...] = ()
    checks: dict[str, Finding] = field(default_factory=dict)
    decision: Decision = "check-by-hand"
    reasons: tuple[str, ...] = ()
    budgets: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    limits: str = ""

    @property
    def is_numbered(self) -> bool:
        """Whether numbers of leads count from a pin 1 that is known.

        That of the photo before tells where the chip's turn since is known, too.
        """
        was_known, is_known = (
            chip is not None and chip.pin1.state == "ok"
            for chip in (self.before_package, self.after_package)
        )
        turn_deg = self.orientation.turn_deg
        return is_known or (was_known and turn_deg is not None)
