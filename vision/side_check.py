"""The check ``side`` of a pair: what photos of rows of feet add to the photo after."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from vision.decide import decide
from vision.fillets import perhaps_under_body
from vision.joint_sums import sum_joints
from vision.joints import LIFTED_DOUBT
from vision.packages import SIDE_LEADS, lead_rows
from vision.results import (
    Finding,
    Joint,
    NotFound,
    SideSeen,
    SideView,
    worst_state,
)
from vision.shared_size import leadless_share
from vision.side_view import read_side
from vision.tables import variant_named

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from vision.packages import Variant
    from vision.results import LeadRow, PairReport, Photo, SideFoot

NO_SIZE = "the size of the chip is not known, so its feet cannot be measured"
TWICE = "the same photo was given twice, so it is not known which row it shows"


def read_row(photo: Photo, leads: LeadRow | None, variant: Variant | None) -> SideSeen:
    """Measure the row of feet in a side photo.

    Parameters
    ----------
    photo : Photo
        Upright photo of one row.
    leads : (int, int) or None
        First and last lead of the row, if a person named it.
    variant : Variant or None
        The package; None where it is not known.

    Returns
    -------
    SideSeen
        Without ``leads`` where they are no row of the package, or where the photo
        shows another number of feet; ``note`` then says so.
    """
    if variant is None:
        return SideSeen(photo=photo, leads=leads, view=NotFound(reason=NO_SIZE))
    view = read_side(photo.pixels, variant)
    rows = lead_rows(variant)
    note = ""
    if leads is not None and leads not in rows:
        known = ", ".join(f"{first} to {last}" for first, last in rows)
        note = f"leads {leads[0]} to {leads[1]} are no row of this chip; rows: {known}"
    elif leads is not None and view and len(view.feet) != leads[1] - leads[0] + 1:
        note = (
            f"{len(view.feet)} feet were read, which are not leads {leads[0]} to "
            f"{leads[1]}"
        )
    return SideSeen(photo=photo, leads=None if note else leads, view=view, note=note)


def with_side(
    report: PairReport, photos: Sequence[tuple[Photo, LeadRow | None]]
) -> PairReport:
    """Add to a pair what photos from the side show, and decide anew.

    Parameters
    ----------
    report : PairReport
        The pair as judged from above.
    photos : sequence of (Photo, (int, int) or None)
        Photos of rows of feet after reflow, with first and last lead where a person
        named the row; one that is given twice alike counts once.

    Returns
    -------
    PairReport
        With the check ``side`` where a row could be read: ``fault`` for a foot above
        the limit, ``unsure`` for one that stands out within it.  A row that cannot be
        read adds nothing and takes nothing away.

    Notes
    -----
    A level row takes away a lead's doubt of being lifted only where a person named the
    row, pin 1 is known, from which a person counts as well, every photo of the row that
    could be read is level, and the feet that hold it, at least three and more than
    half, look sound from above: a row that stands high as a whole is level too.
    """
    if not photos:
        return report
    variant = _size_of(report)
    rows = {(photo.sha256, leads): photo for photo, leads in photos}
    times = Counter(sha256 for sha256, _ in rows)
    seen = []
    for (_, leads), photo in rows.items():
        row = read_row(photo, leads, variant)
        if times[photo.sha256] > 1:
            row = replace(row, leads=None, note=TWICE)
        seen.append(row)
    return judge_side(report, tuple(seen))


def judge_side(report: PairReport, seen: tuple[SideSeen, ...]) -> PairReport:
    """Count rows that were read into a pair; see ``with_side``.

    Parameters
    ----------
    report : PairReport
    seen : tuple of SideSeen

    Returns
    -------
    PairReport
    """
    finding = _summed(seen)
    if finding is None:
        return replace(report, side=seen)
    checks = report.checks | {"side": finding}
    joints = report.joints
    if report.is_numbered:
        joints = _lifted(joints, seen)
        if report.orientation.state != "unsure":
            joints = _cleared(joints, seen)
    if joints != report.joints:
        checks["joints"] = _summed_joints(report, joints)
    decision, reasons = decide(checks)
    return replace(
        report,
        side=seen,
        joints=joints,
        checks=checks,
        decision=decision,
        reasons=reasons,
    )


def _summed_joints(report: PairReport, joints: tuple[Joint, ...]) -> Finding:
    before, after = report.before_package, report.after_package
    share = leadless_share(before, after) if before and after else 0.0
    size = _size_of(report)
    rows = lead_rows(size) if size else ()
    return perhaps_under_body(sum_joints(joints, rows), share)


def _size_of(report: PairReport) -> Variant | None:
    """Size of the chip that is meant, where only the photo before shows it, too."""
    before = report.before
    found = [report.after_package, report.before_package]
    if before.meant.state == "ok":
        found += before.packages[:1]
    sizes = (variant_named(p.family, p.variant) for p in found if p is not None)
    return next((size for size in sizes if size is not None), None)


def _read(seen: Sequence[SideSeen]) -> Iterator[tuple[SideSeen, SideView]]:
    for row in seen:
        if not isinstance(row.view, NotFound):
            yield row, row.view


def _summed(seen: tuple[SideSeen, ...]) -> Finding | None:
    """Sum up the rows that were read: the worst state with its feet; None for none."""
    rows = list(_read(seen))
    if not rows:
        return None
    feet = [(row, view, foot) for row, view in rows for foot in view.feet]
    state = worst_state(foot.state for _, _, foot in feet)
    if state != "ok":
        worst = [seen_foot for seen_foot in feet if seen_foot[2].state == state]
        stands = (_stands(*seen_foot, among=seen) for seen_foot in worst)
        said = dict.fromkeys(reason for _, view in rows for reason in view.reasons)
        return Finding(state=state, reasons=(*stands, *said))
    reasons = tuple(
        f"{_named(row, seen)}: {len(view.feet)} feet within {view.limit_mm:.2f} mm of "
        "one line"
        for row, view in rows
    )
    return Finding(state="ok", reasons=reasons)


def _stands(
    row: SideSeen, view: SideView, foot: SideFoot, *, among: tuple[SideSeen, ...]
) -> str:
    lead = row.lead(foot)
    who = f"lead {lead}"
    if lead is None:
        who = f"{_named(row, among)}, foot {foot.from_left} from the left"
    said = f"{who} {_height(foot, view)}"
    return said if foot.state == "fault" else f"{said}: cannot tell; look at that foot"


def _height(foot: SideFoot, view: SideView) -> str:
    return (
        f"stands {foot.height_mm:+.2f} ± {foot.u_mm:.2f} mm off its row, limit "
        f"{view.limit_mm:.2f} mm"
    )


def _named(row: SideSeen, among: tuple[SideSeen, ...]) -> str:
    if row.leads is not None:
        return f"leads {row.leads[0]} to {row.leads[1]}"
    place = next(k for k, other in enumerate(among, 1) if other is row)
    return "side photo" if len(among) == 1 else f"side photo {place}"


def _lifted(joints: tuple[Joint, ...], seen: tuple[SideSeen, ...]) -> tuple[Joint, ...]:
    """Give the fault of a lifted foot to the joint of its lead."""
    said = {
        row.lead(foot): f"{_height(foot, view)}, from the side"
        for row, view in _read(seen)
        for foot in view.feet
        if foot.state == "fault" and row.leads is not None
    }
    return tuple(
        Joint(
            lead=joint.lead,
            state="fault",
            findings=(
                *(joint.findings if joint.state == "fault" else ()),
                said[joint.lead],
            ),
        )
        if joint.lead in said
        else joint
        for joint in joints
    )


def _cleared(
    joints: tuple[Joint, ...], seen: tuple[SideSeen, ...]
) -> tuple[Joint, ...]:
    """Take away a lead's doubt of being lifted where its row is known to be level."""
    heights: dict[int | None, SideFoot] = {}
    for leads in {row.leads for row, _ in _read(seen) if row.leads is not None}:
        rows = [(row, view) for row, view in _read(seen) if row.leads == leads]
        own = range(leads[0], leads[1] + 1)
        sound = [j for j in joints if j.lead in own and j.state == "ok"]
        is_held = len(sound) >= max(SIDE_LEADS, len(own) // 2 + 1)
        if is_held and all(view.state == "ok" for _, view in rows):
            row, view = rows[0]
            heights |= {row.lead(foot): foot for foot in view.feet}
    return tuple(
        Joint(lead=joint.lead, state="ok", findings=(_level(heights[joint.lead]),))
        if joint.state == "unsure"
        and joint.findings == (LIFTED_DOUBT,)
        and joint.lead in heights
        else joint
        for joint in joints
    )


def _level(foot: SideFoot) -> str:
    return (
        f"in doubt from above; level with its row from the side "
        f"({foot.height_mm:+.2f} ± {foot.u_mm:.2f} mm)"
    )
