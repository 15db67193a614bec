"""Results as pictures; judges nothing."""

from vision.draw.package import draw_package
from vision.draw.pair import PairWords, blink_picture, draw_pair

__all__ = ["PairWords", "blink_picture", "draw_package", "draw_pair"]
