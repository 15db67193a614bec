"""The tool as the record's checker: answers as JSON, with what made them."""

from __future__ import annotations

import hashlib
from importlib import metadata
from pathlib import Path
from typing import Any

from ui.contract import (
    error_json,
    pair_error_json,
    pair_report_json,
    photo_report_json,
)
from ui.record import Checker
from vision.errors import PhotoError, VisionError

_ROOT = Path(__file__).resolve().parent.parent
_MADE_WITH = {
    "models": _ROOT / "models" / "registry.toml",
    "limits": _ROOT / "vision" / "data" / "limits.toml",
}


def tool_checker() -> Checker:
    """Give the checker that looks with this program's own pipeline.

    Returns
    -------
    Checker
        A photo it cannot use gets an answer with ``error``.

    Raises
    ------
    VisionError
        The pipeline cannot be loaded, for instance for want of a network.
    """
    # Loading the networks takes a moment, so only a check pays for it.
    from vision.pipeline import compare, look  # noqa: PLC0415

    def look_json(path: Path) -> dict[str, Any]:
        try:
            return photo_report_json(look(path))
        except PhotoError as error:
            return error_json(path.name, error)

    def compare_json(before: Path, after: Path) -> dict[str, Any]:
        try:
            return pair_report_json(compare(before, after))
        except PhotoError as error:
            return pair_error_json(before.name, after.name, error)

    return Checker(
        look=look_json,
        compare=compare_json,
        tool_version=_version(),
        made_with={name: _sha256(path) for name, path in _MADE_WITH.items()},
    )


def _version() -> str:
    try:
        return metadata.version("dotward")
    except metadata.PackageNotFoundError:
        return "not installed"


def _sha256(path: Path) -> str:
    """Hash a file; the registry holds the hash of every network in turn."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        message = (
            f"{path.name}: cannot be read ({error.strerror}), so an answer could not "
            "say what it was made with. Install the program again."
        )
        raise VisionError(message) from error
