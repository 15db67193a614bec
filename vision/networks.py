"""Runs the networks of ``models/`` after checking that the files are known ones."""

from __future__ import annotations

import hashlib
import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import onnxruntime

from vision.errors import ModelError
from vision.spare import CORES, start_aside

if TYPE_CHECKING:
    import numpy.typing as npt

ALONE = ("board", "side")
"""They look at one large picture, on all cores.  The others look at several small ones,
each on a core: two cores share one picture in two thirds of the time, not in half."""
FOLDER = Path(__file__).resolve().parent.parent / "models"


@cache
def registry() -> dict[str, dict[str, Any]]:
    """Return the rows of ``models/registry.toml`` by network name.

    Raises
    ------
    ModelError
        The registry is missing or broken.
    """
    path = FOLDER / "registry.toml"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        message = f"{path.name}: cannot be read ({error}). Install dotward again."
        raise ModelError(message) from error


@cache
def _session(name: str) -> onnxruntime.InferenceSession:
    row = registry()[name]
    path = FOLDER / str(row["file"])
    try:
        data = path.read_bytes()
    except OSError as error:
        message = f"{path.name}: network file not found. Install dotward again."
        raise ModelError(message) from error
    if hashlib.sha256(data).hexdigest() != row["sha256"]:
        message = f"{path.name}: the network file was altered. Install dotward again."
        raise ModelError(message)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = CORES if name in ALONE else 1
    options.log_severity_level = 3
    # Without its own store of memory a run takes no longer and holds 130 MB less.
    options.enable_cpu_mem_arena = False
    # Waiting threads sleep: other programs of the bench computer keep their cores.
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    return onnxruntime.InferenceSession(
        data, options, providers=["CPUExecutionProvider"]
    )


def load_networks() -> None:
    """Load every network now, so that the first photo need not wait for it.

    Raises
    ------
    ModelError
        A network file is missing or altered.
    """
    for name in registry():
        _session(name)


def run(name: str, pictures: npt.NDArray[np.uint8]) -> list[npt.NDArray[np.float32]]:
    """Run one network.

    Parameters
    ----------
    name : str
        A row of the registry, such as ``board`` or ``joints``.
    pictures : ndarray of shape (n, rows, cols, channels), uint8
        Pictures of one size, channels in the reverse of the order that the network
        was taught: BGR for RGB.

    Returns
    -------
    list of ndarray
        The network's outputs, the first axis being the picture.

    Raises
    ------
    ModelError
        A network file is missing or altered.
    """
    if name in ALONE or len(pictures) == 1:
        return _run(name, pictures)
    half = len(pictures) // 2
    aside = start_aside(_run, name, pictures[half:])
    if aside is None:
        return _run(name, pictures)
    first, second = _run(name, pictures[:half]), aside.result()
    return [np.concatenate(pair) for pair in zip(first, second, strict=True)]


def _run(name: str, pictures: npt.NDArray[np.uint8]) -> list[npt.NDArray[np.float32]]:
    tensor = np.ascontiguousarray(pictures[..., ::-1].transpose(0, 3, 1, 2))
    return _session(name).run(None, {"picture": tensor.astype(np.float32) / 255})  # type: ignore[no-any-return]
