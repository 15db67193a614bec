"""Whether a photo is good enough to be judged, and what to do if it is not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from vision import geometry
from vision.results import WORST_FIRST, Finding

if TYPE_CHECKING:
    import numpy.typing as npt

    from vision.results import State

    Picture = npt.NDArray[Any]
    Trouble = tuple[State, str]

WORK_SIDE_PX = 640
"""The region looked at is reduced to this; blur that matters survives it."""
MARGIN_FRAC = 0.30
"""The leads lie within this share of the body's size around the body."""

# Focus.  A lead, its neighbour and the gap between them must stay apart: at a blur of
# a quarter pitch the halves of neighbouring edges meet (2.35 sigma > half a pitch).
BLUR_FAULT_PITCH_FRAC, BLUR_UNSURE_PITCH_FRAC = 0.25, 0.15
BLUR_FAULT_BODY_FRAC, BLUR_UNSURE_BODY_FRAC = 0.04, 0.02
SMOOTHING_PX, EDGE_WINDOW_PX, EDGE_STEP_LEVELS = 1.0, 15, 30
SHARP_EDGE_PERCENTILE = 10.0
WIDE_BLUR_PX, MIN_WORK_SIDE_PX = 2.5, 120
MIN_EDGE_PIXELS = 40

# Glare: share of pixels at the end of the scale.  Plastic is dark, so a lit body
# hides its marks; solder always glints, so the surroundings may glint more.
SATURATED_LEVEL = 250
BODY_GLARE_UNSURE_FRAC, BODY_GLARE_FAULT_FRAC = 0.06, 0.25
LEAD_GLARE_UNSURE_FRAC, LEAD_GLARE_FAULT_FRAC = 0.30, 0.55

# Exposure, grey levels 0..255.
# Of a region round a chip the body is a good part; of a whole photo it may be little.
CHIP_PERCENTILE, DARKER_PERCENTILE = 25.0, 2.0
DARK_FAULT_LEVEL, DARK_UNSURE_LEVEL = 25, 45
LIGHT_FAULT_LEVEL, LIGHT_UNSURE_LEVEL = 235, 200

# Pixels across the narrowest lead: three, that is twelve a pitch, from where on bridges
# were measured to be seen (`models.joints.measure renders`); ten preferred to measure
# places.  Fewer are no fault of the photo as a whole: pin 1 may still show.  The
# narrowest lead of the usual outlines takes a quarter of the pitch (0.31 of 1.27 mm,
# 0.17 of 0.65 mm).
NARROW_LEAD_PITCH_FRAC = 0.25
LEAD_PX_NEEDED, LEAD_PX_PREFERRED = 3.0, 10.0

AREA = cv2.INTER_AREA


def assess_quality(
    pixels: Picture,
    outline_px: npt.ArrayLike | None = None,
    pitch_px: float | None = None,
) -> Finding:
    """Judge focus, glare, exposure and pixels per lead of a photo.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        The upright photo, BGR.
    outline_px : array_like of shape (4, 2) or None
        Corners of the body looked at, pixels; None judges the whole photo.
    pitch_px : float or None
        Distance of neighbouring leads, pixels; None if it is not known.

    Returns
    -------
    Finding
        ``fault`` if the photo cannot serve, ``unsure`` if a finding drawn from it may
        be wrong; one reason for each trouble, worst first.

    Notes
    -----
    Blur is the least width among the clear edges of the region: the local step over
    the local slope, corrected for our own smoothing.  Texture makes more edges but
    none sharper than the lens allows.  It cannot tell defocus from motion, and a
    region without a clear edge is judged ``unsure``.  On a turned or oblique body the
    region is its upright bounding box and a margin.
    """
    region, body, scale = _region(pixels, outline_px)
    grey = cv2.cvtColor(region, cv2.COLOR_BGR2GRAY)
    troubles = [
        _focus(grey, scale, _need_px(grey, scale, outline_px, pitch_px)),
        *_glare(region, body),
        _exposure(grey, DARKER_PERCENTILE if body is None else CHIP_PERCENTILE),
        _lead_pixels(pitch_px),
    ]
    seen = [trouble for trouble in troubles if trouble is not None]
    seen.sort(key=lambda trouble: WORST_FIRST.index(trouble[0]))
    return Finding(
        state=seen[0][0] if seen else "ok", reasons=tuple(why for _, why in seen)
    )


def edge_blur_px(grey: Picture) -> float | None:
    """Measure the blur of the clear edges in a grey picture.

    Parameters
    ----------
    grey : ndarray of shape (rows, cols), uint8
        The region to look at.

    Returns
    -------
    float or None
        Standard deviation of the edge spread, pixels of ``grey``; 0 where edges are
        as sharp as pixels allow.  None if there is no clear edge.  Saturates near a
        third of the window, about 5 px.

    References
    ----------
    After the edge-width idea of P. Marziliano et al., "A no-reference perceptual blur
    metric", ICIP 2002, doi:10.1109/ICIP.2002.1038902.
    """
    smooth = cv2.GaussianBlur(grey, (0, 0), SMOOTHING_PX)
    slope = cv2.magnitude(
        cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=0.125),
        cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=0.125),
    )
    window = np.ones((EDGE_WINDOW_PX, EDGE_WINDOW_PX), np.uint8)
    step = cv2.subtract(cv2.dilate(smooth, window), cv2.erode(smooth, window))
    steep = slope > 0.05 * EDGE_STEP_LEVELS
    steps, slopes = step[steep].astype(np.float32), slope[steep]
    edges = (steps > EDGE_STEP_LEVELS) & (slopes > 0.05 * steps)
    if np.count_nonzero(edges) < MIN_EDGE_PIXELS:
        return None
    # A Gaussian edge of height A has slope A / (sigma sqrt(2 pi)) at its middle.
    widths = steps[edges] / (slopes[edges] * np.sqrt(2 * np.pi))
    width = float(np.percentile(widths, SHARP_EDGE_PERCENTILE))
    return float(np.sqrt(max(width**2 - SMOOTHING_PX**2 - 1 / 3, 0.0)))


def _region(
    pixels: Picture, outline_px: npt.ArrayLike | None
) -> tuple[Picture, Picture | None, float]:
    """Cut out the body and its leads, reduced: picture, body mask, px per px."""
    rows, cols = pixels.shape[:2]
    left, top, right, low = 0, 0, cols, rows
    if outline_px is not None:
        quad = np.asarray(outline_px, dtype=np.float64)
        least, most = quad.min(axis=0), quad.max(axis=0)
        margin = MARGIN_FRAC * np.sqrt(abs(geometry.signed_area_px2(quad)))
        left, top = (int(v) for v in np.maximum(least - margin, 0))
        right, low = (int(v) for v in np.minimum(most + margin + 1, (cols, rows)))
    cut = pixels[top:low, left:right]
    if cut.size == 0:
        message = "the outline lies outside the photo"
        raise ValueError(message)
    scale = min(1.0, WORK_SIDE_PX / max(cut.shape[:2]))
    if scale < 1.0:
        width, height = (
            max(1, round(side * scale)) for side in (right - left, low - top)
        )
        if scale < 0.5:
            # Picking pixels is quick; it cannot sharpen a blurred edge.
            nearest = cv2.INTER_NEAREST
            cut = cv2.resize(cut, (2 * width, 2 * height), interpolation=nearest)
        cut = cv2.resize(cut, (width, height), interpolation=AREA)
    if outline_px is None:
        return cut, None, scale
    mask = np.zeros(cut.shape[:2], np.uint8)
    corners = np.round((quad - (left, top)) * scale).astype(np.int32)
    cv2.fillPoly(mask, [corners], 1)
    return cut, mask, scale


def _need_px(
    grey: Picture,
    scale: float,
    outline_px: npt.ArrayLike | None,
    pitch_px: float | None,
) -> tuple[float, float]:
    """Blur in photo pixels beyond which a finding is unsure, and a fault."""
    if outline_px is not None:
        body_px = np.sqrt(abs(geometry.signed_area_px2(outline_px)))
    else:  # a chip seldom fills less than a fifth of a photo taken to judge it
        body_px = min(grey.shape) / scale / 5
    unsure_px, fault_px = (
        BLUR_UNSURE_BODY_FRAC * body_px,
        BLUR_FAULT_BODY_FRAC * body_px,
    )
    if pitch_px is None:
        return unsure_px, fault_px
    # The marks on the body need focus as much as the leads: the stricter counts.
    return (
        min(unsure_px, BLUR_UNSURE_PITCH_FRAC * pitch_px),
        min(fault_px, BLUR_FAULT_PITCH_FRAC * pitch_px),
    )


def _focus(grey: Picture, scale: float, need_px: tuple[float, float]) -> Trouble | None:
    """Compare the blur of the edges with what the leads allow."""
    blur = edge_blur_px(grey)
    # The window holds edges up to a few pixels wide; a wider blur is measured smaller.
    while (blur is None or blur > WIDE_BLUR_PX) and min(grey.shape) > MIN_WORK_SIDE_PX:
        grey, scale = (
            cv2.resize(grey, None, fx=0.5, fy=0.5, interpolation=AREA),
            scale / 2,
        )
        blur = edge_blur_px(grey)
    if blur is None:
        return "unsure", (
            "focus: no clear edge was seen; sharp edges are needed. Light the board "
            "from the side, tap the chip on the screen to focus, and retake."
        )
    blur_px, (unsure_px, fault_px) = blur / scale, need_px
    # Half a working pixel cannot be told from none.
    if blur_px <= max(unsure_px, 0.7 / scale):
        return None
    state: State = "fault" if blur_px > max(fault_px, 1.2 / scale) else "unsure"
    return state, (
        f"focus: edges are blurred over {blur_px:.1f} px; at most {unsure_px:.1f} px "
        "is needed here. Rest the camera, tap the chip on the screen to focus, and "
        "retake."
    )


def _glare(region: Picture, body: Picture | None) -> list[Trouble]:
    """Measure the share of burnt-out pixels on the body and round it.

    Not on a whole photo, where white paper beside the board does no harm.
    """
    if body is None:
        return []
    floor = (SATURATED_LEVEL,) * 3
    burnt = cv2.inRange(region, floor, (255,) * 3) > 0
    limits = {
        "the body": (BODY_GLARE_UNSURE_FRAC, BODY_GLARE_FAULT_FRAC),
        "the leads": (LEAD_GLARE_UNSURE_FRAC, LEAD_GLARE_FAULT_FRAC),
    }
    places = {"the body": burnt[body > 0], "the leads": burnt[body == 0]}
    troubles: list[Trouble] = []
    for place, values in places.items():
        share = float(values.mean()) if values.size else 0.0
        unsure, fault = limits[place]
        if share > unsure:
            why = (
                f"glare: {share:.0%} of {place} is burnt out; at most {unsure:.0%} "
                "is needed. Turn off the flash, tilt the lamp or the board, and retake."
            )
            troubles.append(("fault" if share > fault else "unsure", why))
    return troubles


def _exposure(grey: Picture, darker_percentile: float) -> Trouble | None:
    """Tell a picture in the dark and one washed out."""
    light, dark = np.percentile(grey[::3, ::3], (95, darker_percentile))
    if light < DARK_UNSURE_LEVEL:
        state: State = "fault" if light < DARK_FAULT_LEVEL else "unsure"
        return state, (
            f"exposure: the lightest parts have {light:.0f} of 255; at least "
            f"{DARK_UNSURE_LEVEL} is needed. Use more light and retake."
        )
    if dark > LIGHT_UNSURE_LEVEL:
        state = "fault" if dark > LIGHT_FAULT_LEVEL else "unsure"
        return state, (
            f"exposure: even the darker parts have {dark:.0f} of 255; at most "
            f"{LIGHT_UNSURE_LEVEL} is needed. Use less light and retake."
        )
    return None


def _lead_pixels(pitch_px: float | None) -> Trouble | None:
    """Compare the pixels across the narrowest lead with what a measurement takes."""
    if pitch_px is None:
        return None
    lead_px = NARROW_LEAD_PITCH_FRAC * pitch_px
    if lead_px >= LEAD_PX_NEEDED:
        return None
    return "unsure", (
        f"pixels: about {lead_px:.1f} px across a lead; {LEAD_PX_NEEDED:.0f} px "
        f"needed, {LEAD_PX_PREFERRED:.0f} px preferred. Move the camera closer or use "
        "a lens."
    )
