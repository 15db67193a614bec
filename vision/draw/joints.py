"""Marks on the leads whose joints are faulty or could not be judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vision.draw.canvas import AMBER, INK, PAPER, Canvas, Rgb, Text, state_sign
from vision.draw.labels import tag_place
from vision.fillets import SHOWED_BEFORE, UNDER_BODY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.draw.view import View
    from vision.results import Bridge, Joint, Lead

SIGN_PX = 15.0
TEXT_PX = 28
MOST_WORDS = 6
WORDS = (
    ("neighbour", "bridged"),
    ("clear of", "lifted"),
    ("off its row", "lifted"),
    ("bent", "bent"),
    ("little", "little solder"),
    ("round back", "much solder"),
    ("stand high", "high row"),
    ("showed beside", "solder gone"),
)


def draw_joints(
    canvas: Canvas,
    view: View,
    joints: Sequence[Joint],
    leads: Sequence[Lead],
    bridges: Sequence[Bridge] = (),
) -> None:
    """Put the sign of its state, and a word, on every lead that is not sound.

    Parameters
    ----------
    canvas : Canvas
    view : View
    joints : sequence of Joint
    leads : sequence of Lead
        Where the leads lie in the photo, by number.
    bridges : sequence of Bridge, optional
        Leads of a sure one are named by its own tag and get no second one.

    Notes
    -----
    Where more than a few leads could not be judged only their signs are drawn: the
    sentence under the picture says why.  Joints that lie under the body get none:
    nothing is to be seen at their places, except where solder showed before.
    """
    places = {lead.number: lead for lead in leads}
    sure = (bridge for bridge in bridges if bridge.state == "fault")
    told = {n for bridge in sure for n in bridge.between}
    marked = [
        j
        for j in joints
        if j.state != "ok"
        and j.lead in places
        and j.lead not in told
        and (UNDER_BODY not in j.findings or SHOWED_BEFORE in j.findings)
    ]
    is_wordy = len(marked) <= MOST_WORDS
    for joint in sorted(marked, key=lambda j: j.state == "unsure"):
        lead = places[joint.lead]
        heel, toe = (np.array(view.at(p)) for p in (lead.heel_px, lead.toe_px))
        middle = (float((heel + toe)[0] / 2), float((heel + toe)[1] / 2))
        if is_wordy:
            _tag(canvas, joint, middle, tuple(toe - heel + 1e-3))
        state_sign(canvas, joint.state, middle, SIGN_PX)


def short_words(joint: Joint) -> str:
    """Say in a word or two what is the matter with a joint.

    Parameters
    ----------
    joint : Joint

    Returns
    -------
    str
        With a ? where it is not sure.
    """
    said = "; ".join(joint.findings)
    word = next((w for key, w in WORDS if key in said), "cannot tell")
    mark = "?" if joint.state == "unsure" and word != "cannot tell" else ""
    return f"{joint.lead}: {word}{mark}"


def _tag(
    canvas: Canvas, joint: Joint, near: tuple[float, float], outward: tuple[float, ...]
) -> None:
    words = short_words(joint)
    fill: Rgb = AMBER if joint.state == "fault" else PAPER
    place = tag_place(
        words,
        near,
        outward,
        size=TEXT_PX,
        taken=[text.box for text in canvas.texts],
        within=canvas.size,
    )
    canvas.line([near, place], fill, width=2)
    canvas.write(Text(words, place, TEXT_PX, INK, plate=fill))
