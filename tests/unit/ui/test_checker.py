"""The tool as the record's checker; the pipeline here is a stand-in."""

from __future__ import annotations

import sys
import types
from pathlib import Path

import numpy as np
import pytest

from tests.unit.record.helpers import make_photo, open_test_job
from ui.checker import tool_checker
from ui.record import add_photo, check_job, load_job, verify_job
from vision.errors import ModelError, PhotoError
from vision.results import Finding, Photo, PhotoReport


def install(monkeypatch, look, compare):
    pipeline = types.ModuleType("vision.pipeline")
    pipeline.look, pipeline.compare_looks = look, compare
    monkeypatch.setitem(sys.modules, "vision.pipeline", pipeline)


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
            path=path, sha256=Path(path).stem, width_px=4, height_px=4, pixels=pixels
        )
        return PhotoReport(photo=photo, quality=Finding(state="unsure"), packages=())

    install(monkeypatch, look, refuse_pair)
    check_job(pair, tool_checker())
    assert len(looked) == len(set(looked)) == 2


def refuse_pair(before, after, **_):
    assert before.photo.path != after.photo.path
    raise PhotoError("after.jpg: too dark; light it from one side.")
