"""A row whose leads pass for gaps is moved where it ends, or said to be lost."""

from dataclasses import replace

import numpy as np
import pytest

from vision import lead_rows
from vision.geometry import apply_homography
from vision.joint_beliefs import GapBelief
from vision.lead_rows import see_gaps
from vision.strips import MIDDLE_COL, PITCH_PX, TOE_ROW, GapWindow

SOUND = (1.0, 0.0, 0.0, 0.0, 0.0)
LEADS = 5
PASSES_FOR_GAP, GAP, ELSEWHERE = 0.8, 0.96, 0.02
PICTURE = np.zeros((100, 400, 3), np.uint8)


def row(off_pitches):
    """Windows on the gaps of a row, photo pixels being window pixels."""
    shift = np.eye(3)
    windows = []
    for k in range(LEADS - 1):
        shift[0, 2] = (k + off_pitches) * PITCH_PX
        windows.append(
            GapWindow(
                first=k + 1, second=k + 2, to_photo=shift.copy(), spacing_px=PITCH_PX
            )
        )
    return tuple(windows)


def belief(window, ends):
    """What a network would say to which middles of leads look like gaps as well."""
    x = apply_homography(window.to_photo, [[MIDDLE_COL, TOE_ROW]])[0][0] - MIDDLE_COL
    gap = x / PITCH_PX
    off = abs(gap - round(gap))
    square = GAP + (PASSES_FOR_GAP - GAP) * 2 * off
    if not ends[0] - 0.75 < gap < ends[1] + 0.75:
        square = ELSEWHERE
    return GapBelief(
        window=window, bridged=0.0, square=square, left=SOUND, right=SOUND, at_px=(0, 0)
    )


@pytest.fixture
def network(monkeypatch):
    """Let a network stand in that sees gaps from one number to another."""

    def sees(first, last):
        def believe(_pixels, windows):
            return tuple(belief(w, (first, last)) for w in windows)

        def believe_beside(windows, _pictures):
            return believe(None, windows), ()

        monkeypatch.setattr(lead_rows, "believe", believe)
        monkeypatch.setattr(lead_rows, "believe_beside", believe_beside)

    return sees


@pytest.mark.parametrize("off", [-0.5, 0.5])
def test_leads_that_pass_for_gaps_are_left_for_the_gaps(network, off):
    network(0, LEADS - 2)
    seen = see_gaps(PICTURE, row(off))
    lies = [w.to_photo[0, 2] / PITCH_PX for w in seen.windows]
    assert lies == pytest.approx(range(LEADS - 1))
    assert min(b.square for b in seen.beliefs) == pytest.approx(GAP)


def test_a_row_whose_ends_do_not_show_is_not_read(network):
    network(-9, LEADS + 9)
    windows = row(0.5)
    seen = see_gaps(PICTURE, windows)
    assert seen.windows == windows
    assert [b.square for b in seen.beliefs] == [0.0] * (LEADS - 1)


def test_a_row_in_place_is_read_though_leads_pass_for_gaps(network):
    network(-9, LEADS + 9)
    windows = row(0.0)
    seen = see_gaps(PICTURE, windows)
    assert seen.moves == ()
    assert min(b.square for b in seen.beliefs) == pytest.approx(GAP)


def test_a_lead_that_stands_alone_is_neither_moved_nor_lost(network):
    network(0, 0)
    alone = (replace(row(0.5)[0], second=None),)
    seen = see_gaps(PICTURE, alone)
    assert seen.windows == alone
    assert seen.beliefs[0].square > 0


def test_gaps_whose_leads_the_photo_cuts_off_are_not_read(network):
    network(-9, LEADS + 9)
    windows = row(0.0)
    cut = PICTURE[:, : int(MIDDLE_COL + 1.9 * PITCH_PX)]
    squares = [b.square for b in see_gaps(cut, windows).beliefs]
    assert squares == [pytest.approx(GAP), pytest.approx(GAP), 0.0, 0.0]
    toes = PICTURE[: int(TOE_ROW) - 2]
    seen = see_gaps(toes, windows, may_move=False)
    assert [b.square for b in seen.beliefs] == [0.0] * (LEADS - 1)
