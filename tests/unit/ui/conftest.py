"""Runs commands as a person would; the pipeline answers by the photo's name."""

from __future__ import annotations

import json
import sys
import types
from pathlib import Path

import pytest

from tests.unit.ui.reports import (
    not_registered,
    package,
    pair_report,
    photo,
    photo_report,
    turned,
    unsure,
)
from ui import cli
from vision.errors import PhotoError
from vision.results import Finding


def fake_look(path):
    """Answer by the file's name, so that a test reads like its photos."""
    name = Path(path).name
    if "cut" in name:
        raise PhotoError(f"{name}: ends early; take it from the camera again.")
    if "odd" in name:
        message = "nobody thought of this"
        raise ZeroDivisionError(message)
    found = unsure() if "doubt" in name else None
    return photo_report(package(found), shown=photo(str(path), value=len(str(path))))


def fake_compare(before, after, **_asked):
    name = Path(after).name
    if "cut" in name:
        raise PhotoError(f"{name}: ends early; take it from the camera again.")
    if "turned" in name:
        return turned()
    if "far" in name:
        return not_registered()
    if "good" in name:
        return pair_report(
            checks={"lands": Finding(state="ok")}, decision="no-fault-seen"
        )
    return pair_report()


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    pipeline = types.ModuleType("vision.pipeline")
    pipeline.look, pipeline.compare = fake_look, fake_compare
    monkeypatch.setitem(sys.modules, "vision.pipeline", pipeline)
    monkeypatch.chdir(tmp_path)

    def run_command(*words):
        monkeypatch.setattr(sys, "argv", ["dotward", *map(str, words)])
        with pytest.raises(SystemExit) as stop:
            cli.main()
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return int(stop.value.code or 0), out, err

    return run_command


def make(*names):
    for name in names:
        Path(name).parent.mkdir(parents=True, exist_ok=True)
        Path(name).write_bytes(b"x")


def lines(out):
    return [json.loads(line) for line in out.splitlines()]


def plain(text):
    """Give what a usage error says, without the frame around it."""
    return " ".join(text.replace("\u2502", " ").split())
