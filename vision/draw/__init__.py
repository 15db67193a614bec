"""Results as pictures; judges nothing."""

from vision.draw.lands import draw_lands
from vision.draw.package import draw_package
from vision.draw.pads import PadMark, draw_pads
from vision.draw.pair import PairWords, blink_picture, draw_pair

__all__ = [
    "PadMark",
    "PairWords",
    "blink_picture",
    "draw_lands",
    "draw_package",
    "draw_pads",
    "draw_pair",
]
