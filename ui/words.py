"""Every sentence shown that does not belong to a check.

Only here do signs become words: x to the right and y down are positive,
angles count counter-clockwise as seen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from vision.errors import VisionError
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from vision.results import (
        Alignment,
        Bridge,
        Finding,
        Orientation,
        Package,
        PairReport,
        PhotoReport,
        Pin1,
        Quad,
        State,
    )

STATE_WORDS: dict[str, str] = {
    "ok": "looks right",
    "fault": "fault",
    "unsure": "cannot tell",
}
DECISION_WORDS = {
    "no-fault-seen": "No fault seen",
    "stop": "Stop",
    "check-by-hand": "Check by hand",
    "retake": "Take the photo again",
}
DECISION_STATE: dict[str, State] = {
    "no-fault-seen": "ok",
    "stop": "fault",
    "check-by-hand": "unsure",
    "retake": "unsure",
}
CUE_WORDS = {
    "dimple": "dimple",
    "dot": "printed dot",
    "notch": "notch",
    "bevel": "bevelled edge",
    "bar": "bar",
    "text-direction": "direction of the marking",
    "silkscreen": "silkscreen",
    "shape": "shape of the package",
}
CHECK_WORDS = {
    "quality": "Photo",
    "package": "Chip against before",
    "registration": "Board found again",
    "orientation": "Way round",
    "alignment": "Place on the board",
    "overhang": "Leads on their lands",
    "lands": "Leads on their lands",
    "bridges": "Solder bridges",
    "joints": "Solder joints",
}
FAULT_WORDS = {"package": "not the chip that was there before"}
SHOWN_APART = ("orientation", "alignment", "registration")
QUARTERS = {90: "a quarter turn", 180: "half a turn", 270: "three quarters of a turn"}

CHECK_PIN1 = (
    "Hold the answer against the board's own mark or the drawing before you lift, "
    "solder or power anything."
)
RETAKE = (
    "Photograph the chip from straight above, sharp, filling a third of the frame; "
    "for a dimple let the light come low from one side, and keep the board's printed "
    "marks in the picture."
)
DO_NOT_POWER = (
    "Do not power the board. A chip the wrong way round can put the supply where "
    "ground belongs and lose what is stored in it."
)
BEFORE_REWORK = (
    "Take the supply and any battery off, wear a wrist strap, use fume extraction, and "
    "lift a chip only when all its solder is molten."
)
BEFORE_POWER = (
    "Before the first power-up check supply to ground with a meter, and start from a "
    "current-limited supply."
)
AID_ONLY = (
    "No fault seen is not proof that there is none: this tool sees only what the "
    "photos show."
)
NOT_MOVED = "not moved"
LOCATION_SPLIT = 1 / 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a person is told, in the order in which it is told."""

    state: State
    headline: str
    details: tuple[str, ...] = ()
    next_steps: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


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
    found = package.pin1.state == "ok"
    steps = (CHECK_PIN1,) if found else ((RETAKE,) if not package.pin1.reasons else ())
    return Answer(
        state=look_state(report),
        headline=pin1_words(package.pin1, package.outline_px),
        details=(
            chip_words(package),
            *_quality_lines(report.quality),
            *_fault_lines(package),
            *_others(report.packages[1:]),
        ),
        next_steps=steps,
        cautions=(BEFORE_REWORK, DO_NOT_POWER) if package.bridges else (),
    )


def look_state(report: PhotoReport) -> State:
    """Give the state of a whole photo: the worst of what was judged on its main chip.

    Parameters
    ----------
    report : PhotoReport

    Returns
    -------
    str
        ``ok`` only when the photo is good enough, a chip was found and its pin 1 is
        known, and nothing judged is against it.
    """
    if any(package.bridges for package in report.packages):
        return "fault"
    if not report.packages:
        return "unsure"
    main = report.packages[0]
    states = [main.pin1.state, *(joint.state for joint in main.joints)]
    if "fault" in states:
        return "fault"
    good_photo = report.quality.state == "ok"
    return "ok" if good_photo and all(state == "ok" for state in states) else "unsure"


def pair_answer(report: PairReport) -> Answer:
    """Put the answer of ``compare`` for one pair into sentences.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    Answer
    """
    state = DECISION_STATE[report.decision]
    turned = report.orientation.state == "fault"
    cautions = {
        "fault": (DO_NOT_POWER, BEFORE_REWORK) if turned else (BEFORE_REWORK,),
        "ok": (AID_ONLY, BEFORE_POWER),
        "unsure": (BEFORE_POWER,),
    }[state]
    return Answer(
        state=state,
        headline=f"{DECISION_WORDS[report.decision]}: {_pair_headline(report)}",
        details=(
            orientation_words(report.orientation),
            alignment_words(report.alignment),
            registration_words(report),
            *check_lines(report),
        ),
        next_steps=_pair_steps(report),
        cautions=cautions,
    )


def check_lines(report: PairReport) -> tuple[str, ...]:
    """Name every further check of a pair with its state and its reasons.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    tuple of str
        Turn and shift have lines of their own and are left out.
    """
    return tuple(
        f"{CHECK_WORDS.get(name, name.replace('_', ' ').capitalize())}: "
        f"{STATE_WORDS[finding.state]}{_because(_bare(finding.reasons, name))}"
        for name, finding in report.checks.items()
        if name not in SHOWN_APART
    )


def pin1_words(pin1: Pin1, outline_px: Quad) -> str:
    """Say which corner is pin 1, how sure that is and what shows it.

    Parameters
    ----------
    pin1 : Pin1
    outline_px : Quad

    Returns
    -------
    str
    """
    if pin1.state != "ok":
        return f"Pin 1: cannot tell{_because(pin1.reasons)}"
    cues = cue_words(pin1)
    return (
        f"Pin 1: {corner_words(outline_px, 0)}, sure to {percent(pin1.confidence)}"
        f"{': ' + ', '.join(cues) if cues else ''}"
    )


def cue_words(pin1: Pin1) -> tuple[str, ...]:
    """Name the cues that speak for the answer, strongest first, each once.

    Parameters
    ----------
    pin1 : Pin1

    Returns
    -------
    tuple of str
    """
    ranked = sorted(pin1.evidence, key=lambda cue: -cue.weight)
    names = [CUE_WORDS.get(cue.kind, cue.kind) for cue in ranked if cue.weight > 0]
    return tuple(dict.fromkeys(names))


def corner_words(outline_px: Quad, index: int) -> str:
    """Say where a corner of an outline lies in the picture.

    Parameters
    ----------
    outline_px : Quad
    index : int
        0 for the first corner.

    Returns
    -------
    str
        ``lower left corner`` or, for a chip standing on its tip, ``top corner``.
    """
    xs = [corner[0] for corner in outline_px]
    ys = [corner[1] for corner in outline_px]
    across = _place(xs[index], xs, "left", "right")
    height = _place(ys[index], ys, "upper", "lower")
    if across and height:
        return f"{height} {across} corner"
    alone = {"upper": "top", "lower": "bottom", "": "middle"}
    return f"{across or alone[height]} corner"


def chip_words(package: Package) -> str:
    """Say what kind of chip it is and at what scale it is seen.

    Parameters
    ----------
    package : Package

    Returns
    -------
    str
    """
    family = "kind not known" if package.family == "other" else package.family
    leads = (
        "number of leads not known"
        if package.lead_count is None
        else f"{package.lead_count} leads"
    )
    scale = (
        "no scale, so nothing can be measured in mm"
        if package.px_per_mm is None
        else f"{package.px_per_mm:.1f} px/mm"
    )
    return f"Chip: {family}, {leads}, {scale}"


def orientation_words(orientation: Orientation) -> str:
    """Say whether the chip is turned on its board.

    Parameters
    ----------
    orientation : Orientation

    Returns
    -------
    str
    """
    turn_deg = orientation.turn_deg
    if orientation.state == "unsure" or turn_deg is None:
        return f"Way round: cannot tell{_because(orientation.reasons)}"
    sure = f"sure to {percent(orientation.confidence)}"
    if turn_deg == 0:
        return f"Way round: same as before, {sure}"
    return f"Way round: {turn_words(turn_deg)}, {sure}"


def turn_words(turn_deg: int) -> str:
    """Say a turn in words.

    Parameters
    ----------
    turn_deg : int
        0, 90, 180 or 270, counter-clockwise.

    Returns
    -------
    str
    """
    if turn_deg == 0:
        return "not turned"
    sense = "" if turn_deg == 180 else " counter-clockwise"
    return f"turned by {turn_deg} degrees{sense} ({QUARTERS[turn_deg]})"


def alignment_words(alignment: Alignment) -> str:
    """Say how far the chip is moved and skewed, and how well that is known.

    Parameters
    ----------
    alignment : Alignment

    Returns
    -------
    str
    """
    if alignment.dx_mm is None or alignment.dy_mm is None:
        parts = [_because(alignment.reasons).lstrip(": ")] if alignment.reasons else []
        if alignment.skew_deg is not None:
            parts.append(skew_words(alignment.skew_deg, alignment.u_deg))
        return f"Place: cannot tell{_because(parts)}"
    parts = [shift_words(alignment.dx_mm, alignment.dy_mm, alignment.u_mm)]
    if alignment.skew_deg is not None:
        parts.append(skew_words(alignment.skew_deg, alignment.u_deg))
    lead_in = {
        "ok": "Place",
        "fault": "Place, too far off",
        "unsure": "Place, cannot be judged",
    }
    return f"{lead_in[alignment.state]}: {'; '.join(parts)}" + _because(
        alignment.reasons
    )


def shift_words(dx_mm: float, dy_mm: float, u_mm: float | None = None) -> str:
    """Say a shift in words, in the axes of the before photo.

    Parameters
    ----------
    dx_mm, dy_mm : float
        To the right and down are positive.
    u_mm : float, optional
        Expanded uncertainty (k = 2); a shift within it is said not to be told
        from none.

    Returns
    -------
    str
        ``0.12 mm to the right, 0.05 mm up``.
    """
    spread = "" if u_mm is None else f", give or take {u_mm:.2f} mm"
    if u_mm is not None and math.hypot(dx_mm, dy_mm) <= u_mm:
        return f"no shift beyond the {u_mm:.2f} mm these photos can tell"
    parts = []
    if abs(dx_mm) >= 0.005:
        parts.append(f"{abs(dx_mm):.2f} mm to the {'right' if dx_mm > 0 else 'left'}")
    if abs(dy_mm) >= 0.005:
        parts.append(f"{abs(dy_mm):.2f} mm {'down' if dy_mm > 0 else 'up'}")
    return (", ".join(parts) or NOT_MOVED) + spread


def skew_words(skew_deg: float, u_deg: float | None = None) -> str:
    """Say a skew in words.

    Parameters
    ----------
    skew_deg : float
        Counter-clockwise positive.
    u_deg : float, optional
        Expanded uncertainty (k = 2).

    Returns
    -------
    str
    """
    if u_deg is not None and abs(skew_deg) <= u_deg:
        return f"no skew beyond {u_deg:.1f} degrees"
    spread = "" if u_deg is None else f", give or take {u_deg:.1f}"
    if abs(skew_deg) < 0.05:
        return f"not skewed{spread}"
    sense = "counter-clockwise" if skew_deg > 0 else "clockwise"
    return f"skewed {abs(skew_deg):.1f} degrees {sense}{spread}"


def registration_words(report: PairReport) -> str:
    """Say how well the board of one photo was found again in the other.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    str
    """
    registration = report.registration
    if isinstance(registration, NotFound):
        return (
            "Board: the two photos could not be laid over each other: "
            f"{registration.reason}"
        )
    return (
        f"Board: laid over each other by {registration.inliers} points of the board, "
        f"{registration.residual_px:.1f} px apart"
    )


def percent(share: float) -> str:
    """Say a confidence without ever claiming certainty.

    Parameters
    ----------
    share : float
        0 to 1.

    Returns
    -------
    str
        ``99.7 %``; anything above is ``over 99.9 %``.
    """
    if share > 0.999:
        return "over 99.9 %"
    return f"{100 * share:.1f} %" if share >= 0.99 else f"{100 * share:.0f} %"


def names_fit(report: PhotoReport, pin_names: Mapping[int, str] | None) -> bool:
    """Tell whether pin names can be put on the main chip of a photo.

    Parameters
    ----------
    report : PhotoReport
    pin_names : mapping of int to str or None

    Returns
    -------
    bool
        True if pin 1 is known and there are as many leads as names.
    """
    if not pin_names or not report.packages:
        return False
    main = report.packages[0]
    return main.pin1.state == "ok" and main.lead_count == len(pin_names)


def pin_lines(
    report: PhotoReport, pin_names: Mapping[int, str], name: str
) -> tuple[str, ...]:
    """Say the pin names, or why they are not put on the chip.

    Parameters
    ----------
    report : PhotoReport
    pin_names : mapping of int to str
    name : str
        What the person called the pin-out.

    Returns
    -------
    tuple of str
    """
    if names_fit(report, pin_names):
        pins = ", ".join(f"{no} {pin}" for no, pin in sorted(pin_names.items()))
        return (f"Pins by {name}: {pins}",)
    if not report.packages or report.packages[0].pin1.state != "ok":
        return (f"Pins by {name}: not named, pin 1 is not known",)
    count = report.packages[0].lead_count
    return (
        f"Pins by {name}: not named; it has {len(pin_names)} pins and the chip "
        f"{'an unknown number of' if count is None else count} leads",
    )


def pair_faults(report: PairReport) -> tuple[str, ...]:
    """Name what is against a pair, apart from a turn.

    Parameters
    ----------
    report : PairReport

    Returns
    -------
    tuple of str
    """
    faults = []
    if report.alignment.state == "fault":
        faults.append("the chip is off its place")
    faults += [_bridge_words(bridge) for bridge in report.bridges]
    over = [row.lead for row in report.overhang if row.state == "fault"]
    if over:
        faults.append(f"{_leads(over)} off the land")
    bad = [joint.lead for joint in report.joints if joint.state == "fault"]
    if bad:
        faults.append(f"{_leads(bad)} badly soldered")
    told = {"orientation", "alignment", "bridges", "overhang", "lands", "joints"}
    faults += [
        FAULT_WORDS.get(name, CHECK_WORDS.get(name, name).lower())
        for name, finding in report.checks.items()
        if finding.state == "fault" and name not in told
    ]
    return tuple(faults)


def shift_tag(alignment: Alignment) -> str:
    """Give the few words beside the arrow of a shift.

    Parameters
    ----------
    alignment : Alignment

    Returns
    -------
    str
        Empty where there is no shift that can be told from none.
    """
    dx_mm, dy_mm, u_mm = alignment.dx_mm, alignment.dy_mm, alignment.u_mm
    if dx_mm is None or dy_mm is None:
        return ""
    if u_mm is not None and math.hypot(dx_mm, dy_mm) <= u_mm:
        return ""
    length_mm = math.hypot(dx_mm, dy_mm)
    return f"{length_mm:.2f} mm" if length_mm >= 0.005 else ""


def turn_tag(orientation: Orientation) -> str:
    """Give the few words beside the arrow of a turn.

    Parameters
    ----------
    orientation : Orientation

    Returns
    -------
    str
        Empty where the chip is not turned or it could not be told.
    """
    turn_deg = orientation.turn_deg
    if orientation.state == "unsure" or not turn_deg:
        return ""
    return f"turned {turn_deg} degrees"


def error_words(error: Exception) -> str:
    """Say what went wrong and what to do.

    Parameters
    ----------
    error : Exception

    Returns
    -------
    str
    """
    if isinstance(error, VisionError):
        return str(error)
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename or 'file'}: {error.strerror}"
    return (
        f"Something went wrong that we did not foresee ({type(error).__name__}: "
        f"{error}). Run it again with --debug before the command and report what it "
        "prints."
    )


def _place(value: float, values: Sequence[float], low: str, high: str) -> str:
    middle = (min(values) + max(values)) / 2
    half = (max(values) - min(values)) / 2 or 1.0
    share = (value - middle) / half
    if abs(share) < LOCATION_SPLIT:
        return ""
    return high if share > 0 else low


def _because(reasons: Iterable[str]) -> str:
    told = [reason.strip() for reason in reasons if reason.strip()]
    if not told:
        return ""
    *first, last = told
    stopped = [r if r.endswith((".", "!", "?")) else f"{r}." for r in first]
    return f": {' '.join([*stopped, last])}"


def _bare(reasons: Iterable[str], name: str) -> list[str]:
    """Take a check's own name off the front of its reasons."""
    return [reason.removeprefix(f"{name}: ") for reason in reasons]


def _quality_lines(quality: Finding) -> tuple[str, ...]:
    if quality.state == "ok":
        return ()
    return tuple(f"Photo: {reason}" for reason in quality.reasons) or (
        f"Photo: {STATE_WORDS[quality.state]}",
    )


def _fault_lines(package: Package) -> tuple[str, ...]:
    bridges = (
        f"{_bridge_words(bridge).capitalize()}, sure to {percent(bridge.confidence)}"
        for bridge in package.bridges
    )
    joints = (
        f"Lead {joint.lead}: {STATE_WORDS[joint.state]}{_because(joint.findings)}"
        for joint in package.joints
        if joint.state != "ok"
    )
    return (*bridges, *joints)


def _bridge_words(bridge: Bridge) -> str:
    return f"solder bridge between leads {bridge.between[0]} and {bridge.between[1]}"


def _leads(numbers: Sequence[int]) -> str:
    listed = ", ".join(str(number) for number in numbers)
    return f"lead {listed} is" if len(numbers) == 1 else f"leads {listed} are"


def _others(packages: Sequence[Package]) -> tuple[str, ...]:
    if not packages:
        return ()
    some = "1 more chip" if len(packages) == 1 else f"{len(packages)} more chips"
    return (f"{some} in this photo: --jsonl lists them, --draw shows them",)


def _pair_headline(report: PairReport) -> str:
    turn = report.orientation
    known = "whether the chip is turned could not be told"
    if turn.state == "fault" and turn.turn_deg is not None:
        known = f"the chip is {turn_words(turn.turn_deg)} on its board"
    elif turn.state == "ok":
        known = "the chip sits the same way round as before"
    faults = pair_faults(report)
    if not faults:
        return known
    if turn.state == "fault":
        return f"{known}; also {', '.join(faults)}"
    return f"{', '.join(faults)}; {known}"


def _pair_steps(report: PairReport) -> tuple[str, ...]:
    if report.decision == "retake":
        return (*report.reasons, RETAKE) if report.reasons else (RETAKE,)
    unjudged = [
        CHECK_WORDS.get(name, name).lower()
        for name, finding in report.checks.items()
        if finding.state == "unsure"
    ]
    if report.decision == "stop":
        return ("Have a second person look, then take the chip off and set it anew.",)
    if report.decision == "no-fault-seen":
        return ("Let a second person look before the board goes on.",)
    if unjudged:
        return (f"Look yourself, under magnification, at: {', '.join(unjudged)}.",)
    return ("Look at the chip yourself, under magnification.",)
