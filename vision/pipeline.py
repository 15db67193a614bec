"""The order of the steps and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from vision.by_hand import ByHand, apply_by_hand
from vision.by_name import size_both
from vision.changed import overlooked_packages, turned_packages
from vision.compare import compare_packages
from vision.decide import complete, decide, worst_of
from vision.fillets import perhaps_under_body
from vision.find_packages import find_packages, read_package
from vision.joint_pair import compare_joints
from vision.joints import with_joints
from vision.lands_check import check_lands
from vision.lead_findings import worst_finding
from vision.lead_rows import moved_leads
from vision.limits import shop_limits
from vision.load import load_photo
from vision.match import match_packages
from vision.meant import choose_meant, meant_first
from vision.numbering import number_alike
from vision.pair_quality import quality_at, quality_of, worse_quality
from vision.photo_scale import ScaleAids, shown_otherwise, tags_near
from vision.residue import find_residue
from vision.results import (
    Alignment,
    Finding,
    NotFound,
    Orientation,
    Outline,
    Package,
    PairReport,
    PhotoReport,
)
from vision.same_shot import refuse_same_shot
from vision.shared_size import leadless_share, size_like
from vision.side_check import with_side
from vision.spare import begin
from vision.uncertainty import budget_table

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from vision.limits import ShopLimits
    from vision.packages import Variant
    from vision.photo_scale import Ruler
    from vision.results import LeadRow, Photo, Point, Quad, Registration

    Match = tuple[Package, Package, Registration]

NOT_FOUND = (
    "packages: none found; one needed. Take the photo closer, with the whole chip and "
    "its leads in the frame."
)


def look(
    path: str | Path, *, by_hand: ByHand | None = None, reads_joints: bool = True
) -> PhotoReport:
    """Find and judge every package in a photo.

    Parameters
    ----------
    path : str or Path
        The photo.
    by_hand : ByHand or None
        What a person set right; the rest is read anew on top of it.
    reads_joints : bool
        Whether to judge the joints; a comparison reads them beside the other photo.

    Returns
    -------
    PhotoReport
        The package that is meant first, then the others, best first.

    Raises
    ------
    PhotoError
        The file cannot be used as a photo.
    ModelError
        A network file is missing or altered.
    """
    photo = load_photo(path)
    found = find_packages(photo)
    by_hand = by_hand or ByHand()
    report = PhotoReport(
        photo=photo,
        quality=Finding(state="unsure", reasons=(NOT_FOUND,)),
        packages=found.packages,
        unread_px=found.unread_px,
    )
    if found.packages and not by_hand.points_at_chip:
        report = meant_first(report)
    packages = apply_by_hand(photo, report.packages, by_hand)
    if not packages:
        return report
    quality = begin(quality_of, photo, packages[0])
    if reads_joints:
        packages = with_joints(photo.pixels, packages)
    return replace(report, packages=packages, quality=quality())


def compare(
    before_path: str | Path,
    after_path: str | Path,
    *,
    by_hand: tuple[ByHand, ByHand] = (ByHand(), ByHand()),
    lands_path: str | Path | None = None,
    side_paths: Sequence[tuple[str | Path, LeadRow | None]] = (),
    at_px: Point | None = None,
    ruler: Ruler | None = None,
    named: Sequence[Variant] = (),
    limits: ShopLimits | None = None,
) -> PairReport:
    """Compare a chip after reflow with the same place before.

    Parameters
    ----------
    before_path, after_path : str or Path
        The photos.
    by_hand : (ByHand, ByHand)
        What a person set right in the one photo and in the other.
    lands_path : str, Path or None
        Photo of the bare lands, chip off, against which each lead is measured.
    side_paths : sequence of (str or Path, (int, int) or None)
        Photos of rows of feet from the side, with first and last lead where a person
        named the row.
    at_px : (float, float) or None
        A place on the chip that is meant, px of the before photo; without it the chip
        in the middle of the photo is meant.
    ruler : (Point, Point, float) or None
        Two ticks marked in the before photo, px, and their distance, mm.
    named : sequence of Variant
        What the package is, where a person says so (``packages_named``).
    limits : ShopLimits or None
        What the shop judges by; ``shop_limits()`` where none is given.

    Returns
    -------
    PairReport
        Every check; those that this version does not make are ``unsure``.

    Raises
    ------
    PhotoError
        A file cannot be used as a photo.
    ModelError
        A network file is missing or altered.
    """
    after = begin(look, after_path, by_hand=by_hand[1], reads_joints=False)
    return compare_looks(
        look(before_path, by_hand=by_hand[0], reads_joints=False),
        after(),
        chosen=(by_hand[0].points_at_chip, by_hand[1].points_at_chip),
        lands_photo=None if lands_path is None else load_photo(lands_path),
        side_photos=[(load_photo(path), leads) for path, leads in side_paths],
        at_px=at_px,
        ruler=ruler,
        named=named,
        limits=limits,
    )


def compare_looks(
    before: PhotoReport,
    after: PhotoReport,
    *,
    chosen: tuple[bool, bool] = (False, False),
    lands_photo: Photo | None = None,
    side_photos: Sequence[tuple[Photo, LeadRow | None]] = (),
    at_px: Point | None = None,
    ruler: Ruler | None = None,
    named: Sequence[Variant] = (),
    limits: ShopLimits | None = None,
) -> PairReport:
    """Compare two photos that were looked at already.

    Parameters
    ----------
    before, after : PhotoReport
        What ``look`` gave; their photos hold pixels.
    chosen : (bool, bool)
        Whether a person chose the first package of ``before`` and that of ``after``;
        else a chip in the middle of the photo is meant, and what is at its place.
    lands_photo : Photo or None
        The bare lands; without them the lands are taken where the chip sat before.
    side_photos : sequence of (Photo, (int, int) or None)
        Rows of feet from the side, as for ``compare``.
    at_px, ruler, named, limits : optional
        As for ``compare``.

    Returns
    -------
    PairReport
        As for ``compare``.

    Raises
    ------
    PhotoError
        Both are the same photo, or one is a copy of the other.
    """
    refuse_same_shot(before.photo, after.photo)
    matches = _match(before, after, chosen=chosen, at_px=at_px)
    if isinstance(matches, NotFound):
        return with_side(_unmatched(before, after, matches), side_photos)
    asked = _Asked(lands_photo, ruler, named, limits or shop_limits())
    reports = [_judge((before, after), match, asked) for match in matches]
    return with_side(worst_of(reports), side_photos)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a person gave with a pair, and the limits it is judged by."""

    lands_photo: Photo | None
    ruler: Ruler | None
    named: Sequence[Variant]
    limits: ShopLimits


def _judge(
    looks: tuple[PhotoReport, PhotoReport], match: Match, asked: _Asked
) -> PairReport:
    """Judge one chip of a pair in every way."""
    before, after = looks
    before_package, after_package, doubt = size_both(*match, asked.named)
    registration = match[2]
    tags_after = begin(tags_near, after.photo, after_package)
    tags = tags_near(before.photo, before_package)
    result = compare_packages(
        before.photo,
        before_package,
        after.photo,
        after_package,
        registration,
        limits=asked.limits,
        aids=ScaleAids(tags=tags, ruler=asked.ruler),
    )
    stages = (
        shown_otherwise(tags, "before"),
        shown_otherwise(tags_after(), "after"),
    )
    if result.has_same_leads and after_package.variant != before_package.variant:
        after_package = size_like(before_package, after_package, registration)
    beside, numbered = number_alike(
        before_package, after_package, registration, result.orientation.turn_deg
    )
    residue_found = begin(
        find_residue,
        before.photo,
        before_package,
        after.photo,
        after_package,
        registration,
    )
    seen = compare_joints(
        before.photo,
        before_package,
        after.photo,
        numbered,
        registration,
    )
    lands = check_lands(
        beside,
        after.photo,
        numbered,
        result.alignment,
        asked.lands_photo,
        asked.limits,
    )
    checks = complete(
        result.checks
        | {
            "package": worst_finding((result.checks["package"], doubt)),
            "lands": lands.finding,
            "quality": worse_quality(
                quality_at(before, before_package),
                quality_at(after, after_package),
                stages,
            ),
            "joints": perhaps_under_body(
                seen.joints_check, leadless_share(before_package, after_package)
            ),
            "bridges": seen.bridges_check,
        }
    )
    decision, reasons = decide(checks)
    residue = residue_found()
    return PairReport(
        before=before,
        after=after,
        before_package=before_package,
        after_package=replace(numbered, leads=moved_leads(numbered.leads, seen.moves)),
        registration=registration,
        orientation=result.orientation,
        alignment=result.alignment,
        overhang=lands.overhang,
        bridges=seen.bridges,
        joints=seen.joints,
        checks=checks,
        decision=decision,
        reasons=reasons,
        budgets=tuple(map(budget_table, (*result.budgets, *lands.budgets))),
        notes=(residue.sentence,) if residue and residue.sentence else (),
        limits=asked.limits.name,
    )


def _match(
    before: PhotoReport,
    after: PhotoReport,
    *,
    chosen: tuple[bool, bool],
    at_px: Point | None,
) -> list[Match] | NotFound:
    """Find what may be meant in both photos, and how the boards lie over each other.

    Where nobody pointed at a chip, those that are turned are those that were worked on.
    """
    there = after.packages[:1] if chosen[1] else after.packages

    def read_after(corners: Quad) -> Package | None:
        return None if chosen[1] else _read_at(after.photo, corners)

    def match(package: Package) -> Match | NotFound:
        return match_packages(before.photo, package, after.photo, there, read_after)

    if chosen[0] and before.packages:
        return _all_found([match(before.packages[0])])
    meant = choose_meant(before, at_px)
    if at_px is not None or not before.packages:
        return meant if isinstance(meant, NotFound) else _all_found(map(match, meant))
    start = before.packages[0] if isinstance(meant, NotFound) else meant[0]
    first = match(start)
    if isinstance(first, NotFound):
        return meant if isinstance(meant, NotFound) else first
    is_alone = not isinstance(meant, NotFound) and len(meant) == 1
    others = [p for p in before.packages if not (is_alone and p is start)]
    others += overlooked_packages(
        before.packages, after.packages, first[2], partial(_read_at, before.photo)
    )
    turned = turned_packages(
        before.photo, others, after.photo, after.packages, first[2]
    )
    if turned:
        return _all_found(map(match, turned))
    if isinstance(meant, NotFound):
        return meant
    return _all_found([first, *map(match, meant[1:])])


def _read_at(photo: Photo, corners: Quad) -> Package | None:
    return read_package(photo, Outline(corners_px=corners, score=0.0))


def _all_found(matches: Iterable[Match | NotFound]) -> list[Match] | NotFound:
    found = []
    for match in matches:
        if isinstance(match, NotFound):
            return match
        found.append(match)
    return found


def _unmatched(
    before: PhotoReport, after: PhotoReport, missing: NotFound
) -> PairReport:
    checks = complete(
        {
            "quality": worse_quality(before.quality, after.quality),
            "registration": Finding(state="unsure", reasons=(missing.reason,)),
        }
    )
    decision, reasons = decide(checks)
    return PairReport(
        before=before,
        after=after,
        before_package=None,
        after_package=None,
        registration=missing,
        orientation=Orientation(
            state="unsure", turn_deg=None, confidence=0.0, reasons=(missing.reason,)
        ),
        alignment=Alignment(state="unsure", reasons=(missing.reason,)),
        checks=checks,
        decision=decision,
        reasons=reasons,
    )
