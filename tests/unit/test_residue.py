"""Flux and charring beside a chip: told from another light, as a note."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.unit.ui.reports import package, pair_report, photo
from ui.contract import pair_report_json
from ui.pair_words import pair_answer
from ui.read_contract import read_pair_report
from vision import residue as residue_module
from vision.residue import Residue, find_residue
from vision.results import Registration

SAME = Registration(
    before_to_after=((1, 0, 0), (0, 1, 0), (0, 0, 1)), inliers=80, residual_px=0.3
)
BODY = ((250.0, 250.0), (250.0, 350.0), (350.0, 350.0), (350.0, 250.0))
BROWN, BLACK = (0.4, 0.75, 0.9), (0.4, 0.4, 0.4)


def board(stain=None, light=1.0, slope=0.0, seed=1):
    """Draw a board with traces and a chip; a stain to the right of its body."""
    rng = np.random.default_rng(seed)
    pixels = np.full((600, 600, 3), (60, 110, 50), np.float64)
    for x in range(20, 600, 60):
        cv2.line(pixels, (x, 0), (x, 600), (70, 130, 62), 5)
    cv2.rectangle(pixels, (250, 250), (350, 350), (40, 40, 40), -1)
    if stain is not None:
        area = np.zeros((600, 600))
        cv2.ellipse(area, (394, 300), (14, 45), 0, 0, 360, 1.0, -1)
        soft = cv2.GaussianBlur(area, (0, 0), 2)[..., None]
        pixels *= 1 - soft + soft * np.array(stain)
    pixels *= light * (1 + slope * np.linspace(-1, 1, 600)[None, :, None])
    noisy = pixels + rng.normal(0, 2, pixels.shape)
    return replace(photo(width=600, height=600), pixels=np.uint8(noisy.clip(0, 255)))


def residue(after):
    chip = replace(package(), outline_px=BODY, leads=())
    return find_residue(board(), chip, after, chip, SAME)


def test_another_light_is_no_residue():
    found = residue(board(light=0.7, slope=0.2, seed=2))
    assert found is not None
    assert found.sentence == ""
    assert found.near_frac < 0.01


@pytest.mark.parametrize("stain", [BROWN, BLACK])
def test_a_stain_beside_the_chip_is_noted_in_another_light_too(stain):
    found = residue(board(stain, light=0.8, slope=0.15, seed=3))
    assert found is not None
    assert "flux, charring or a shadow" in found.sentence
    assert found.far_frac < 0.01


def test_what_got_darker_everywhere_is_not_said_of_the_chip():
    assert Residue(near_frac=0.10, far_frac=0.06).sentence == ""
    assert "10 % of the board" in Residue(near_frac=0.10, far_frac=0.01).sentence


def test_too_little_board_gives_no_answer():
    whole = ((5, 5), (5, 595), (595, 595), (595, 5))
    close = replace(package(), outline_px=whole, leads=())
    assert find_residue(board(), close, board(), close, SAME) is None


@pytest.mark.parametrize("line", [np.s_[20:220, 7], np.s_[7, 20:220], np.s_[7, 7]])
def test_light_is_fitted_where_plain_board_shows_in_one_line_alone(line):
    far = np.zeros((256, 256), bool)
    far[line] = True
    dimmed = np.full((256, 256, 3), np.log(0.7))
    assert residue_module._light(dimmed, far)[line] == pytest.approx(np.log(0.7))


def test_a_note_is_told_and_kept_and_decides_nothing():
    said = Residue(near_frac=0.10, far_frac=0.01).sentence
    plain = pair_report()
    noted = replace(plain, notes=(said,))
    assert f"Note: {said}" in pair_answer(noted).details
    assert pair_answer(noted).state == pair_answer(plain).state
    assert read_pair_report(pair_report_json(noted)).notes == (said,)
