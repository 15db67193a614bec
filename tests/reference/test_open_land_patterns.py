"""Numbering, lands and body sizes against the land patterns that Debian carries.

Numbers are read from the installed files while the test runs; nothing is copied.
"""

import re
from pathlib import Path

import numpy as np
import pytest

from vision import tables

LIBRARY = Path("/usr/share/kicad/footprints")
PAD = re.compile(r'\(pad "?([^\s"]*)"? (\w+) \w+ \(at ([^)]*)\) \(size ([^)]*)\)')
# Land-pattern generators of several ages drew these files; rows drawn from a maker's
# own advice differ from the formula by up to this much at the centre of a land.
CENTRE_MM, SAME_MM = 0.40, 0.005

PATTERNS = {
    "SOIC-8 3.9x4.9 P1.27": "Package_SO/SOIC-8_3.9x4.9mm_P1.27mm",
    "SOIC-8 5.23x5.23 P1.27": "Package_SO/SOIC-8_5.23x5.23mm_P1.27mm",
    "SOP-8 5.28x5.23 P1.27": "Package_SO/SOP-8_5.28x5.23mm_P1.27mm",
    "SO-8 5.3x6.2 P1.27": "Package_SO/SO-8_5.3x6.2mm_P1.27mm",
    "SOIC-14 3.9x8.7 P1.27": "Package_SO/SOIC-14_3.9x8.7mm_P1.27mm",
    "SOIC-16 3.9x9.9 P1.27": "Package_SO/SOIC-16_3.9x9.9mm_P1.27mm",
    "SOIC-16W 7.5x10.3 P1.27": "Package_SO/SOIC-16W_7.5x10.3mm_P1.27mm",
    "SOIC-14W 7.5x9.0 P1.27": "Package_SO/SOIC-14W_7.5x9mm_P1.27mm",
    "SOIC-18W 7.5x11.55 P1.27": "Package_SO/SOIC-18W_7.5x11.6mm_P1.27mm",
    "SOIC-20W 7.5x12.8 P1.27": "Package_SO/SOIC-20W_7.5x12.8mm_P1.27mm",
    "SOIC-24W 7.5x15.4 P1.27": "Package_SO/SOIC-24W_7.5x15.4mm_P1.27mm",
    "SOIC-28W 7.5x17.9 P1.27": "Package_SO/SOIC-28W_7.5x17.9mm_P1.27mm",
    "TSSOP-8 4.4x3 P0.65": "Package_SO/TSSOP-8_4.4x3mm_P0.65mm",
    "TSSOP-28 4.4x9.7 P0.65": "Package_SO/TSSOP-28_4.4x9.7mm_P0.65mm",
    "TSSOP-48 6.1x12.5 P0.5": "Package_SO/TSSOP-48_6.1x12.5mm_P0.5mm",
    "MSOP-8 3x3 P0.65": "Package_SO/MSOP-8_3x3mm_P0.65mm",
    "MSOP-10 3x3 P0.5": "Package_SO/MSOP-10_3x3mm_P0.5mm",
    "SSOP-20 5.3x7.2 P0.65": "Package_SO/SSOP-20_5.3x7.2mm_P0.65mm",
    "SSOP-28 5.3x10.2 P0.65": "Package_SO/SSOP-28_5.3x10.2mm_P0.65mm",
    "SSOP-16 3.9x4.9 P0.635": "Package_SO/SSOP-16_3.9x4.9mm_P0.635mm",
    "TSOP-I-32 18.4x8 P0.5": "Package_SO/TSOP-I-32_18.4x8mm_P0.5mm",
    "TSOP-I-48 18.4x12 P0.5": "Package_SO/TSOP-I-48_18.4x12mm_P0.5mm",
    "TSOP-II-54 10.16x22.22 P0.8": "Package_SO/TSOP-II-54_22.2x10.16mm_P0.8mm",
    "LQFP-32 7x7 P0.8": "Package_QFP/LQFP-32_7x7mm_P0.8mm",
    "LQFP-48 7x7 P0.5": "Package_QFP/LQFP-48_7x7mm_P0.5mm",
    "LQFP-100 14x14 P0.5": "Package_QFP/LQFP-100_14x14mm_P0.5mm",
    "LQFP-144 20x20 P0.5": "Package_QFP/LQFP-144_20x20mm_P0.5mm",
    "LQFP-128 14x20 P0.5": "Package_QFP/LQFP-128_14x20mm_P0.5mm",
    "PQFP-100 14x20 P0.65": "Package_QFP/PQFP-100_14x20mm_P0.65mm",
    "PQFP-208 28x28 P0.5": "Package_QFP/PQFP-208_28x28mm_P0.5mm",
    "QFN-32 5x5 P0.5": "Package_DFN_QFN/QFN-32-1EP_5x5mm_P0.5mm_EP3.45x3.45mm",
    "QFN-16 3x3 P0.5": "Package_DFN_QFN/QFN-16-1EP_3x3mm_P0.5mm_EP1.7x1.7mm",
    "QFN-64 9x9 P0.5": "Package_DFN_QFN/QFN-64-1EP_9x9mm_P0.5mm_EP7.3x7.3mm",
    "WSON-8 6x5 P1.27": "Package_SON/WSON-8-1EP_6x5mm_P1.27mm_EP3.4x4.3mm",
    "WSON-8 8x6 P1.27": "Package_SON/WSON-8-1EP_8x6mm_P1.27mm_EP3.4x4.3mm",
    "DFN-8 2x2 P0.5": "Package_DFN_QFN/DFN-8-1EP_2x2mm_P0.5mm_EP0.9x1.6mm",
    "SOT-23 1.3x2.9 P0.95": "Package_TO_SOT_SMD/SOT-23",
    "SOT-23-5 1.6x2.9 P0.95": "Package_TO_SOT_SMD/SOT-23-5",
    "SOT-23-6 1.6x2.9 P0.95": "Package_TO_SOT_SMD/SOT-23-6",
    "SOT-23-8 1.6x2.9 P0.65": "Package_TO_SOT_SMD/SOT-23-8",
    "SOT-353 1.25x2.0 P0.65": "Package_TO_SOT_SMD/SOT-353_SC-70-5",
    "SOT-223 3.5x6.5 P2.3": "Package_TO_SOT_SMD/SOT-223",
    "DIP-8 W7.62": "Package_DIP/DIP-8_W7.62mm",
    "DIP-28 W15.24": "Package_DIP/DIP-28_W15.24mm",
    "DIP-40 W15.24": "Package_DIP/DIP-40_W15.24mm",
    "PLCC-32 11.43x13.97 P1.27": "Package_LCC/PLCC-32_11.4x14.0mm_P1.27mm",
    "PLCC-44 16.59x16.59 P1.27": "Package_LCC/PLCC-44_16.6x16.6mm_P1.27mm",
}
VARIANTS = {v.name: v for f in tables.families().values() for v in f.variants}

pytestmark = pytest.mark.skipif(
    not LIBRARY.is_dir(), reason="Debian package kicad-footprints is not installed"
)


def read_pattern(name):
    """Centres and x, y sizes of the numbered pads, origin amid the pads, and text."""
    folder, file = name.split("/")
    text = (LIBRARY / f"{folder}.pretty" / f"{file}.kicad_mod").read_text()
    pads = {}
    for number, _, at, size in PAD.findall(text):
        if number.isdigit():
            x, y, *angle = map(float, at.split())
            size_mm = np.array(list(map(float, size.split())))
            if angle and round(angle[0]) % 180 == 90:
                size_mm = size_mm[::-1]
            pads.setdefault(int(number), ((x, y), size_mm))
    return pads, text


@pytest.mark.parametrize("name", sorted(PATTERNS))
def test_numbering_and_lands(name):
    variant = VARIANTS[name]
    pads, _ = read_pattern(PATTERNS[name])
    numbers = range(1, variant.lead_count + 1)
    centres = np.array([pads[n][0] for n in numbers])
    if variant.lead_style == "through_hole":
        centres = centres - centres.mean(axis=0)
    sizes = np.array([pads[n][1] for n in numbers])
    lands = tables.land_positions(variant)
    ours = np.array([land.centre_mm for land in lands])
    tolerance_mm = SAME_MM if variant.land.status == "read" else CENTRE_MM
    assert [land.number for land in lands] == list(numbers)
    assert np.abs(ours - centres).max() < tolerance_mm
    if variant.land.status == "read" and variant.lead_style != "through_hole":
        ours_mm = np.array([land.size_mm for land in lands])
        assert np.abs(ours_mm - sizes).max() < SAME_MM


@pytest.mark.parametrize(
    "name", sorted(n for n in PATTERNS if VARIANTS[n].lead_style != "through_hole")
)
def test_every_foot_lies_on_its_land(name):
    variant = VARIANTS[name]
    pads, _ = read_pattern(PATTERNS[name])
    for lead in tables.lead_positions(variant):
        (x, y), size = pads[lead.number]
        reach = np.abs(np.array(lead.toe_mm) - (x, y)) - size / 2
        assert reach.max() < 0.06, f"toe of lead {lead.number}"


@pytest.mark.parametrize("name", sorted(PATTERNS))
def test_body_size(name):
    variant = VARIANTS[name]
    _, text = read_pattern(PATTERNS[name])
    lines = re.findall(r"\(start ([^)]*)\) \(end ([^)]*)\) \(layer \"?F\.Fab", text)
    points = np.array([list(map(float, p.split())) for line in lines for p in line])
    size_mm = np.ptp(points, axis=0)
    for drawn, ours in zip(
        size_mm, (variant.body_x_mm, variant.body_y_mm), strict=True
    ):
        # Bodies are drawn at their nominal or largest size.
        assert ours[0] - 0.06 <= drawn <= ours[2] + 0.06
