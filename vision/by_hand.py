"""Takes over what a person set right by hand, and reads anew what rests on it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from vision.by_name import name_by_hand
from vision.find_packages import aspect_of, read_package
from vision.geometry import is_sane_quad, signed_area_px2, to_points
from vision.leads import sized_as
from vision.overlap import quad_iou_frac
from vision.results import BY_HAND, NotFound, Outline, Package, Pin1
from vision.tables import best_variant

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.packages import Variant
    from vision.results import Photo, Point, Quad

SAME_CHIP_IOU_FRAC = 0.2
"""A chip found by the tool that overlaps the hand-set outline more is that chip."""
NOT_READ = (
    "pin 1: nothing was made out inside the outline set by hand. Mark the pin-1 corner "
    "by hand too, or take the photo closer."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ByHand:
    """What a person says of the main chip; None where the tool is left to judge.

    ``outline_px`` are the body's corners in order, either sense, any start;
    ``pin1_px`` is a point at the pin-1 corner; ``package`` are the sizes that a name
    stands for, empty where none was given.
    """

    outline_px: Quad | None = None
    pin1_px: Point | None = None
    package: tuple[Variant, ...] = ()

    def __bool__(self) -> bool:
        return self != ByHand()

    @property
    def points_at_chip(self) -> bool:
        """Whether it says which chip is meant; a name alone does not."""
        return self.outline_px is not None or self.pin1_px is not None


def apply_by_hand(
    photo: Photo, packages: tuple[Package, ...], by_hand: ByHand
) -> tuple[Package, ...]:
    """Put the word of a person in place of the tool's and read the rest anew.

    Parameters
    ----------
    photo : Photo
        Upright photo.
    packages : tuple of Package
        What the tool found, the main chip first.
    by_hand : ByHand
        What was set right.

    Returns
    -------
    tuple of Package
        The chip set right comes first.  A pin 1 set by hand has the confidence 1
        and the reason ``BY_HAND``, and no evidence of the tool's.

    Raises
    ------
    ValueError
        The outline is not four corners of a body.
    """
    if by_hand.outline_px is not None:
        others = tuple(
            package
            for package in packages
            if quad_iou_frac(package.outline_px, by_hand.outline_px)
            < SAME_CHIP_IOU_FRAC
        )
        packages = (_read_inside(photo, by_hand.outline_px), *others)
    if by_hand.pin1_px is not None and packages:
        packages = (_with_pin1(packages[0], by_hand.pin1_px), *packages[1:])
    if by_hand.package and packages:
        named, doubt = name_by_hand(packages[0], by_hand.package)
        if doubt.state == "ok":  # else what was read stays, for the pair to say so
            packages = (named, *packages[1:])
    return packages


def _read_inside(photo: Photo, outline_px: Quad) -> Package:
    """Read a chip within an outline that stands as it was set."""
    if not is_sane_quad(outline_px):
        message = f"{outline_px} are not the corners of a body"
        raise ValueError(message)
    corners = np.array(outline_px)
    if signed_area_px2(corners) < 0:
        corners = corners[::-1]
    seen = read_package(photo, Outline(corners_px=_quad(corners), score=1.0))
    if seen is None:
        return Package(
            outline_px=_quad(corners),
            confidence=1.0,
            family="other",
            family_confidence=0.0,
            lead_count=None,
            pin1=Pin1(state="unsure", confidence=0.25, reasons=(NOT_READ,)),
        )
    return _from_corner(replace(seen, confidence=1.0), corners, seen.outline_px[0])


def _with_pin1(package: Package, pin1_px: Point) -> Package:
    pin1 = Pin1(state="ok", confidence=1.0, reasons=(BY_HAND,))
    corners = np.array(package.outline_px)
    return _from_corner(replace(package, pin1=pin1), corners, pin1_px)


def _from_corner(
    package: Package, corners: npt.NDArray[np.float64], first_px: Point
) -> Package:
    """Start the outline at the corner nearest to a point and place the leads anew."""
    nearest = int(np.hypot(*(corners - first_px).T).argmin())
    corners = np.roll(corners, -nearest, axis=0)
    package = replace(package, outline_px=_quad(corners))
    if package.variant is None:
        return package
    size = best_variant(
        package.family, package.lead_count, aspect_of(corners), read=package.variant
    )
    if isinstance(size, NotFound):
        return replace(package, leads=(), px_per_mm=None, variant=None)
    return sized_as(package, size)


def _quad(corners: npt.NDArray[np.float64]) -> Quad:
    a, b, c, d = to_points(corners)
    return a, b, c, d
