"""Judge a pair: same package, same way round, same place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from vision.alignment import judge_alignment
from vision.alignment_budget import shift_at_limit_mm
from vision.chipview import likenesses, view_chip
from vision.lead_motion import measure_leads
from vision.lead_patches import frame_leads
from vision.limits import Bound, Status, shop_limits
from vision.orientation import SURE_FAMILY, allowed_turns, judge_turn
from vision.overlap import is_cut_off
from vision.photo_scale import ScaleAids, scale_of
from vision.results import Alignment, Finding, NotFound, Orientation
from vision.spare import begin
from vision.tables import variant_named, variants_of
from vision.witnesses import CLEAR_GAP, gather_witnesses, mm_per_chip_px

if TYPE_CHECKING:
    from vision.chipview import ChipView
    from vision.lead_motion import LeadMotion
    from vision.limits import ShopLimits
    from vision.results import Package, Photo, Registration
    from vision.uncertainty import Budget

SIZE_UNSURE_FRAC = 0.09
SIZE_FAULT_FRAC = 0.15
"""Three and five standard deviations of a side of two outlines, of the long side."""
CUT_OFF = (
    "the edge of a photo cuts the package off: its size cannot be told. Take it again "
    "with the whole package in the frame."
)
SAME_LEADS = "same size as before, and its leads at the same places"
SAME_LEADS_LIKENESS = 0.6
"""All leads found again this well have the same pitch and width as before."""
SAME_TOP = 0.8
"""Correlation of a body's top with itself, seen anew: 0.84 to 0.99 on made pairs and
sample photos; turned by half it is 0.35 at the most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What comparing one pair of packages gave; the pieces of a ``PairReport``.

    ``has_same_leads``: every lead of before was found again at its place of the chip.
    """

    orientation: Orientation
    alignment: Alignment
    checks: dict[str, Finding]
    has_same_leads: bool = False
    budgets: tuple[Budget, ...] = ()


def compare_packages(  # noqa: PLR0913 - two chips on two photos, and what was given
    before_photo: Photo,
    before: Package,
    after_photo: Photo,
    after: Package,
    registration: Registration | NotFound,
    *,
    limits: ShopLimits | None = None,
    aids: ScaleAids | None = None,
) -> Comparison:
    """Compare a chip after with the same place before.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before : Package
        The chip; the start of its outline counts only where pin 1 is ``ok``.
    after_photo : Photo
        Upright photo.
    after : Package
        The same in the after photo.
    registration : Registration or NotFound
        The board, before to after, from ``vision.register``.
    limits : ShopLimits or None
        What the shop judges by; ``shop_limits()`` where none is given.
    aids : ScaleAids or None
        Printed tags and a marked ruler in the before photo.

    Returns
    -------
    Comparison
        Orientation, alignment and the checks ``registration``, ``package``,
        ``orientation`` and ``alignment``.
    """
    if isinstance(registration, NotFound):
        return _not_registered(registration, before, after)
    view = view_chip(
        before_photo, before.outline_px, after_photo, after.outline_px, registration
    )
    leads_found = begin(
        _follow_leads, before_photo, before, after_photo, registration, view
    )
    seen = likenesses(view, allowed_turns(before, view))
    orientation = judge_turn(before, after, registration, seen)
    leads = leads_found()
    witnesses = gather_witnesses(view, before, seen, orientation, leads)
    scale = scale_of(aids or ScaleAids(), before, leads)
    if before.px_per_mm is None and scale[0] is not None:
        # Heights and leads are not known, but lengths on the board now are.
        before = replace(before, px_per_mm=scale[0].px_per_mm)
        witnesses = gather_witnesses(view, before, seen, orientation, leads)
    alignment, budgets = judge_alignment(
        view,
        before,
        registration,
        witnesses,
        _shift_limit(before, limits or shop_limits()),
        scale,
    )
    return Comparison(
        orientation=orientation,
        alignment=alignment,
        checks={
            "registration": Finding(
                state="ok",
                reasons=(
                    f"boards laid over one another at {registration.inliers} places, "
                    f"{registration.residual_px:.1f} px apart",
                ),
            ),
            "package": same_package(
                before,
                after,
                view.size_ratio,
                tuple(view.body_px / view.body_px.max()),
                leads=leads,
                is_same_top=seen[0].correlation >= SAME_TOP,
                is_whole=_is_whole(before_photo, before)
                and _is_whole(after_photo, after),
            ),
            "orientation": Finding(
                state=orientation.state, reasons=orientation.reasons
            ),
            "alignment": Finding(state=alignment.state, reasons=alignment.reasons),
        },
        has_same_leads=_same_leads(leads),
        budgets=budgets if scale[0] is None else (*budgets, scale[0].budget),
    )


def _is_whole(photo: Photo, package: Package) -> bool:
    return not is_cut_off(package.outline_px, photo.width_px, photo.height_px)


def _shift_limit(package: Package, limits: ShopLimits) -> Bound:
    """Give the shift at which side overhang reaches its limit on every land.

    That of a SOIC where the size is not known.  Where the shop has no limit for such
    leads it is half the land's width.
    """
    named = variant_named(package.family, package.variant)
    variant = named or variants_of("SOIC", 8)[0]
    side = limits.find("side_overhang", variant.lead_style)
    land_mm = variant.land.width_mm
    limit_mm = land_mm / 2
    status: Status = "derived"
    if not isinstance(side, NotFound):
        limit_mm = shift_at_limit_mm(land_mm, variant.lead_width_mm[1], side)
        status = "memory" if side.status == "memory" else "derived"
    return Bound(
        value=limit_mm,
        side="max",
        unit="mm",
        source="derived from the limit of the side overhang and open land patterns",
        status=status,
    )


def _follow_leads(
    before_photo: Photo,
    before: Package,
    after_photo: Photo,
    registration: Registration,
    view: ChipView,
) -> LeadMotion | NotFound:
    frame = frame_leads(before_photo, before, after_photo, registration)
    if isinstance(frame, NotFound):
        return frame
    guess_mm = view.outline_shift_px * mm_per_chip_px(view, before)
    return measure_leads(frame, guess_mm, view.outline_skew_deg)


def same_package(  # noqa: PLR0913 - two chips, and all that tells them apart
    before: Package,
    after: Package,
    size_ratio: tuple[float, float],
    sides_frac: tuple[float, float] = (1.0, 1.0),
    *,
    leads: LeadMotion | NotFound | None = None,
    is_same_top: bool = False,
    is_whole: bool = True,
) -> Finding:
    """Say whether the package after is of the same family and size as before.

    Parameters
    ----------
    before, after : Package
        Family, its confidence and the number of leads.
    size_ratio : tuple of float
        Body after over body before, along both sides, on the board.
    sides_frac : tuple of float
        Both sides as shares of the longer one: a short side is the less sure.
    leads : LeadMotion, NotFound or None
        How the leads of before were found again after.
    is_same_top : bool
        Whether the body's top with its marking looks as before: what the two were read
        as is then a doubt, not a fault.
    is_whole : bool
        Whether neither photo cuts the body off at its edge.

    Returns
    -------
    Finding
        ``fault`` for another family or size, ``unsure`` where they may differ.
    """
    off = max(abs(r - 1) * side for r, side in zip(size_ratio, sides_frac, strict=True))
    seen = (
        f"body {100 * (size_ratio[0] - 1):+.0f} % by {100 * (size_ratio[1] - 1):+.0f} %"
    )
    if off > SIZE_UNSURE_FRAC and not is_whole:
        return Finding(state="unsure", reasons=(CUT_OFF,))
    if off > SIZE_FAULT_FRAC:
        return Finding(
            state="fault", reasons=(f"another size of package than before: {seen}",)
        )
    doubt = _named_otherwise(
        before, after, may_be_misread=is_same_top and off <= SIZE_UNSURE_FRAC
    )
    if doubt.state == "fault":
        return doubt
    if doubt.state == "unsure":
        is_same = off <= SIZE_UNSURE_FRAC and _same_leads(leads)
        said = (f"{SAME_LEADS}: {seen}",)
        return Finding(state="ok", reasons=said) if is_same else doubt
    if off > SIZE_UNSURE_FRAC:
        return Finding(
            state="unsure",
            reasons=(
                f"the size may have changed: {seen}. Take both photos from straight "
                "above.",
            ),
        )
    return Finding(state="ok", reasons=(f"same package as before: {seen}",))


def _named_otherwise(
    before: Package, after: Package, *, may_be_misread: bool
) -> Finding:
    """Hold the families and lead counts of both photos against one another."""
    if before.family != after.family:
        said = f"{before.family} before, {after.family} after"
        sure = min(before.family_confidence, after.family_confidence) >= SURE_FAMILY
        is_known = "other" not in (before.family, after.family)
        if sure and is_known and not may_be_misread:
            return Finding(state="fault", reasons=(f"another package: {said}",))
        return Finding(
            state="unsure",
            reasons=(f"the package may have changed: {said}. Compare the two by eye.",),
        )
    if before.lead_count and after.lead_count and before.lead_count != after.lead_count:
        return Finding(
            state="unsure",
            reasons=(
                f"{before.lead_count} leads counted before, {after.lead_count} after. "
                "Count them by eye or take a photo from straight above.",
            ),
        )
    return Finding(state="ok")


def _same_leads(leads: LeadMotion | NotFound | None) -> bool:
    """Tell whether every lead of before was found again, shoulder and foot."""
    if not leads:
        return False
    return all(
        layer
        and layer.likeness >= SAME_LEADS_LIKENESS
        and layer.gap >= CLEAR_GAP
        and not layer.odd
        for layer in (leads.shoulder, leads.foot)
    )


def _not_registered(lost: NotFound, before: Package, after: Package) -> Comparison:
    reason = f"the two boards could not be laid over one another: {lost.reason}"
    unsure = Finding(state="unsure", reasons=(reason,))
    skipped = Finding(state="unsure", reasons=("not judged: no registration",))
    return Comparison(
        orientation=Orientation(
            state="unsure", turn_deg=None, confidence=0.0, reasons=skipped.reasons
        ),
        alignment=Alignment(state="unsure", reasons=skipped.reasons),
        checks={
            "registration": unsure,
            "package": skipped,
            "orientation": skipped,
            "alignment": skipped,
        },
    )
