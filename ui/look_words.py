"""Sentences about one photo: which chip, its pin 1, its joints, and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ui.joint_words import (
    UNNUMBERED,
    bridge_words,
    joint_groups,
    leads_words,
)
from ui.words import (
    BEFORE_REWORK,
    CHECK_PIN1,
    DO_NOT_POWER,
    RETAKE,
    STATE_WORDS,
    Answer,
    because,
    chip_words,
    percent,
    pin1_words,
    place_word,
    what_was_seen,
)
from vision.results import worst_state
from vision.tables import variant_named

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.results import Finding, Package, PhotoReport, State


LOOK_AT_FAULT = (
    "Look at what is called a fault, under magnification; no power before it is mended."
)


def look_answer(report: PhotoReport) -> Answer:
    """Put the answer of ``look`` for one photo into sentences.

    Parameters
    ----------
    report : PhotoReport

    Returns
    -------
    Answer
    """
    if not report.packages:
        return Answer(
            state="unsure",
            headline="No chip found in this photo.",
            details=report.quality.reasons,
            next_steps=(RETAKE,),
        )
    package = report.packages[0]
    headline, steps, more = _leading(report)
    state = look_state(report)
    return Answer(
        state=state,
        headline=headline,
        details=(
            chip_words(package),
            *_quality_lines(report.quality),
            *_fault_lines(package),
            *_unjudged_lines(package),
            *_bridged_lines(report.packages[1:], report),
            *more,
            *_others(report.packages[1:]),
        ),
        next_steps=(LOOK_AT_FAULT, *steps) if state == "fault" else steps,
        cautions=(BEFORE_REWORK, DO_NOT_POWER) if state == "fault" else (),
    )


def _leading(report: PhotoReport) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """Give headline, next steps, and what no longer leads where a doubt comes first."""
    package = report.packages[0]
    pin1 = pin1_words(package.pin1, package.outline_px)
    more: tuple[str, ...] = ()
    found = package.pin1.state == "ok"
    steps = (CHECK_PIN1,) if found else ((RETAKE,) if not package.pin1.reasons else ())
    headline = pin1
    if report.meant.state != "ok":
        more = (f"The one found best{where_words(package, report)}: {pin1}",)
        headline = f"Which chip is meant: cannot tell{because(report.meant.reasons)}"
        steps = (RETAKE,)
    if report.quality.state == "fault":
        more = (f"As far as it can be made out: {headline}", *more)
        headline, steps = _retake_words(report.quality), (RETAKE,)
    return headline, steps, more


def look_state(report: PhotoReport, *, counts_joints: bool = True) -> State:
    """Give the state of a whole photo: the worst of what was judged on its main chip.

    Parameters
    ----------
    report : PhotoReport
    counts_joints : bool
        Whether joints count that were not judged; faults always do.

    Returns
    -------
    str
        ``ok`` only when the photo is good enough, it is known which chip is meant and
        where its pin 1 is, its leads were read, and its joints were judged with nothing
        against them.
        That joints which cannot be seen from above were not is said, not counted.
    """
    if any(package.bridges for package in report.packages):
        return "fault"
    if not report.packages:
        return "unsure"
    main = report.packages[0]
    joints = ["unsure"] if not main.joints else [j.state for j in main.joints]
    if _hides_joints(main) or not counts_joints:
        joints = [state for state in joints if state == "fault"]
    state = worst_state((main.pin1.state, report.meant.state, *joints))
    is_doubtful = report.quality.state != "ok" or not has_leads(main)
    return "unsure" if state == "ok" and is_doubtful else state


def has_leads(package: Package) -> bool:
    """Tell whether the leads of a package were read, where it has any to be seen.

    Parameters
    ----------
    package : Package

    Returns
    -------
    bool
    """
    return bool(package.leads) or _hides_joints(package)


def _retake_words(quality: Finding) -> str:
    """Say what is wrong with a photo that cannot serve."""
    seen = "; ".join(map(what_was_seen, quality.reasons)) or "it is not good enough"
    return f"Take the photo again: {seen}"


def _quality_lines(quality: Finding) -> tuple[str, ...]:
    if quality.state == "ok":
        return ()
    return tuple(f"Photo: {reason}" for reason in quality.reasons) or (
        f"Photo: {STATE_WORDS[quality.state]}",
    )


def _fault_lines(package: Package) -> tuple[str, ...]:
    bridges = (
        f"{bridge_words(bridge).capitalize()}, sure to {percent(bridge.confidence)}"
        for bridge in package.bridges
    )
    joints = (
        f"{leads_words([joint.lead for joint in group]).capitalize()}: "
        f"{STATE_WORDS[group[0].state]}{because(group[0].findings)}"
        for group in joint_groups(package.joints)
    )
    lines = (*bridges, *joints)
    return lines if package.pin1.state == "ok" or not lines else (*lines, UNNUMBERED)


def _hides_joints(package: Package) -> bool:
    """Tell whether the joints of a package cannot be seen from above."""
    variant = variant_named(package.family, package.variant)
    return variant is not None and variant.lead_style != "gull_wing"


def _unjudged_lines(package: Package) -> tuple[str, ...]:
    if package.joints:
        return ()
    return (
        "Joints: not judged: the package's size is not sure, or there are too many "
        "chips in the photo. Come closer, or compare it with the photo before",
    )


def _bridged_lines(packages: Sequence[Package], report: PhotoReport) -> tuple[str, ...]:
    return tuple(
        f"Another chip{where_words(package, report)}: "
        f"{', '.join(map(bridge_words, package.bridges))}"
        for package in packages
        if package.bridges
    )


def where_words(package: Package, report: PhotoReport) -> str:
    """Say where in the photo a package lies.

    Parameters
    ----------
    package : Package
    report : PhotoReport
        Of the photo.

    Returns
    -------
    str
        `` at the upper right of the photo``; `` in its middle``.
    """
    xs, ys = zip(*package.outline_px, strict=True)
    across = place_word(sum(xs) / 4, (0.0, report.photo.width_px), "left", "right")
    height = place_word(sum(ys) / 4, (0.0, report.photo.height_px), "upper", "lower")
    side = " ".join(filter(None, (height, across)))
    return f" at the {side} of the photo" if side else " in the middle of the photo"


def _others(packages: Sequence[Package]) -> tuple[str, ...]:
    if not packages:
        return ()
    some = "1 more chip" if len(packages) == 1 else f"{len(packages)} more chips"
    return (f"{some} in this photo: --jsonl lists them, --draw shows them",)
