"""The leads of one chip, before and after, cut out one by one and laid upright.

Everything lies in the chip's frame: origin in the middle of the body, axes along its
sides, millimetres, x right and y down as the before photo shows them.  The after photo
is laid over it through the board's registration, so a land keeps its place and what
moves is the chip, or stands above the board.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import apply_homography, order_ccw, zoom_of
from vision.patches import cut
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from vision.patches import Patch
    from vision.results import Lead, Package, Photo, Registration

    FloatArray = npt.NDArray[np.float64]
    FloatImage = npt.NDArray[np.float32]

SAMPLE_PX_PER_MM = 40.0
"""Leads are laid out at this scale, or the photo's own where that is less."""
MIN_WIDTH_PX = 4.0
"""Across a lead; below, its two edges are one (five are common practice)."""
MIN_REACH_MM = 0.35
"""From the body to the toe; less is no gull-wing lead."""
MOST_LEADS = 64
ROOM_MM = 1.3
"""Photo kept beyond the toes: how far a lead is looked for, and its land's end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One lead by its drawing: where its toe is, which way it points, how long it is.

    ``outward`` is one of the four directions of the frame; ``reach_mm`` from the body
    to the toe.
    """

    number: int
    toe_mm: FloatArray = field(compare=False, repr=False)
    outward: FloatArray = field(compare=False, repr=False)
    reach_mm: float
    width_mm: float

    @property
    def across(self) -> FloatArray:
        """Unit vector that lies to the right when the lead points down."""
        return np.array([self.outward[1], -self.outward[0]])


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadFrame:
    """Both photos of the chip with the maps from its frame, and its leads.

    ``to_before`` and ``to_after`` carry millimetres to pixels of the two pieces;
    ``px_per_mm`` is the scale at which leads are laid out.
    """

    before: Patch = field(compare=False, repr=False)
    after: Patch = field(compare=False, repr=False)
    to_before: FloatArray = field(compare=False, repr=False)
    to_after: FloatArray = field(compare=False, repr=False)
    sites: tuple[Site, ...]
    px_per_mm: float


def frame_leads(
    before_photo: Photo,
    before: Package,
    after_photo: Photo,
    registration: Registration,
) -> LeadFrame | NotFound:
    """Lay the leads of a chip out, before and after.

    Parameters
    ----------
    before_photo : Photo
        Upright photo.
    before : Package
        With outline, scale and leads.
    after_photo : Photo
        Upright photo.
    registration : Registration
        The board, before to after.

    Returns
    -------
    LeadFrame or NotFound
        NotFound without a scale, without leads that reach out of the body, or where
        they are too small in the photo.
    """
    scale = before.px_per_mm
    if scale is None or len(before.leads) < 2:
        return NotFound(reason="the package's size is not known")
    to_photo, half = _chip_frame(before, scale)
    to_mm = np.asarray(np.linalg.inv(to_photo), dtype=np.float64)
    sites = _sites(before.leads, to_mm, half, scale)
    if len(sites) < 2:
        return NotFound(reason="no leads reach out of the body")
    board = np.asarray(registration.before_to_after)
    whole = board @ to_photo
    scale_after = zoom_of(whole, (0.0, 0.0), 0.1)
    px_per_mm = min(SAMPLE_PX_PER_MM, scale, scale_after)
    least = min(site.width_mm for site in sites) * px_per_mm
    if least < MIN_WIDTH_PX:
        return NotFound(
            reason=f"{least:.1f} px across a lead; {MIN_WIDTH_PX:.0f} px are needed. "
            "Move the camera closer"
        )
    reach = max(float(np.abs(site.toe_mm).max()) for site in sites) + ROOM_MM
    first = cut(before_photo, to_photo[:2, 2], 1.1 * reach * scale, px_per_mm / scale)
    middle = apply_homography(whole, [[0.0, 0.0]])[0]
    second = cut(
        after_photo, middle, 1.5 * reach * scale_after, px_per_mm / scale_after
    )
    if not first.gray.size or not second.gray.size:
        return NotFound(reason="the chip lies at the edge of the photo")
    return LeadFrame(
        before=first,
        after=second,
        to_before=np.linalg.inv(first.to_photo) @ to_photo,
        to_after=np.linalg.inv(second.to_photo) @ whole,
        sites=sites,
        px_per_mm=px_per_mm,
    )


def cut_leads(
    piece: Patch,
    mm_to_piece: FloatArray,
    sites: Sequence[Site],
    px_per_mm: float,
    *,
    rows_mm: Sequence[tuple[float, float]],
    half_mm: float,
) -> list[FloatImage]:
    """Cut every lead out, upright: rows outward, columns across.

    Parameters
    ----------
    piece : Patch
        The photo's piece.
    mm_to_piece : ndarray of shape (3, 3)
        From the frame in which the sites are given to the piece.
    sites : sequence of Site
        The leads.
    px_per_mm : float
        Scale of the result.
    rows_mm : sequence of (float, float)
        For each lead from where to where along it, from its toe, outwards.
    half_mm : float
        How far to either side of the middle line.

    Returns
    -------
    list of ndarray, float32
        The middle of the first and of the last pixel lie on the given places.
    """
    found = []
    cols = 2 * round(half_mm * px_per_mm) + 1
    for site, (low, high) in zip(sites, rows_mm, strict=True):
        rows = round((high - low) * px_per_mm) + 1
        corner = site.toe_mm + low * site.outward
        corner = corner - site.across * (cols - 1) / 2 / px_per_mm
        steps = [site.across / px_per_mm, site.outward / px_per_mm]
        places = np.array([corner, corner + steps[0], corner + steps[1]])
        at = apply_homography(mm_to_piece, places)
        matrix = np.column_stack([at[1] - at[0], at[2] - at[0], at[0]])
        found.append(
            np.asarray(
                cv2.warpAffine(
                    piece.gray,
                    matrix,
                    (cols, rows),
                    flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                    borderMode=cv2.BORDER_REPLICATE,
                ),
                np.float32,
            )
        )
    return found


def in_frame(site: Site, own: FloatArray) -> FloatArray:
    """Turn a map over (outward, across) steps into one over (y, x) steps.

    Parameters
    ----------
    site : Site
        The lead.
    own : ndarray of shape (n, n)
        Value by step outward (rows) and across (columns), zero in the middle.

    Returns
    -------
    ndarray of shape (n, n)
        Value by step down (rows) and to the right (columns).
    """
    x, y = site.outward
    if y > 0.5:
        return own
    if y < -0.5:
        return own[::-1, ::-1]
    return own.T[::-1, :] if x > 0 else own.T[:, ::-1]


def _chip_frame(before: Package, scale: float) -> tuple[FloatArray, FloatArray]:
    """Affine map from the chip's frame to the before photo, and half the body, mm."""
    quad = order_ccw(before.outline_px)
    right = (quad[3] - quad[0] + quad[2] - quad[1]) / 2
    down = (quad[1] - quad[0] + quad[2] - quad[3]) / 2
    sides = [float(np.linalg.norm(right)), float(np.linalg.norm(down))]
    half: FloatArray = np.array(sides, dtype=np.float64) / (2 * scale)
    matrix = np.eye(3)
    matrix[:2, 0], matrix[:2, 1] = right / (2 * half[0]), down / (2 * half[1])
    matrix[:2, 2] = quad.mean(axis=0)
    return matrix, half


def _sites(
    leads: Sequence[Lead], to_mm: FloatArray, half: FloatArray, scale: float
) -> tuple[Site, ...]:
    sites = []
    step = max(1, -(-len(leads) // MOST_LEADS))
    for lead in leads[::step]:
        toe, heel = apply_homography(to_mm, [lead.toe_px, lead.heel_px])
        run = toe - heel
        axis = int(np.argmax(np.abs(run)))
        outward = np.zeros(2)
        outward[axis] = np.sign(run[axis])
        reach = float(abs(toe[axis]) - half[axis])
        if outward[axis] * toe[axis] > 0 and reach >= MIN_REACH_MM:
            sites.append(
                Site(
                    number=lead.number,
                    toe_mm=toe,
                    outward=outward,
                    reach_mm=reach,
                    width_mm=lead.width_px / scale,
                )
            )
    return tuple(sites)
