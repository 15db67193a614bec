"""Network files are checked before they are run."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from vision import networks
from vision.errors import ModelError

PICTURE = np.zeros((1, 64, 64, 3), np.uint8)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A copy of the networks that a test may spoil."""
    for name in ("registry.toml", "board.onnx"):
        shutil.copy(networks.FOLDER / name, tmp_path / name)
    monkeypatch.setattr(networks, "FOLDER", tmp_path)
    networks.registry.cache_clear()
    networks._session.cache_clear()
    yield tmp_path
    networks.registry.cache_clear()
    networks._session.cache_clear()


def test_an_untouched_network_answers(folder):
    (maps,) = networks.run("board", PICTURE)
    assert maps.shape == (1, 7, 16, 16)
    assert np.isfinite(maps).all()


def test_an_altered_network_is_refused(folder):
    file = folder / "board.onnx"
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 1
    file.write_bytes(bytes(data))
    with pytest.raises(ModelError, match="altered"):
        networks.run("board", PICTURE)


def test_a_missing_network_is_said_so(folder):
    (folder / "board.onnx").unlink()
    with pytest.raises(ModelError, match="not found"):
        networks.run("board", PICTURE)


def test_a_broken_registry_is_said_so(folder):
    (folder / "registry.toml").write_text("[board", encoding="utf-8")
    with pytest.raises(ModelError, match=r"registry\.toml"):
        networks.run("board", PICTURE)


def test_several_pictures_give_what_each_gives_alone():
    rng = np.random.default_rng(4)
    pictures = rng.integers(0, 255, (3, 96, 96, 3), np.uint8)
    together = networks.run("crop", pictures)
    alone = [networks.run("crop", one[None]) for one in pictures]
    for k, output in enumerate(together):
        assert output == pytest.approx(np.concatenate([a[k] for a in alone]), abs=1e-4)
