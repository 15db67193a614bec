from __future__ import annotations

import numpy as np
import pytest

from vision.overlap import is_cut_off, middle_of, quad_holds

BODY = np.array([[100.0, 50.0], [100.0, 150.0], [300.0, 150.0], [300.0, 50.0]])


@pytest.mark.parametrize("start", range(4))
@pytest.mark.parametrize("step", [1, -1])
def test_a_body_holds_what_lies_on_it_whatever_the_order_of_its_corners(start, step):
    corners = np.roll(BODY, start, axis=0)[::step]
    assert quad_holds(corners, (299, 149))
    assert not quad_holds(corners, (302, 149))
    assert quad_holds(corners, (302, 149), 1.1)
    assert not quad_holds(corners, (200, 156), 1.1)


def test_a_body_is_cut_off_where_a_corner_lies_off_the_photo_by_more_than_its_error():
    assert not is_cut_off(BODY, 400, 200)
    assert not is_cut_off(BODY, 298, 200)
    assert is_cut_off(BODY, 290, 200)
    assert is_cut_off(BODY - [0, 60], 400, 200)


def test_the_middle_of_an_even_photo_lies_between_two_pixels():
    assert middle_of(4, 3) == (1.5, 1.0)
