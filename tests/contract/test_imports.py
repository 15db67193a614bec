"""Imports run one way; the rules stand in pyproject.toml."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_imports_run_one_way():
    command = [
        sys.executable,
        "-c",
        "from importlinter.cli import lint_imports_command; lint_imports_command()",
        "--no-cache",
    ]
    done = subprocess.run(
        command,
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "PATH": "", "HOME": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
