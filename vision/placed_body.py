"""The terminals under a leadless body, placed by its outline over the bare lands."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vision.board_view import lowered, outline_pose, view_board
from vision.drawn_feet import (
    LEAD_PLACE_SD_MM,
    SCALE_SD_FRAC,
    moved_strip,
    numbered,
    strips_at,
    terminals_of,
)
from vision.lands import strips_of
from vision.lead_motion import fit_rigid
from vision.overhang import Doubt
from vision.placed_feet import OUTLINE_SD_DEG, PlacedFeet
from vision.results import NotFound
from vision.tables import land_positions

if TYPE_CHECKING:
    from vision.bare_lands import BareLands
    from vision.packages import Variant
    from vision.results import Package, Photo, Registration

EDGE_HEIGHT_FRAC = 0.9
"""Height of a leadless body's outline, of its own: its sides stand upright."""


def place_body(
    photo: Photo,
    package: Package,
    variant: Variant,
    lands: BareLands,
    registration: Registration,
) -> PlacedFeet | NotFound:
    """Place the terminals of a leadless chip on its lands.

    Parameters
    ----------
    photo : Photo
        Upright photo with the chip.
    package : Package
        The chip; its outline says where its terminals lie.
    variant : Variant
        The chip's size.
    lands : BareLands
        The lands as seen bare.
    registration : Registration
        The board, bare-lands photo to this one.

    Returns
    -------
    PlacedFeet or NotFound
        NotFound for packages with leads, and where too few lands are known.
    """
    sites = terminals_of(variant)
    if isinstance(sites, NotFound):
        return sites
    board = view_board(photo, package, lands, registration)
    if isinstance(board, NotFound):
        return board
    pose, sd_mm = lowered(
        outline_pose(package, variant, board),
        board.view,
        variant,
        height_frac=EDGE_HEIGHT_FRAC,
    )
    still = np.zeros((len(sites), 2))
    turn_sd = math.radians(OUTLINE_SD_DEG)
    feet = tuple(
        replace(
            moved_strip(strip, pose),
            across_sd_mm=math.hypot(
                LEAD_PLACE_SD_MM, turn_sd * math.hypot(*strip.centre_mm)
            ),
            end_sd_mm=LEAD_PLACE_SD_MM,
            turn_sd_rad=turn_sd,
        )
        for strip in strips_at(sites, fit_rigid(sites, still), still, variant)
    )
    return PlacedFeet(
        feet=feet,
        lands=numbered(feet, lands.lands, strips_of(land_positions(lands.variant))),
        doubt=Doubt(
            registration_mm=board.registration_mm,
            scale_frac=SCALE_SD_FRAC,
            outline_mm=sd_mm,
        ),
    )
