"""Starts the page: address, folders, worker, certificate; ends all of it again."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import socket
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import uvicorn
from filelock import FileLock, Timeout

from ui.page.context import PageContext
from ui.page.worker import Worker
from ui.record.files import told_as_record_error
from vision.errors import VisionError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from ui.page.lan import Door

LOOPBACK = "127.0.0.1"
PORT = 7717
CACHE_FOLDER = ".page"
MAX_CACHE_BYTES = 2_000_000_000
GOODBYE_S = 3


class ServeError(VisionError):
    """The page cannot be started."""

    code = "serve"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the page is served: ``address`` to listen at, and its security."""

    address: str = LOOPBACK
    port: int = PORT
    lan: bool = False


def serve(home: Path, place: Place, tell: Callable[[str], None]) -> None:
    """Serve the page until it is told to stop.

    Parameters
    ----------
    home : Path
        The folder of all jobs; made if missing.
    place : Place
        Where to listen.
    tell : callable
        Takes each line for the person who started it.

    Raises
    ------
    VisionError
        The port is taken, or the folder cannot be written to.
    """
    os.umask(0o077)
    # Gradio reads its settings from the environment while it is imported, and the
    # application imports Gradio.
    from ui.page.screens import set_environment  # noqa: PLC0415

    with listening(place) as listener, cache_of(home) as cache:
        set_environment(cache / "gradio")
        from ui.page.app import build_app  # noqa: PLC0415

        port = listener.getsockname()[1]
        worker = Worker()
        context = PageContext(home=home, cache=cache, worker=worker, lan=place.lan)
        try:
            door, hosts, tls, lines = _security(place, port, cache)
            app = build_app(context, hosts=hosts, door=door)
            config = uvicorn.Config(
                app,
                log_level="critical",  # errors are logged by the application
                access_log=False,
                proxy_headers=False,
                server_header=False,
                timeout_graceful_shutdown=GOODBYE_S,
                **tls,
            )
            _Server(config, lambda: tell("\n".join(lines))).run([listener])
        finally:
            worker.close()


class _Server(uvicorn.Server):
    """Says where the page is as soon as it answers."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], object]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._ready()


@contextlib.contextmanager
def listening(place: Place) -> Iterator[socket.socket]:
    """Take the port before anything else is done.

    Parameters
    ----------
    place : Place

    Yields
    ------
    socket

    Raises
    ------
    ServeError
        The port or the address cannot be had.
    """
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name != "nt":  # on Windows this would let two programs share the port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((place.address, place.port))
    except (OSError, UnicodeError) as error:
        listener.close()
        raise ServeError(_why_not(place, error)) from error
    with listener:
        yield listener


def _why_not(place: Place, error: OSError | UnicodeError) -> str:
    """Say why a port or an address cannot be had, and what to do."""
    number = getattr(error, "errno", None)
    is_name = isinstance(error, socket.gaierror | UnicodeError)
    if is_name or number == errno.EADDRNOTAVAIL:
        return (
            f"{place.address}: this is none of this machine's addresses. Leave "
            "--address out to listen at all of them, or name one, such as 192.168.1.20."
        )
    why = "is in use by another program. Stop that program, or choose"
    if number != errno.EADDRINUSE:
        why = f"cannot be listened at ({getattr(error, 'strerror', error)}). Choose"
    return f"{place.address}:{place.port} {why} another port with --port."


@contextlib.contextmanager
def cache_of(home: Path) -> Iterator[Path]:
    """Make room, for this person alone, for what can be made again.

    Parameters
    ----------
    home : Path
        The folder of all jobs.

    Yields
    ------
    Path
        A folder that only its owner may read.  Where the jobs' folder cannot be
        written to, or another page uses it, it lies among the temporary files and is
        gone in the end.
    """
    with told_as_record_error(str(home)):
        home.mkdir(parents=True, exist_ok=True)
    cache = home / CACHE_FOLDER
    with contextlib.ExitStack() as held:
        try:
            cache.mkdir(mode=0o700, exist_ok=True)
            cache.chmod(0o700)
            held.enter_context(FileLock(cache / "lock", timeout=0))
        except (OSError, Timeout):  # read-only, or another page serves these jobs
            temporary = tempfile.TemporaryDirectory(prefix="dotward-")
            cache = Path(held.enter_context(temporary))
        _make_ready(cache)
        yield cache


def _make_ready(cache: Path) -> None:
    """Clear away what a run that was killed left behind, and the oldest pictures."""
    for name in ("incoming", "gradio", "reports"):
        shutil.rmtree(cache / name, ignore_errors=True)
        (cache / name).mkdir(mode=0o700)
    pictures = cache / "pictures"
    pictures.mkdir(mode=0o700, exist_ok=True)
    sized = []
    for folder in pictures.iterdir():
        files = list(folder.iterdir()) if folder.is_dir() else []
        size_bytes = sum(path.stat().st_size for path in files)
        sized.append((folder.stat().st_mtime, size_bytes, folder))
    total = sum(size_bytes for _, size_bytes, _ in sized)
    for _, size_bytes, folder in sorted(sized):
        if total <= MAX_CACHE_BYTES:
            break
        shutil.rmtree(folder, ignore_errors=True)
        total -= size_bytes


def _security(
    place: Place, port: int, cache: Path
) -> tuple[Door | None, frozenset[str], dict[str, Any], list[str]]:
    """Say who is let in, under which names, how it is encrypted, and what to print."""
    if not place.lan:
        hosts = frozenset(f"{name}:{port}" for name in (LOOPBACK, "localhost"))
        lines = [f"The page is ready: http://{LOOPBACK}:{port}/", "Ctrl-C ends it."]
        return None, hosts, {}, lines
    # Certificates and codes are only needed here, and slow to load.
    from ui.page.lan import open_to_lan  # noqa: PLC0415

    return open_to_lan(place.address, port, cache)
