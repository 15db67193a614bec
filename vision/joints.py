"""Reads every joint of a package: bridged, lifted, bent, too little solder.

A network looks at each gap between neighbours (``strips.py``), alone or beside the
same place in the photo before; its beliefs become states here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np

from vision.balls import find_balls
from vision.fillets import UNDER_BODY, end_joints, ends_seen, outside_only, sum_ends
from vision.high_rows import STANDS_CLEAR, doubt_high_rows
from vision.joint_beliefs import CLASSES
from vision.joint_cuts import ALONE, AS_BEFORE, LEAST_SPACING_PX, PAIR, SQUARE
from vision.joint_sums import TO_NEIGHBOUR, sum_gaps, sum_joints
from vision.lead_rows import moved_leads, see_gaps
from vision.packages import lead_rows
from vision.results import Bridge, Finding, Joint
from vision.strips import gap_windows
from vision.tables import variant_named
from vision.tabs import doubt_tabs

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    import numpy.typing as npt

    from vision.joint_beliefs import GapBelief
    from vision.joint_cuts import Cuts
    from vision.lead_rows import GapsSeen
    from vision.results import Package, Point
    from vision.strips import GapWindow

    ByteImage = npt.NDArray[np.uint8]
    FloatArray = npt.NDArray[np.float64]

MOST_LEADS_BESIDE = 64
"""Leads of all other packages in a photo that are judged: about 0.2 s on two cores."""
FAULT_WORDS = {
    "lifted": STANDS_CLEAR,
    "bent": "foot bent out of the row",
    "little": "little or no solder",
    "much": "buried under a round back of solder",
}
FAULTS = ("lifted", "bent", "little")
"""Classes that stop a board; a round back of solder is only looked at by eye."""
UNSEEN = {
    "j_lead": UNDER_BODY,
    "through_hole": "its joints lie on the other side of the board; look at them there",
}
"""Why joints of other kinds of leads are not judged."""
LOW_ANGLE = "look along that row from a low angle, under magnification"
LIFTED_DOUBT = f"may be: {FAULT_WORDS['lifted']}; {LOW_ANGLE}"
"""What is said of a lead that may be lifted; a level row from the side settles it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JointsSeen:
    """Every joint and bridge of a package, and both checks summed up.

    ``moves`` tells where toes were made out that do not lie where they are drawn.
    """

    joints: tuple[Joint, ...]
    bridges: tuple[Bridge, ...]
    joints_check: Finding
    bridges_check: Finding
    moves: tuple[tuple[Point, Point], ...] = ()


def read_joints(
    pixels: ByteImage,
    package: Package,
    *,
    before: tuple[ByteImage, FloatArray] | None = None,
) -> JointsSeen:
    """Judge every joint of a package.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The upright photo, BGR.
    package : Package
        With its size and outline; numbers count from its pin 1.
    before : tuple of (ndarray, ndarray of shape (3, 3)), optional
        The photo before, and the homography from this photo to it: then what is
        new is judged, not what was there before.

    Returns
    -------
    JointsSeen
        ``unsure`` throughout where the size is not known or the photo too coarse.
        Where the joints lie under the body only solder beside it is seen: it can be a
        fault, and is never ``ok``.

    Raises
    ------
    ModelError
        The network file is missing or altered.

    Notes
    -----
    From above a foot lifted by less than its own thickness often looks like a seated
    one.  Figures: ``models/cards/joints.md``.
    """
    variant = variant_named(package.family, package.variant)
    if variant is None:
        return _unjudged(package, "the size of the package is not known")
    if variant.lead_style not in ("gull_wing", "no_lead"):
        return _unjudged(package, UNSEEN[variant.lead_style])
    windows = gap_windows(package.outline_px, variant)
    spacing = float(np.median([w.spacing_px for w in windows]))
    if spacing < LEAST_SPACING_PX:
        return _unjudged(
            package,
            f"{spacing:.1f} px between leads; {LEAST_SPACING_PX:.0f} px needed to see "
            "solder. Move the camera closer",
        )
    has_leads = variant.lead_style == "gull_wing"
    seen = see_gaps(pixels, windows, before, may_move=has_leads)
    if not has_leads:
        return _beside_body(seen)
    judged, rows = _judged(seen), lead_rows(variant)
    joints = doubt_high_rows(doubt_tabs(judged.joints, variant), rows)
    return replace(judged, joints=joints, joints_check=sum_joints(joints, rows))


def read_windows(
    pixels: ByteImage,
    windows: Sequence[GapWindow],
    *,
    before: tuple[ByteImage, FloatArray] | None = None,
) -> JointsSeen:
    """Judge windows that were placed already.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The photo in which they were placed.
    windows : sequence of GapWindow
        From ``strips.gap_windows``.
    before : tuple of (ndarray, ndarray of shape (3, 3)), optional
        As for ``read_joints``.

    Returns
    -------
    JointsSeen
        By the limits of one photo, or of a pair.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    return _judged(see_gaps(pixels, windows, before))


def _judged(seen: GapsSeen, *, has_balls: bool = True) -> JointsSeen:
    """Judge by the limits of one photo or of a pair."""
    pictures = seen.pictures
    cuts = ALONE if pictures.then is None else PAIR
    balls = find_balls(seen.windows, pictures) if has_balls else ()
    new = {w.first for w in compress(seen.windows, ~pictures.was_seen)}
    judged = judge(seen.beliefs, cuts, usual=seen.usual, balls=balls, alone=new)
    return replace(judged, moves=seen.moves)


def judge(
    beliefs: Sequence[GapBelief],
    cuts: Cuts,
    *,
    usual: Sequence[GapBelief] = (),
    balls: Sequence[GapWindow] = (),
    alone: Collection[int] = (),
) -> JointsSeen:
    """Turn beliefs into states, bridges and the sentences of both checks.

    Parameters
    ----------
    beliefs : sequence of GapBelief
        One a window.
    cuts : Cuts
        Where the states change.
    usual : sequence of GapBelief
        The same windows on the photo before, by itself: a lead that looked just as
        odd before it was soldered anew is not in doubt for that.  A gap that looked
        joined before and has not changed may be joined by design, or by a line that
        was drawn on the photo: it is a doubt, not a fault.
    balls : sequence of GapWindow
        Gaps in which a loose ball of solder may lie: a doubt, where there is no bridge.
    alone : collection of int
        First leads of the gaps that were judged without the photo before, and so by the
        limits of one photo.

    Returns
    -------
    JointsSeen
        A lead seen in two windows is judged by the one that shows it worse.
    """
    gaps = [b for b in beliefs if b.window.second is not None]
    joined = {b.window.first for b in usual if b.bridged >= ALONE.bridge_doubt} - {
        b.window.first for b in gaps if b.is_changed
    }

    def cuts_of(first: int) -> Cuts:
        return ALONE if first in alone else cuts

    lost = [b for b in gaps if b.square < SQUARE]
    solder = [
        b
        for b in gaps
        if b.square >= SQUARE and b.bridged >= cuts_of(b.window.first).bridge_doubt
    ]
    faults = [
        b
        for b in solder
        if b.bridged >= cuts_of(b.window.first).bridge_fault
        and b.window.first not in joined
    ]
    doubts = [b for b in solder if b not in faults]
    rolling = {w.first for w in balls} - {b.window.first for b in faults}
    balled = [b for b in gaps if b.window.first in rolling]
    changed = [b for b in gaps if b.is_changed and b not in (*faults, *doubts, *balled)]
    bridges = tuple(
        Bridge(
            between=(b.window.first, int(b.window.second or 0)),
            confidence=b.bridged,
            at_px=b.at_px,
            state="fault" if b in faults else "unsure",
        )
        for b in sorted([*faults, *doubts, *changed], key=lambda b: -b.bridged)
        if b.bridged >= cuts_of(b.window.first).bridge_named
    )
    flooded = {n for b in faults for n in (b.window.first, b.window.second)}
    before = {number: shares for number, (shares, _) in _by_lead(usual).items()}
    joints = tuple(
        _joint(
            number,
            _LeadBelief(shares, square, before.get(number)),
            cuts,
            is_bridged=number in flooded,
        )
        for number, (shares, square) in sorted(_by_lead(beliefs).items())
    )
    return JointsSeen(
        joints=joints,
        bridges=bridges,
        joints_check=sum_joints(joints),
        bridges_check=sum_gaps(faults, (doubts, balled, changed, lost), len(gaps)),
    )


def with_joints(pixels: ByteImage, packages: Sequence[Package]) -> tuple[Package, ...]:
    """Add joints and bridges to the packages found in a photo.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The upright photo, BGR.
    packages : sequence of Package
        The one that is meant first; it is always judged, the others as long as they
        have no more than ``MOST_LEADS_BESIDE`` leads together.

    Returns
    -------
    tuple of Package
        Unchanged where there are no leads or no time.

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    out, beside = [], 0
    for k, package in enumerate(packages):
        beside += len(package.leads) if k else 0
        if not package.leads or beside > MOST_LEADS_BESIDE:
            out.append(package)
            continue
        seen = read_joints(pixels, package)
        leads = moved_leads(package.leads, seen.moves)
        out.append(
            replace(package, leads=leads, joints=seen.joints, bridges=seen.bridges)
        )
    return tuple(out)


def _beside_body(seen: GapsSeen) -> JointsSeen:
    """Keep of what was read what can be said of joints under the body."""
    judged = _judged(seen, has_balls=False)
    then = seen.pictures.then
    showed = {} if then is None else ends_seen(seen.windows, then)
    shows = ends_seen(seen.windows, seen.pictures.now)
    joints = end_joints(judged.joints, shows, showed)
    return replace(
        judged,
        joints=joints,
        joints_check=sum_ends(joints),
        bridges_check=outside_only(judged.bridges_check),
    )


def _by_lead(
    beliefs: Sequence[GapBelief],
) -> dict[int, tuple[npt.NDArray[np.float64], float]]:
    """Class shares of every lead where it looks worse, and its best placement."""
    rows: dict[int, list[tuple[tuple[float, ...], float]]] = {}
    for b in beliefs:
        rows.setdefault(b.window.first, []).append((b.left, b.square))
        if b.window.second is not None:
            rows.setdefault(b.window.second, []).append((b.right, b.square))
    return {
        number: (np.array(min(s for s, _ in seen)), max(q for _, q in seen))
        for number, seen in rows.items()
    }


@dataclass(frozen=True, slots=True)
class _LeadBelief:
    """Class shares of one lead, how well it was made out, and its shares before."""

    shares: FloatArray
    square: float
    before: FloatArray | None


def _joint(number: int, seen: _LeadBelief, cuts: Cuts, *, is_bridged: bool) -> Joint:
    shares = seen.shares
    if is_bridged:
        return Joint(lead=number, state="fault", findings=(TO_NEIGHBOUR,))
    if seen.square < SQUARE:
        said = "the lead was not made out here"
        return Joint(lead=number, state="unsure", findings=(said,))
    faulty = float(shares[[CLASSES.index(name) for name in FAULTS]].sum())
    if shares[0] >= cuts.sound and faulty <= cuts.most_faulty:
        return Joint(lead=number, state="ok")
    index = 1 + int(np.argmax(shares[1:]))
    said = FAULT_WORDS[CLASSES[index]]
    if CLASSES[index] in FAULTS and faulty >= cuts.lead_fault:
        return Joint(lead=number, state="fault", findings=(said,))
    if seen.before is not None and (shares <= seen.before + AS_BEFORE)[1:].all():
        return Joint(lead=number, state="ok", findings=("looks as it did before",))
    said = f"may be: {said}; {LOW_ANGLE}"
    return Joint(lead=number, state="unsure", findings=(said,))


def _unjudged(package: Package, reason: str) -> JointsSeen:
    check = Finding(state="unsure", reasons=(reason,))
    joints = tuple(
        Joint(lead=lead.number, state="unsure", findings=(reason,))
        for lead in package.leads
    )
    return JointsSeen(
        joints=joints, bridges=(), joints_check=check, bridges_check=check
    )
