"""Files are written beside those of a person, never over one."""

from __future__ import annotations

import errno
import hashlib
from pathlib import Path

import pytest

from tests.unit.ui.conftest import lines, make
from tests.unit.ui.reports import package, photo, photo_report
from ui import new_file
from ui.new_file import write_new
from ui.pictures import save_look

DIGEST = "0123456789abcdef"
TAG = hashlib.sha256(b"new").hexdigest()[:8]


def test_names_that_are_taken_get_digests_until_one_is_free(tmp_path):
    path = tmp_path / "a.jpg"
    assert write_new(path, b"old", DIGEST).name == "a.jpg"
    assert write_new(path, b"other", DIGEST).name == "a_01234567.jpg"
    assert write_new(path, b"new", DIGEST).name == f"a_01234567_{TAG}.jpg"
    kept = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert sorted(kept.values()) == [b"new", b"old", b"other"]
    for data in (b"old", b"other", b"new"):
        assert write_new(path, data, DIGEST).read_bytes() == data
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == kept


def test_a_folder_or_a_link_of_that_name_stays(tmp_path):
    (tmp_path / "a.jpg").mkdir()
    (tmp_path / "b.jpg").symlink_to(tmp_path / "elsewhere.jpg")
    for name in ("a", "b"):
        assert write_new(tmp_path / f"{name}.jpg", b"new").name == f"{name}_{TAG}.jpg"
    assert not (tmp_path / "elsewhere.jpg").exists()


def test_a_file_that_could_not_be_written_whole_does_not_stay(tmp_path, monkeypatch):
    class Full:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            return False

        def write(self, _):
            raise OSError(errno.ENOSPC, "No space left on device")

    def opened(path, _mode):
        path.touch()
        return Full()

    monkeypatch.setattr(Path, "open", opened)
    with pytest.raises(OSError, match="No space"):
        new_file.write_new(tmp_path / "a.jpg", b"new")
    assert not list(tmp_path.iterdir())


def test_a_photo_is_never_drawn_over_nor_a_drawing_judged(run):
    make("ow/x.jpg", "ow/x_look.jpg")
    code, out, _ = run("look", "ow/x.jpg", "ow/x_look.jpg", "--draw", "ow")
    assert code == 0
    assert Path("ow/x_look.jpg").read_bytes() == b"x"
    assert "ow/x_look.jpg\n" in out
    assert len(list(Path("ow").iterdir())) == 4


def test_a_drawing_is_not_judged_for_a_photo_that_was_not_there(run):
    make("x.jpg")
    code, out, err = run("look", "x.jpg", "x_look.jpg", "--draw", ".", "--jsonl")
    assert code == 4
    first, second = lines(out)
    assert "packages" in first
    assert second["error"]["code"] == "photo"
    assert "x_look.jpg: there is no such file. Check the name" in err


def test_a_later_photo_of_the_same_name_leaves_the_drawing_before(tmp_path):
    first = save_look(photo_report(package(), shown=photo("p.jpg", value=3)), tmp_path)
    kept = first.read_bytes()
    later = photo_report(package(), shown=photo("p.jpg", value=9))
    second = save_look(later, tmp_path)
    assert first.read_bytes() == kept != second.read_bytes()
    assert second.name == f"p_look_{later.photo.sha256[:8]}.jpg"
    assert save_look(later, tmp_path) == second
