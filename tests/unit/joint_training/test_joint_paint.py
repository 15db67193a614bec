"""Painted faults: where they lie, and that what is no fault stays apart."""

import numpy as np
import pytest

torch = pytest.importorskip("torch")

from models.joints import paint  # noqa: E402
from models.joints.draws import _view, plain  # noqa: E402
from models.joints.net import JointNets  # noqa: E402
from models.scenes.shaded.primitives import Dice  # noqa: E402
from vision.strips import COLS, LEFT_COL, ROWS, TOE_ROW  # noqa: E402

BATCH = 12


def leads_on_green():
    """Bright leads at u = -1.5, -0.5, 0.5, 1.5 from the body's edge past the toes."""
    image = torch.zeros(BATCH, 3, paint.ROWS, paint.COLS)
    image[:] = torch.tensor([0.05, 0.3, 0.1]).reshape(1, 3, 1, 1)
    c = paint.canvas(image)
    on = (((c.u.abs() - 1).abs() - 0.5).abs() < 0.15) & (c.v > -1) & (c.v < 0.4)
    grain = 0.1 * torch.rand(BATCH, 1, paint.ROWS, paint.COLS)
    return torch.where(on, 0.75 + grain, image)


def dice(seed=1):
    return Dice(BATCH, torch.Generator().manual_seed(seed))


def test_a_bridge_covers_the_gap_from_lead_to_lead_and_nothing_far_away():
    torch.manual_seed(0)
    image = leads_on_green()
    c = paint.canvas(image)
    painted, cover = paint.paint_bridges(c, dice())
    across = (cover[:, 0] > 0.4).any(dim=1)
    left, right = (int((u * paint.U_PX) + (paint.COLS - 1) / 2) for u in (-0.35, 0.35))
    assert across[:, left:right].float().mean() > 0.97
    outer = (c.u.abs() > 1.2).expand_as(cover)
    assert (painted - image).abs().mean(1, keepdim=True)[outer].max() < 0.05


def test_a_ball_touches_no_lead():
    torch.manual_seed(0)
    image = leads_on_green()
    c = paint.canvas(image)
    _, cover = paint.paint_ball(c, dice())
    near_lead = ((c.u.abs() - 0.5).abs() < 0.1).expand_as(cover)
    assert cover[near_lead].max() < 0.35


def test_bending_moves_one_foot_and_leaves_the_other():
    torch.manual_seed(0)
    image = leads_on_green()
    c = paint.canvas(image)
    bent = paint.bend(c, dice(), torch.full((BATCH,), -1.0))
    change = (bent - image).abs().mean(1)
    u, v = c.u[0, 0], c.v[0, 0]
    foot = ((u + 0.5).abs() < 0.3) & (v > -0.3) & (v < 0.2)
    other = ((u - 0.6).abs() < 0.2) & (v > -0.3)
    assert change[:, foot].mean() > 5 * change[:, other].mean()


def test_the_plain_window_shows_the_lead_where_it_is_looked_for():
    window = plain(leads_on_green())
    assert window.shape == (BATCH, 3, ROWS, COLS)
    red = window[0, 0, int(TOE_ROW) - 20]
    bright = np.flatnonzero(red.numpy() > 0.5)
    nearest = bright[np.abs(bright - LEFT_COL) < 8]
    assert nearest.mean() == pytest.approx(LEFT_COL, abs=0.6)


def test_an_askew_view_is_far_from_a_square_one():
    square = _view(dice(), torch.zeros(BATCH, dtype=torch.bool))
    askew = _view(dice(), torch.ones(BATCH, dtype=torch.bool))
    point = torch.tensor([LEFT_COL, TOE_ROW, 1.0])
    ideal = torch.tensor([-0.5 * paint.U_PX + (paint.COLS - 1) / 2, paint.TOE_ROW])
    off = [
        ((m[:, :2] @ point - ideal) / paint.U_PX).norm(dim=1) for m in (square, askew)
    ]
    assert off[0].median() < 0.3
    assert off[1].median() > 0.35


def test_networks_side_by_side_answer_with_their_mean():
    torch.manual_seed(0)
    nets = JointNets(2).eval()
    x = torch.rand(3, 7, ROWS, COLS)
    with torch.no_grad():
        said, cover = nets(x)
        parts = [net(x)[0] for net in nets.nets]
    assert said.shape == (3, 12)
    assert cover.shape == (3, 1, ROWS // 4, COLS // 4)
    assert torch.allclose(said, (parts[0] + parts[1]) / 2, atol=1e-5)
