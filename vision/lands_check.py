"""The check ``lands`` of a pair, and the look at bare lands alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from vision.bare_lands import BareLands, read_bare_lands
from vision.geometry import apply_homography, body_corners_mm
from vision.load import load_photo
from vision.on_lands import seat_as_before, seat_on_bare_lands
from vision.register import register
from vision.results import Finding, NotFound, worst_state
from vision.tables import variant_named, variants_of

if TYPE_CHECKING:
    from pathlib import Path

    from vision.limits import ShopLimits
    from vision.on_lands import Seated
    from vision.packages import Variant
    from vision.results import (
        Alignment,
        Overhang,
        Package,
        Photo,
        Quad,
    )
    from vision.uncertainty import Budget

_READ: dict[tuple[str, str], BareLands | NotFound] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class LandsCheck:
    """Overhang of every lead, the finding, and the budgets behind it."""

    overhang: tuple[Overhang, ...]
    finding: Finding
    budgets: tuple[Budget, ...]


def look_at_lands(
    path: str | Path, variants: tuple[Variant, ...]
) -> tuple[Photo, BareLands | NotFound]:
    """Find and check the bare lands in a photo.

    Parameters
    ----------
    path : str or Path
        Photo of the board, chip off.
    variants : tuple of Variant
        Packages whose lands it may show.

    Returns
    -------
    (Photo, BareLands or NotFound)

    Raises
    ------
    PhotoError
        The file cannot be used as a photo.
    """
    photo = load_photo(path)
    return photo, read_bare_lands(photo, variants)


def check_lands(
    before: Package,
    after_photo: Photo,
    after: Package,
    alignment: Alignment,
    lands_photo: Photo | None,
    limits: ShopLimits,
) -> LandsCheck:
    """Judge every lead against its land.

    Parameters
    ----------
    before : Package
        The chip before.
    after_photo : Photo
        Upright photo.
    after : Package
        The chip after.
    alignment : Alignment
        How the chip moved; used where there is no photo of the bare lands.
    lands_photo : Photo or None
        The bare lands.
    limits : ShopLimits
        What the shop judges by.

    Returns
    -------
    LandsCheck
        ``unsure`` where leads or lands could not be measured.
    """
    variant = variant_named(before.family, before.variant)
    if variant is None:
        return _cannot("the package's size is not known, so its leads cannot be placed")
    if lands_photo is None:
        return _summed(seat_as_before(before, variant, alignment, limits), None)
    lands = _lands_of(lands_photo, variant)
    if isinstance(lands, NotFound):
        return _cannot(f"bare-lands photo: {lands.reason}")
    registration = register(
        lands_photo, lands_outline(lands), after_photo, after.outline_px
    )
    if isinstance(registration, NotFound):
        lost = f"bare-lands photo against after photo: {registration.reason}"
        return _summed(NotFound(reason=lost), lands)
    return _summed(
        seat_on_bare_lands(after_photo, after, variant, lands, registration, limits),
        lands,
    )


def lands_outline(lands: BareLands) -> Quad:
    """Where the body would lie in the photo of its bare lands.

    Parameters
    ----------
    lands : BareLands
        The lands as found.

    Returns
    -------
    Quad
        Photo px.
    """
    size = lands.variant.body_x_mm[1], lands.variant.body_y_mm[1]
    corners = apply_homography(lands.to_photo, body_corners_mm(*size))
    a, b, c, d = ((float(x), float(y)) for x, y in corners)
    return a, b, c, d


def _lands_of(photo: Photo, variant: Variant) -> BareLands | NotFound:
    """Read the lands as the chip's own, and as those of its wider or narrower kin."""
    key = photo.sha256, variant.name
    lands = _READ.get(key)
    if lands is None:
        lands = _read_lands(photo, variant)
        _READ.clear()  # one board at a time; its lands are compared again and again
        _READ[key] = lands
    return lands


def _read_lands(photo: Photo, variant: Variant) -> BareLands | NotFound:
    kin = [
        v
        for v in variants_of(variant.family, variant.lead_count)
        if v.pitch_mm == variant.pitch_mm
    ]
    own = read_bare_lands(photo, [variant])
    if isinstance(own, NotFound):
        return read_bare_lands(photo, kin)
    return own


def _summed(seated: Seated | NotFound, lands: BareLands | None) -> LandsCheck:
    """Sum up leads on their lands and the lands themselves: the worst of both."""
    check = (
        _cannot(seated.reason)
        if isinstance(seated, NotFound)
        else LandsCheck(
            overhang=seated.overhang, finding=seated.finding, budgets=seated.budgets
        )
    )
    bare = Finding(state="ok") if lands is None else lands.report.finding
    if bare.state == "ok":
        return check
    state = worst_state((check.finding.state, bare.state))
    reasons = (*_bad(check.finding), *bare.reasons)
    return replace(check, finding=Finding(state=state, reasons=reasons))


def _bad(finding: Finding) -> tuple[str, ...]:
    return () if finding.state == "ok" else finding.reasons


def _cannot(reason: str) -> LandsCheck:
    return LandsCheck(
        overhang=(), finding=Finding(state="unsure", reasons=(reason,)), budgets=()
    )
