"""Wide tabs, as a SOT-223 has one: their joint is not read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.packages import Variant
    from vision.results import Joint

NOT_READ = (
    "a wide tab, whose joint is not read; see under magnification that solder shows "
    "along its edges"
)


def doubt_tabs(joints: Sequence[Joint], variant: Variant) -> tuple[Joint, ...]:
    """Say of tabs that they are not read, whatever the network took them for.

    Parameters
    ----------
    joints : sequence of Joint
    variant : Variant
        The package's size.

    Returns
    -------
    tuple of Joint
        Leads wider than the distance of two leads ``unsure``.
    """
    tabs = {
        number
        for number, width in enumerate(variant.widths_mm, 1)
        if width[1] > variant.pitch_mm
    }
    return tuple(
        replace(joint, state="unsure", findings=(NOT_READ,))
        if joint.lead in tabs
        else joint
        for joint in joints
    )
