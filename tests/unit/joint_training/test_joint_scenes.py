"""Random boards: sizes of the tables, faults that can be built, truth that fits."""

import json

import numpy as np
import pytest

from models.joints.gather import (
    CLASSES,
    IGNORE,
    LIFT_MM,
    ball_label,
    chip_windows,
    lead_classes,
)
from models.joints.one_fault import with_balls, with_tilt
from models.joints.scenes import draw_case
from models.scenes.assemble import chip_pools, toe_poses
from models.scenes.description import Bridge
from vision.geometry import apply_homography
from vision.strips import MIDDLE_COL, PITCH_PX, REACH_PX, TOE_ROW, gap_windows
from vision.tables import variants_of

SOIC8 = variants_of("SOIC", 8)[0]


@pytest.mark.parametrize("seed", range(12))
def test_every_board_has_sound_joints_before_and_a_buildable_chip_after(seed):
    case = draw_case(np.random.default_rng(seed), seed, 96)
    before, after = case.before.chip, case.after.chip
    assert before.size == after.size
    assert before.bridges == ()
    assert all(
        before.joint(n).lift_mm == 0 for n in range(1, before.size.lead_count + 1)
    )
    assert case.before.board.lands == case.after.board.lands
    pools = chip_pools(after)
    assert len(pools) == after.size.lead_count - len(
        [b for b in after.bridges if b.kind != "whisker"]
    )


def test_bridges_join_neighbours_on_one_side_that_stand_in_their_solder():
    for seed in range(40):
        chip = draw_case(np.random.default_rng(seed), seed, 96).after.chip
        per_side = chip.size.lead_count // chip.size.side_count
        for bridge in chip.bridges:
            first, second = bridge.between
            assert second == first + 1
            assert first % per_side
            assert not chip.joint(first).lift_mm
            assert not chip.joint(second).bend_mm


def test_the_same_seed_gives_the_same_board():
    one, other = (draw_case(np.random.default_rng(3), 3, 96) for _ in range(2))
    assert one == other


def row(**changes):
    plain = {
        "kind": ["good"] * 8,
        "lift_mm": [0.0] * 8,
        "bend_mm": [0.0] * 8,
        "tilt_mm": 0.0,
        "bridges": [],
    }
    return plain | changes


def test_lead_classes_follow_the_truth():
    lifts = [0.0, 0.3, 0.75 * LIFT_MM, 0.0, 0.0, 0.0, 0.0, 0.0]
    kinds = ["good", "good", "good", "starved", "excess", "good", "good", "good"]
    bends = [0.0] * 5 + [0.4, 0.0, 0.0]
    classes = lead_classes(
        row(lift_mm=lifts, kind=kinds, bend_mm=bends, bridges=[[7, 8]]), SOIC8
    )
    named = [CLASSES[c] if c != IGNORE else "ignored" for c in classes]
    assert named == [
        "sound", "lifted", "ignored", "little", "much", "bent", "ignored", "ignored"
    ]  # fmt: skip


def test_a_tilted_chip_lifts_the_row_on_its_raised_side():
    classes = lead_classes(row(tilt_mm=0.2), SOIC8)
    assert set(classes[4:]) == {CLASSES.index("lifted")}
    assert CLASSES.index("lifted") not in classes[:4]


def test_chips_without_visible_gaps_give_no_windows():
    quad = [[0, 0], [0, 300], [240, 300], [240, 0]]
    chip = {"family": "SOIC", "leads": 8, "outline": quad, "note": ""}
    assert len(chip_windows(chip)) == 6
    assert chip_windows(chip | {"family": "QFN"}) == ()
    assert chip_windows(chip | {"state": "removed-pads"}) == ()
    small = (np.array(quad) / 20).tolist()
    assert chip_windows(json.loads(json.dumps(chip | {"outline": small}))) == ()


def test_a_bridge_lies_where_it_is_told():
    case = next(
        c
        for c in (draw_case(np.random.default_rng(s), s, 96) for s in range(60))
        if any(b.kind != "whisker" for b in c.after.chip.bridges)
    )
    assert all(isinstance(b, Bridge) for b in case.after.chip.bridges)
    strips = [s for pool in chip_pools(case.after.chip) for s in pool.strips]
    assert strips
    assert all(s.half_width_mm > 0 for s in strips)


def test_balls_are_laid_beside_a_chip_that_stays_as_it_was():
    cases = [draw_case(np.random.default_rng(s), s, 96) for s in range(12)]
    balled = [with_balls(c, np.random.default_rng(k)) for k, c in enumerate(cases)]
    for plain, case in zip(cases, balled, strict=True):
        assert case.before == plain.before
        assert case.after.chip.bridges == plain.after.chip.bridges
        gap = case.after.chip.size.pitch_mm - case.after.chip.size.land_width_mm
        assert all(2 * b.radius_mm < gap for b in case.after.chip.balls)
    share = np.mean([bool(c.after.chip.balls) for c in balled])
    assert 0 < share < 1


def test_one_row_of_a_tilted_chip_stands_high_and_all_else_is_sound():
    heights_mm = []
    for seed in range(24):
        case = draw_case(np.random.default_rng(seed), seed, 96)
        chip = with_tilt(case, np.random.default_rng(seed)).after.chip
        assert not chip.bridges
        assert {joint.kind for joint in chip.joints.values()} == {"good"}
        toes = toe_poses(chip.size)
        rises = np.array(
            [
                chip.joint(n).lift_mm + chip.rise_mm(toe.x_mm, toe.y_mm)
                for n, toe in enumerate(toes, 1)
            ]
        )
        outer = max(toe.x_mm for toe in toes)
        rows = [rises[[abs(t.x_mm - x) < 1e-6 for t in toes]] for x in (-outer, outer)]
        low, high = sorted(rows, key=max)
        assert np.allclose(low, 0)
        assert np.ptp(high) < 1e-9
        heights_mm.append(float(high[0]))
    tilted = [height for height in heights_mm if height > 1e-9]
    assert 0 < len(tilted) < len(heights_mm)
    assert 0.05 <= min(tilted) <= max(tilted) <= 0.4


@pytest.mark.parametrize(
    ("u", "v", "radius_px", "label"),
    [
        (0.0, -0.3, 8.0, 1),
        (0.2, 0.3, 8.0, 1),
        (0.0, -0.3, 0.5, IGNORE),
        (0.6, -0.3, 8.0, IGNORE),
        (0.0, 1.5, 8.0, 0),
    ],
)
def test_a_ball_counts_where_the_gap_shows_it(u, v, radius_px, label):
    quad = [[0, 0], [0, 300], [240, 300], [240, 0]]
    window = gap_windows(quad, SOIC8)[1]
    at = [[MIDDLE_COL + u * PITCH_PX, TOE_ROW + v * REACH_PX]]
    x, y = apply_homography(window.to_photo, at)[0]
    assert ball_label(window, [[x, y, radius_px]]) == label
    assert ball_label(window, []) == 0
