"""The networks run without leaving a trace at home or asking for an address."""

import os
import subprocess
import sys
from pathlib import Path

LOOK = """
import socket
asked = []
socket.getaddrinfo = lambda *a, **k: asked.append(a) or []
import numpy as np
from vision.networks import run
from vision.strips import COLS, ROWS
run("joints", np.zeros((1, ROWS, COLS, 7), np.uint8))
print(asked)
"""


def test_nothing_is_written_at_home_and_nobody_is_asked(tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    env = os.environ | {"HOME": str(home), "USERPROFILE": str(home)}
    for name in ("ORT_DISABLE_TELEMETRY", "XDG_CACHE_HOME"):
        env.pop(name, None)
    said = subprocess.run(
        [sys.executable, "-c", LOOK],
        env=env,
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.strip() == "[]"
    assert list(home.rglob("*")) == []
