"""The scale of one photo at its chip, from whatever the photo offers.

Best first: a printed tag on the board, the pitch of the chip's own feet, the outline of
its body, a ruler that the user marked.  Two that disagree are said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision.geometry import mean_sides, order_ccw, side_lengths
from vision.results import Finding, NotFound
from vision.scale import (
    Scale,
    choose_scale,
    scale_as_given,
    scale_from_outline,
    scale_from_ruler,
    scale_from_tag,
)
from vision.tables import variant_named
from vision.tags import find_tags, scale_at, what_it_shows

if TYPE_CHECKING:
    from vision.lead_motion import LeadMotion
    from vision.results import Package, Photo, Point
    from vision.tags import Tag

    Ruler = tuple[Point, Point, float]

SEEK_PX_PER_MM, FIT_PX_PER_MM = 12.0, 40.0
"""A tag of 10 mm is looked for at 120 px a side and fitted at 400."""
CHIP_MM = 5.0
"""A chip of unknown size, for the first look only."""
OUTLINE_SD_FRAC = 0.014
"""Of a side: four corners of 2 % of it, two a side."""
UNNAMED_SD_FRAC = 0.02
"""Of a scale by the body of a chip whose size is not named."""
NEARNESS, NEARNESS_SD = 0.008, 0.005
"""The outline stands 0.8 mm above the board, the camera 60 to 200 mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleAids:
    """What lies or was marked in a photo: tags, and a ruler's two ticks (px) and mm."""

    tags: tuple[Tag, ...] = ()
    ruler: Ruler | None = None


def tags_near(photo: Photo, package: Package) -> tuple[Tag, ...]:
    """Find the printed tags of a photo, at a size that its chip suggests.

    Parameters
    ----------
    photo : Photo
        Upright photo.
    package : Package
        The chip; its size in the photo says how large a tag would be.

    Returns
    -------
    tuple of Tag
        In photo px, largest first.
    """
    sides = side_lengths(package.outline_px)
    rough = package.px_per_mm or float(sides.max()) / CHIP_MM
    if not find_tags(_shrunk(photo, SEEK_PX_PER_MM / rough)[0]):
        return ()
    gray, step = _shrunk(photo, FIT_PX_PER_MM / rough)
    return tuple(_enlarged(tag, step) for tag in find_tags(gray))


def scale_of(
    aids: ScaleAids, package: Package, leads: LeadMotion | NotFound
) -> tuple[Scale | None, Finding]:
    """Choose the scale of a photo at its chip.

    Parameters
    ----------
    aids : ScaleAids
        Tags and ruler of the photo.
    package : Package
        The chip, with scale and size by its outline where its kind is known.
    leads : LeadMotion or NotFound
        Its feet, which give the pitch.

    Returns
    -------
    (Scale or None, Finding)
        ``unsure`` where two disagree or there is none.
    """
    found: list[Scale] = []
    x, y = np.asarray(package.outline_px).mean(axis=0)
    if aids.tags:
        px_per_mm, sd_frac = scale_at(aids.tags[0], (float(x), float(y)))
        found.append(scale_from_tag(px_per_mm, fit_sd_frac=sd_frac))
    if package.px_per_mm is not None:
        if leads and leads.pitch is not None:
            longer, sd_frac = leads.pitch
            found.append(scale_as_given(package.px_per_mm * longer, sd_frac=sd_frac))
        outline = _by_outline(package)
        if outline is not None:
            found.append(outline)
    if aids.ruler is not None:
        found.append(scale_from_ruler(*aids.ruler))
    return choose_scale(found)


def shown_otherwise(tags: tuple[Tag, ...], stage: str) -> str:
    """Say where a photo's tag contradicts what the photo is given as.

    Parameters
    ----------
    tags : tuple of Tag
        Of the photo.
    stage : str
        "before" or "after".

    Returns
    -------
    str
        A sentence, empty where nothing contradicts.
    """
    if not tags:
        return ""
    said = what_it_shows(tags)
    if isinstance(said, NotFound):
        return said.reason
    role, shown = said
    if shown == stage:
        return ""
    return (
        f"its tag says {role}, {shown}, but it was given as the photo {stage}: check "
        "that the photos are not swapped and that the right card lay beside the chip"
    )


def _by_outline(package: Package) -> Scale | None:
    """Scale by the body's sides against the table of its size."""
    variant = variant_named(package.family, package.variant)
    if package.px_per_mm is None:
        return None
    if variant is None:
        return scale_as_given(
            package.px_per_mm, sd_frac=UNNAMED_SD_FRAC, source="outline"
        )
    sides = sorted(float(s) for s in mean_sides(order_ccw(package.outline_px)))
    table = sorted([variant.body_x_mm, variant.body_y_mm], key=lambda size: size[1])
    return scale_from_outline(
        (sides[0], sides[1]),
        (table[0], table[1]),
        side_sd_px=OUTLINE_SD_FRAC * sides[1],
        nearness_frac=NEARNESS,
        nearness_sd_frac=NEARNESS_SD,
    )


def _shrunk(photo: Photo, factor: float) -> tuple[np.ndarray, float]:
    """Grey picture no larger than asked, and photo pixels a pixel of it."""
    factor = min(factor, 1.0)
    size = (
        max(1, round(photo.width_px * factor)),
        max(1, round(photo.height_px * factor)),
    )
    skip = max(1, int(0.5 / factor))  # twice as fine as asked is enough to start from
    rough = photo.pixels[::skip, ::skip]
    small = cv2.resize(rough, size, interpolation=cv2.INTER_AREA)
    gray = np.asarray(cv2.cvtColor(small, cv2.COLOR_BGR2GRAY))
    return gray, photo.width_px / size[0]


def _enlarged(tag: Tag, step: float) -> Tag:
    """Carry a tag found in a shrunk picture to the photo."""
    half = (step - 1) / 2
    grow = np.array([[step, 0, half], [0, step, half], [0, 0, 1.0]])
    a, b, c, d = ((x * step + half, y * step + half) for x, y in tag.corners_px)
    return type(tag)(
        role=tag.role,
        stage=tag.stage,
        corners_px=(a, b, c, d),
        corner_sd_px=tag.corner_sd_px * step,
        tag_to_image=grow @ tag.tag_to_image,
    )
