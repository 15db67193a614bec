"""Reports built by hand for the tests of words, JSON, commands and pictures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from vision.results import (
    Alignment,
    Bridge,
    Cue,
    Finding,
    Joint,
    Lead,
    NotFound,
    Orientation,
    Overhang,
    Package,
    PairReport,
    Photo,
    PhotoReport,
    Pin1,
    Registration,
)

SQUARE = ((100.0, 300.0), (300.0, 300.0), (300.0, 100.0), (100.0, 100.0))
NOT_JUDGED = Finding(state="unsure", reasons=("lands: not judged by this version",))


def photo(name="memory.jpg", width=400, height=400, value=90):
    pixels = np.full((height, width, 3), value, np.uint8)
    return Photo(
        path=Path(name),
        sha256=f"{value:064d}",
        width_px=width,
        height_px=height,
        pixels=pixels,
    )


def leads(count=8, low=100.0, high=300.0, reach=40.0):
    half = count // 2
    step = (high - low) / half
    found = []
    for k in range(half):
        x = low + step * (k + 0.5)
        found.append(
            Lead(number=k + 1, toe_px=(x, high + reach), heel_px=(x, high), width_px=9)
        )
    for k in range(half):
        x = high - step * (k + 0.5)
        found.append(
            Lead(
                number=half + k + 1,
                toe_px=(x, low - reach),
                heel_px=(x, low),
                width_px=9,
            )
        )
    return tuple(found)


def sure(confidence=0.997):
    return Pin1(
        state="ok",
        confidence=confidence,
        evidence=(
            Cue(kind="silkscreen", at_px=(90.0, 340.0), weight=1.2),
            Cue(kind="dimple", at_px=(130.0, 270.0), weight=2.1),
            Cue(kind="text-direction", at_px=(200.0, 200.0), weight=-0.4),
        ),
    )


def unsure():
    return Pin1(
        state="unsure",
        confidence=0.55,
        reasons=("no dimple to be seen; light from one side would show it",),
    )


def package(pin1=None, **changes):
    base = Package(
        outline_px=SQUARE,
        confidence=0.98,
        family="SOIC",
        family_confidence=0.95,
        lead_count=8,
        pin1=pin1 or sure(),
        px_per_mm=41.2,
        leads=leads(),
        joints=tuple(Joint(lead=number, state="ok") for number in range(1, 9)),
    )
    return replace(base, **changes)


def photo_report(*packages, quality=None, shown=None):
    return PhotoReport(
        photo=shown or photo(),
        quality=quality or Finding(state="ok"),
        packages=packages,
    )


def pair_report(**changes):
    before = photo_report(package(), shown=photo("before.jpg", value=80))
    after = photo_report(package(), shown=photo("after.jpg", value=120))
    base = PairReport(
        before=before,
        after=after,
        before_package=before.packages[0],
        after_package=after.packages[0],
        registration=Registration(
            before_to_after=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
            inliers=412,
            residual_px=0.8,
        ),
        orientation=Orientation(state="ok", turn_deg=0, confidence=0.999),
        alignment=Alignment(
            state="ok", dx_mm=0.12, dy_mm=-0.05, skew_deg=0.3, u_mm=0.03, u_deg=0.2
        ),
        checks={"lands": NOT_JUDGED},
        decision="check-by-hand",
    )
    return replace(base, **changes)


def turned():
    return pair_report(
        orientation=Orientation(state="fault", turn_deg=180, confidence=0.9996),
        checks={"orientation": Finding(state="fault"), "lands": NOT_JUDGED},
        decision="stop",
    )


def not_registered():
    return pair_report(
        registration=NotFound(reason="too little of the board is in both photos"),
        orientation=Orientation(
            state="unsure", turn_deg=None, confidence=0.0, reasons=("not laid over",)
        ),
        alignment=Alignment(state="unsure", reasons=("not laid over",)),
        decision="retake",
    )


def soldered():
    """Give a pair in which every list of the contract has an entry."""
    return pair_report(
        overhang=(
            Overhang(
                lead=1,
                side_overhang_frac=0.12,
                u_frac=0.06,
                limit_frac=0.5,
                state="ok",
            ),
        ),
        bridges=(Bridge(between=(3, 4), confidence=0.97, at_px=(240.0, 330.0)),),
        joints=(Joint(lead=1, state="ok"),),
        decision="stop",
    )
