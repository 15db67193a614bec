"""The tool as the record's checker; the pipeline here is a stand-in."""

from __future__ import annotations

import hashlib
import sys
import types
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.unit.record.helpers import make_photo, open_test_job
from tests.unit.side_marks import SOIC_8, marked
from tests.unit.ui.reports import package, pair_report, photo_report
from ui.checker import tool_checker
from ui.own_limits import own_limits
from ui.read_contract import read_pair_report
from ui.record import Corrected, add_event, add_photo, check_job, load_job, verify_job
from vision.decide import CHECKS
from vision.errors import ModelError, PhotoError
from vision.results import Finding, Photo, PhotoReport
from vision.side_check import with_side


def install(monkeypatch, look, compare):
    pipeline = types.ModuleType("vision.pipeline")
    pipeline.look, pipeline.compare_looks = look, compare
    monkeypatch.setitem(sys.modules, "vision.pipeline", pipeline)


def sha256_of(path):
    return hashlib.sha256(Path(path).read_bytes()).hexdigest()


def refuse(*paths, **_):
    raise PhotoError(f"{Path(paths[0]).name}: too dark; light it from one side.")


@pytest.fixture
def pair(tmp_path):
    job = open_test_job(tmp_path / "jobs")
    for shade, stage in ((10, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        add_photo(job, photo, stage=stage, by="T")
    return job


def test_unusable_photos_are_answered_with_their_error(pair, monkeypatch):
    install(monkeypatch, refuse, refuse)
    added = check_job(pair, tool_checker())
    assert [entry.data["answer"]["error"]["code"] for entry in added] == ["photo"] * 3
    assert load_job(pair).tool_decision == "check-by-hand"
    assert str(pair) not in str([entry.data for entry in added])
    assert verify_job(pair).problems == ()


def test_answers_carry_what_they_were_made_with(pair, monkeypatch):
    def look(path, **_):
        pixels = np.zeros((4, 4, 3), dtype=np.uint8)
        sha256 = Path(path).stem
        photo = Photo(path=path, sha256=sha256, width_px=4, height_px=4, pixels=pixels)
        return PhotoReport(photo=photo, quality=Finding(state="unsure"), packages=())

    install(monkeypatch, look, refuse_pair)
    entry = check_job(pair, tool_checker())[0]
    assert entry.data["answer"]["format"] == "dotward.look/1"
    assert sorted(entry.data["made_with"]) == ["limits", "models"]
    assert all(len(sha256) == 64 for sha256 in entry.data["made_with"].values())


def test_a_shops_own_limits_count_in_its_jobs_and_are_recorded(pair, monkeypatch):
    given = []

    def compared(before, after, *, limits, **_):
        given.append(limits.name)
        return replace(pair_report(), before=before, after=after)

    def look(path, **_):
        return photo_report(package(), shown=shown(path))

    def shown(path):
        pixels = np.zeros((4, 4, 3), dtype=np.uint8)
        return Photo(
            path=path, sha256=sha256_of(path), width_px=4, height_px=4, pixels=pixels
        )

    install(monkeypatch, look, compared)
    assert own_limits(pair.parent) is None
    (pair.parent / "limits.toml").write_text(
        "[side_overhang.gull_wing.general]\nmax_mm = 0.05\nsource = 'rule 7'\n"
    )
    added = check_job(pair, tool_checker(own_limits(pair.parent)))
    assert given == ["general with limits.toml"]
    assert "own limits" in added[-1].data["made_with"]


def test_a_missing_network_ends_the_check_and_records_nothing(pair, monkeypatch):
    def no_network(_path, **_):
        raise ModelError("refine.onnx: not there; install the program again.")

    install(monkeypatch, no_network, refuse)
    with pytest.raises(ModelError, match="install the program again"):
        check_job(pair, tool_checker())
    assert load_job(pair).count == 3


def test_a_comparison_uses_the_looks_of_a_moment_ago(pair, monkeypatch):
    looked = []

    def look(path, **_):
        looked.append(path)
        pixels = np.zeros((4, 4, 3), dtype=np.uint8)
        photo = Photo(
            path=path, sha256=sha256_of(path), width_px=4, height_px=4, pixels=pixels
        )
        return PhotoReport(photo=photo, quality=Finding(state="unsure"), packages=())

    install(monkeypatch, look, refuse_pair)
    check_job(pair, tool_checker())
    assert len(looked) == len(set(looked)) == 2


def test_a_package_named_by_hand_reaches_the_look_and_the_comparison(pair, monkeypatch):
    looked, compared = {}, []

    def look(path, *, by_hand, **_):
        looked[Path(path).name] = [v.name for v in by_hand.package]
        return chip_report(path)

    def compare(*_, named, chosen, **__):
        compared.append(({v.lead_count for v in named}, chosen))
        raise PhotoError("not asked here")

    install(monkeypatch, look, compare)
    photo = load_job(pair).photos[0].seq
    add_event(
        pair, Corrected(photo=photo, what="package", value={"name": "SOIC-8"}, by="T")
    )
    check_job(pair, tool_checker())
    assert compared == [({8}, (False, False))]  # a name does not say which chip
    assert sorted(map(bool, looked.values())) == [False, True]


@pytest.mark.parametrize(
    ("name", "state", "words"),
    [("SOIC-8", "ok", []), ("TSSOP-20", "unsure", ["named TSSOP-20, but "])],
)
def test_the_answer_about_a_photo_holds_whether_its_name_fits(
    pair, monkeypatch, name, state, words
):
    install(monkeypatch, lambda path, **_: chip_report(path), refuse_pair)
    seq = load_job(pair).photos[0].seq
    fix = Corrected(photo=seq, what="package", value={"name": name}, by="T")
    add_event(pair, fix)
    named, plain = (row.data["answer"] for row in check_job(pair, tool_checker())[:2])
    assert named["named"]["state"] == state
    assert [reason[:20] for reason in named["named"]["reasons"]] == words
    assert "named" not in plain


def chip_report(path):
    pixels = np.zeros((4, 4, 3), dtype=np.uint8)
    sha256 = Path(path).stem
    shown = Photo(path=path, sha256=sha256, width_px=4, height_px=4, pixels=pixels)
    return photo_report(package(variant=SOIC_8.name), shown=shown)


def put_side(job, tmp_path, picture, leads=(1, 4)):
    path = tmp_path / "side.png"
    cv2.imwrite(str(path), picture)
    return add_photo(job, path, stage="side", by="T", leads=leads).seq


@pytest.mark.parametrize(
    "case",
    [
        ((0, 0, 0, 0), (1, 4), "ok", "no-fault-seen"),
        ((0, 0, 0.3, 0), (1, 4), "fault", "stop"),
        ((0, 0, 0.3, 0), (), "fault", "stop"),
        (None, (1, 4), "unsure", "no-fault-seen"),
    ],
)
@pytest.mark.usefixtures("by_marks")
def test_a_job_judges_its_side_photos_and_counts_them(
    pair, tmp_path, monkeypatch, case
):
    lifts, leads, state, decision = case

    def compare(before, after, *, side_photos, **_):
        checks = {name: Finding(state="ok") for name in CHECKS}
        chips = before.packages[0], after.packages[0]
        report = pair_report(
            before=before, after=after, checks=checks, decision="no-fault-seen"
        )
        report = replace(report, before_package=chips[0], after_package=chips[1])
        return with_side(report, side_photos)

    install(monkeypatch, lambda path, **_: chip_report(path), compare)
    picture = np.full((750, 1000, 3), 90, np.uint8) if lifts is None else marked(lifts)
    seq = put_side(pair, tmp_path, picture, leads)
    check_job(pair, tool_checker())
    job = load_job(pair)
    (answer,) = (n.event.answer for n in job.answers if n.event.photos == (seq,))
    assert answer["format"] == "dotward.side/1"
    assert answer["state"] == state
    assert answer["leads"] == (list(leads) or None)
    assert len(answer["feet"]) == (0 if lifts is None else 4)
    assert job.tool_decision == decision
    (row,) = job.answer_pair.event.answer["side"]
    assert row["state"] == state
    assert str(pair) not in str(row)


def test_without_a_known_chip_a_side_photo_is_not_measured(pair, tmp_path, monkeypatch):
    def look(path, **_):
        return replace(chip_report(path), packages=())

    install(monkeypatch, look, refuse_pair)
    seq = put_side(pair, tmp_path, marked())
    check_job(pair, tool_checker())
    answers = {n.event.photos: n.event.answer for n in load_job(pair).answers}
    assert "kind of chip is not known" in answers[(seq,)]["reasons"][0]


def test_sizes_whose_rows_differ_give_a_side_photo_no_scale(
    pair, tmp_path, monkeypatch
):
    def look(path, **_):
        chip = package(family="QFP", lead_count=64, variant=None)
        return replace(chip_report(path), packages=(chip,))

    install(monkeypatch, look, refuse_pair)
    seq = put_side(pair, tmp_path, marked())
    check_job(pair, tool_checker())
    answers = {n.event.photos: n.event.answer for n in load_job(pair).answers}
    assert answers[(seq,)]["state"] == "unsure"
    assert "size of the chip is not known" in answers[(seq,)]["reasons"][0]
    assert "LQFP-64 7x7 P0.4" in answers[(seq,)]["reasons"][0]


def test_a_side_photo_that_cannot_be_opened_does_not_spoil_the_pair(
    pair, tmp_path, monkeypatch
):
    def compare(*looks, side_photos, **_):
        assert side_photos == []
        return replace(pair_report(), before=looks[0], after=looks[1])

    install(monkeypatch, lambda path, **_: chip_report(path), compare)
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"\xff\xd8\xff" + b"x" * 200)
    add_photo(pair, broken, stage="side", by="T", leads=(1, 4))
    check_job(pair, tool_checker())
    answer = load_job(pair).answer_pair.event.answer
    assert answer["side"][0]["feet"] == []
    (row,) = read_pair_report(answer).side
    assert row.leads == (1, 4)
    assert not row.view


def refuse_pair(before, after, **_):
    assert before.photo.path != after.photo.path
    raise PhotoError("after.jpg: too dark; light it from one side.")
