"""Pictures that the network for feet learns from: their truth is where it is drawn."""

import numpy as np
import pytest

torch = pytest.importorskip("torch")

from models.feet.drawn import draw_flat  # noqa: E402
from models.feet.net import FeetNet  # noqa: E402
from models.feet.render import truth  # noqa: E402
from models.feet.scenes import draw_feet_scene, shoot_above  # noqa: E402
from models.feet.train import covered, flat, missed, told  # noqa: E402
from models.scenes.shaded.primitives import Dice  # noqa: E402
from vision.foot_patches import CHANNELS, COLS, EDGE_ROW, ROWS  # noqa: E402


def dice(batch, seed=1):
    return Dice(batch, torch.Generator().manual_seed(seed))


def test_brightness_changes_at_the_sides_that_are_told():
    drawn = draw_flat(dice(256))
    row = drawn.picture.mean(1)[:, EDGE_ROW - 3 : EDGE_ROW + 3].mean(1)
    step = (row[:, 2:] - row[:, :-2]).abs()
    at = drawn.sides.round().long().clamp(3, COLS - 4) - 1
    near = torch.stack([step.gather(1, at + k) for k in (-1, 0, 1)]).amax(0)
    usual = step.median(1, keepdim=True).values
    assert (near > 2 * usual).float().mean() > 0.75


def test_what_is_seen_has_the_shape_that_the_network_takes():
    torch.manual_seed(0)
    seen = flat(dice(16))
    assert seen.patch.shape == (16, CHANNELS, ROWS, COLS)
    assert torch.isfinite(seen.patch).all()
    assert seen.patch.min() >= 0
    assert seen.patch.max() <= 1
    toe, sides, lean = FeetNet().eval()(seen.patch)
    assert toe.shape == (16, ROWS // 2)
    assert sides.shape == (16, 2, COLS // 2)
    assert lean.shape == (16, 4)


def test_a_profile_that_matches_its_place_tells_it():
    place = torch.tensor([20.3, 41.0])
    cells = torch.arange(ROWS // 2)
    logits = -((cells - (place[:, None] - 0.5) / 2) ** 2) / (2 * 0.7**2)
    mean, spread = told(logits)
    assert mean.numpy() == pytest.approx(place.numpy(), abs=0.05)
    assert spread.max() < 0.6
    assert missed(logits, place) < missed(logits.flip(0), place)


def test_a_land_is_covered_whichever_way_its_corners_run():
    quad = torch.tensor([[-1.0, -0.5], [0.5, -0.5], [0.5, 0.5], [-1.0, 0.5]])
    both = covered(torch.stack([quad, quad.flip(0)]))
    assert torch.allclose(both[0], both[1], atol=1e-5)
    assert both[0].sum().item() == pytest.approx(1.5 * 20 * 20, rel=0.03)


def test_rendered_truth_holds_widths_and_walls():
    rng = np.random.default_rng(3)
    scene = shoot_above(draw_feet_scene(rng, 3), rng, 448)
    row = truth(scene, "a.jpg")
    face = np.array(row["face_px"])
    assert len(face) == scene.chip.size.lead_count == len(row["land_px"])
    wide = np.linalg.norm(face[:, 1] - face[:, 0], axis=1) / row["px_per_mm"]
    assert wide == pytest.approx(row["lead_width_mm"], rel=0.15)
    shown = face[:, :2].mean(axis=1) - np.array(row["toe_down_px"])
    most = np.tan(np.radians(30)) * 0.7 * row["px_per_mm"]
    assert np.linalg.norm(shown, axis=1).max() < most
