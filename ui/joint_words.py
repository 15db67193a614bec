"""Words for leads, joints and bridges: said once; doubt told from certainty."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from vision.results import Bridge, Joint


UNNUMBERED = (
    "Pin 1 is not known, so these leads are counted from a corner that need not be it: "
    "go by their places in the picture."
)


def joint_groups(joints: Iterable[Joint]) -> tuple[tuple[Joint, ...], ...]:
    """Put joints of which the same is said together; sound ones are left out.

    Parameters
    ----------
    joints : iterable of Joint

    Returns
    -------
    tuple of tuple of Joint
        In the order of the first lead of each.
    """
    groups: dict[tuple[str, tuple[str, ...]], list[Joint]] = {}
    for joint in joints:
        if joint.state != "ok":
            groups.setdefault((joint.state, joint.findings), []).append(joint)
    return tuple(tuple(group) for group in groups.values())


def leads_words(leads: Sequence[int]) -> str:
    """List lead numbers, runs of three or more as from and to.

    Parameters
    ----------
    leads : sequence of int
        Rising.

    Returns
    -------
    str
        ``lead 3`` or ``leads 1 to 4, 7``.
    """
    runs: list[list[int]] = []
    for lead in leads:
        if runs and lead == runs[-1][-1] + 1:
            runs[-1].append(lead)
        else:
            runs.append([lead])
    parts = [
        f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run))
        for run in runs
    ]
    return f"{'lead' if len(leads) == 1 else 'leads'} {', '.join(parts)}"


def bridge_words(bridge: Bridge) -> str:
    """Name a solder bridge by its leads.

    Parameters
    ----------
    bridge : Bridge

    Returns
    -------
    str
    """
    kind = "solder bridge" if bridge.state == "fault" else "perhaps solder"
    return f"{kind} between leads {bridge.between[0]} and {bridge.between[1]}"
