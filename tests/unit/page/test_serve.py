"""Starting the page: its room, its port, and what it does not do unasked."""

from __future__ import annotations

import os
import socket

import pytest
from filelock import FileLock

from ui.page import serve
from ui.page.screens import set_environment
from ui.page.serve import Place, ServeError, cache_of, listening


def test_the_room_is_for_its_owner_alone(tmp_path):
    with cache_of(tmp_path / "jobs") as cache:
        assert cache == tmp_path / "jobs" / ".page"
        if os.name != "nt":
            assert cache.stat().st_mode & 0o077 == 0
        for name in ("incoming", "gradio", "reports", "pictures"):
            assert (cache / name).is_dir()


def test_what_a_killed_run_left_is_cleared_away(tmp_path):
    with cache_of(tmp_path) as cache:
        (cache / "incoming" / "half").write_bytes(b"x")
        (cache / "pictures" / "kept").mkdir()
    with cache_of(tmp_path) as cache:
        assert list((cache / "incoming").iterdir()) == []
        assert (cache / "pictures" / "kept").is_dir()


def test_old_pictures_make_room(tmp_path, monkeypatch):
    monkeypatch.setattr(serve, "MAX_CACHE_BYTES", 150)
    with cache_of(tmp_path) as cache:
        for age, name in enumerate(("new", "middle", "old")):
            folder = cache / "pictures" / name
            folder.mkdir()
            (folder / "view.jpg").write_bytes(b"x" * 100)
            os.utime(folder, (1000 - age, 1000 - age))
    with cache_of(tmp_path) as cache:
        assert [p.name for p in (cache / "pictures").iterdir()] == ["new"]


def test_a_second_page_does_not_clear_the_first_ones_room(tmp_path):
    with cache_of(tmp_path) as first:
        (first / "incoming" / "on its way").write_bytes(b"x")
        with cache_of(tmp_path) as second:
            assert second != first
            assert second.is_dir()
        assert not second.exists()
        assert (first / "incoming" / "on its way").exists()


def test_the_lock_goes_with_its_page(tmp_path):
    with cache_of(tmp_path) as cache:
        pass
    with FileLock(cache / "lock", timeout=0):
        pass


def test_a_taken_port_is_told_with_what_to_do():
    with (
        socket.create_server(("127.0.0.1", 0)) as taken,
        pytest.raises(ServeError, match="choose another port with --port"),
        listening(Place(port=taken.getsockname()[1])),
    ):
        pass


@pytest.mark.parametrize("address", ["no-such-name.invalid", "192.0.2.77", "a..b"])
def test_an_address_of_another_machine_is_told_as_such(address):
    with (
        pytest.raises(ServeError, match=rf"{address}: this is none of this machine"),
        listening(Place(address=address, port=0, lan=True)),
    ):
        pass


def test_without_lan_it_listens_at_this_machine_alone():
    with listening(Place(port=0)) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"


def test_no_setting_of_gradio_is_taken_from_the_environment(tmp_path, monkeypatch):
    monkeypatch.setenv("GRADIO_SHARE", "True")
    monkeypatch.setenv("GRADIO_ALLOWED_PATHS", "/")
    for name in ("GRADIO_ANALYTICS_ENABLED", "HF_HUB_OFFLINE", "GRADIO_TEMP_DIR"):
        monkeypatch.setenv(name, "mine")
    for name in ("HF_HUB_DISABLE_TELEMETRY", "GRADIO_RUN_HISTORY"):
        monkeypatch.setenv(name, "mine")
    set_environment(tmp_path)
    assert "GRADIO_SHARE" not in os.environ
    assert "GRADIO_ALLOWED_PATHS" not in os.environ
    assert os.environ["GRADIO_ANALYTICS_ENABLED"] == "False"
    assert os.environ["HF_HUB_OFFLINE"] == "1"
    assert os.environ["GRADIO_TEMP_DIR"] == str(tmp_path)
