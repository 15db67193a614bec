"""Lets devices on the same network in: a token, sessions that end, a certificate.

The token stands behind ``#`` in the address of the printed code, so no browser sends
or logs it as an address; the entry page posts it.  Wrong tokens are counted.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import socket
import time
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from typing import TYPE_CHECKING, Any

import segno
from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, JSONResponse, Response

from ui.page.bodies import read_json, text_of
from ui.page.certificate import certificate_for

if TYPE_CHECKING:
    from collections.abc import Callable

COOKIE = "__Host-dotward"
SESSION_S = 8 * 3600.0
"""A session ends after a working day, used or not."""
IDLE_S = 3600.0
"""A session that nobody used for this long has ended."""
MAX_WRONG = 5
"""So many wrong tokens from one address, and it has to wait."""
MAX_WRONG_IN_ALL = 50
"""So many from anywhere, and the token is dead until the page is started again."""
WAIT_S = 300.0
MAX_SESSIONS = 50
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
_ENTER = Path(__file__).parent / "static" / "enter.html"


def new_token() -> str:
    """Make up a token of 16 letters and digits, none of them easily mistaken.

    Returns
    -------
    str
        Four groups of four; about 79 bits.
    """
    letters = [secrets.choice(_LETTERS) for _ in range(16)]
    return "-".join("".join(letters[i : i + 4]) for i in range(0, 16, 4))


class Door:
    """Who was let in.  Sessions live in memory: a restart ends them all.

    Parameters
    ----------
    token : str
        What opens the door.
    clock : callable, optional
        Gives seconds that never go back.
    """

    def __init__(
        self, token: str, *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._token = _plain(token)
        self._clock = clock
        self._sessions: dict[str, tuple[float, float]] = {}
        self._wrong: dict[str, list[float]] = {}
        self._wrong_in_all = 0

    def let_in(self, token: str, address: str) -> str | None:
        """Open a session for someone who knows the token.

        Parameters
        ----------
        token : str
            What was given; case, hyphens and spaces do not matter.
        address : str
            Where it came from.

        Returns
        -------
        str or None
            The session's secret, or None for a wrong token.
        """
        given = _plain(token)
        if not hmac.compare_digest(given.encode(), self._token.encode()):
            self._wrong_in_all += 1
            self._wrong[address] = [*self._recent(address), self._clock()]
            return None
        self._forget_ended()
        if len(self._sessions) >= MAX_SESSIONS:
            oldest = min(self._sessions, key=lambda key: self._sessions[key][1])
            del self._sessions[oldest]
        secret = secrets.token_urlsafe(32)
        now = self._clock()
        self._sessions[_hash(secret)] = (now, now)
        return secret

    def must_wait(self, address: str) -> bool:
        """Tell whether an address has given too many wrong tokens.

        Parameters
        ----------
        address : str
            Where a token comes from.

        Returns
        -------
        bool
        """
        too_many = len(self._recent(address)) >= MAX_WRONG
        return too_many or self._wrong_in_all >= MAX_WRONG_IN_ALL

    def is_inside(self, cookie: str) -> bool:
        """Tell whether a ``Cookie`` header holds a session that has not ended.

        Parameters
        ----------
        cookie : str
            The header.

        Returns
        -------
        bool
            True counts as use of the session.
        """
        key = _hash(_secret_in(cookie))
        if key not in self._sessions:
            return False
        begun_s, used_s = self._sessions[key]
        now = self._clock()
        if now - begun_s > SESSION_S or now - used_s > IDLE_S:
            del self._sessions[key]
            return False
        self._sessions[key] = (begun_s, now)
        return True

    def leave(self, cookie: str) -> None:
        """End the session that a ``Cookie`` header holds.

        Parameters
        ----------
        cookie : str
            The header.
        """
        self._sessions.pop(_hash(_secret_in(cookie)), None)

    def router(self) -> APIRouter:
        """Give the routes of the entry.

        Returns
        -------
        APIRouter
        """
        router = APIRouter()
        router.add_api_route("/enter", _entry_page, methods=["GET"])
        router.add_api_route("/enter", self._enter, methods=["POST"])
        router.add_api_route("/leave", self._leave, methods=["POST"])
        return router

    async def _enter(self, request: Request) -> Response:
        address = request.client.host if request.client else ""
        if self.must_wait(address):
            message = (
                "Too many wrong codes. Wait five minutes; if it stays, start the page "
                "again and scan its new code."
            )
            return JSONResponse({"message": message}, status_code=429)
        token = text_of(await read_json(request), "token")
        secret = self.let_in(token, address)
        if secret is None:
            message = "That code is wrong. Scan the code that the page printed."
            return JSONResponse({"message": message}, status_code=403)
        answer = JSONResponse({})
        answer.set_cookie(
            COOKIE,
            secret,
            max_age=int(SESSION_S),
            secure=True,
            httponly=True,
            samesite="strict",
        )
        return answer

    async def _leave(self, request: Request) -> Response:
        self.leave(request.headers.get("cookie", ""))
        answer = JSONResponse({})
        answer.delete_cookie(COOKIE, secure=True, httponly=True, samesite="strict")
        return answer

    def _recent(self, address: str) -> list[float]:
        now = self._clock()
        return [at for at in self._wrong.get(address, []) if now - at < WAIT_S]

    def _forget_ended(self) -> None:
        now = self._clock()
        self._sessions = {
            key: (begun_s, used_s)
            for key, (begun_s, used_s) in self._sessions.items()
            if now - begun_s <= SESSION_S and now - used_s <= IDLE_S
        }


def open_to_lan(
    address: str, port: int, keep: Path
) -> tuple[Door, frozenset[str], dict[str, Any], list[str]]:
    """Make everything ready for other devices.

    Parameters
    ----------
    address : str
        Where the page listens; ``0.0.0.0`` is everywhere.
    port : int
        The port.
    keep : Path
        Where the certificate is kept, so that a phone needs to be told only once.

    Returns
    -------
    (Door, frozenset of str, dict, list of str)
        The door, the names the page answers to, uvicorn's settings, and the lines to
        print.
    """
    names = own_names(address)
    certificate, key, fingerprint = certificate_for(names, keep)
    token = new_token()
    hosts = frozenset(f"{name.lower()}:{port}" for name in names)
    url = f"https://{names[0]}:{port}"
    code = segno.make(f"{url}/enter#{token}", error="m", micro=False)
    lines = [
        f"The page is ready for devices on this network: {url}/",
        "Scan this with the phone, or open the address and type the code.",
        "",
        *_drawn(code),
        "",
        f"Code: {token}",
        "The phone warns once that it does not know the certificate. Its SHA-256",
        f"fingerprint must be {fingerprint}",
        f"On this machine: https://127.0.0.1:{port}/enter#{token}",
        "Anyone on this network who has the code can read and change the jobs.",
        "Ctrl-C ends it and all sessions.",
    ]
    tls = {"ssl_certfile": str(certificate), "ssl_keyfile": str(key)}
    return Door(token), hosts, tls, lines


def own_names(address: str) -> tuple[str, ...]:
    """Name the addresses under which this machine is reached, the best one first.

    Parameters
    ----------
    address : str
        Where the page listens.

    Returns
    -------
    tuple of str
    """
    found = [address] if address != "0.0.0.0" else [_outward(), *_by_name()]
    host = socket.gethostname()
    names = [*found, "127.0.0.1", "localhost", host, f"{host.split('.')[0]}.local"]
    return tuple(dict.fromkeys(name for name in names if name))


def _outward() -> str:
    """Give the address this machine would use; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address for documentation (RFC 5737): asked of the routing table only.
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return ""


def _by_name() -> list[str]:
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        return []
    return [str(row[4][0]) for row in found]


def _drawn(code: segno.QRCode) -> list[str]:
    """Draw a code with half blocks, dark modules as spaces on a light ground."""
    rows = [list(row) for row in code.matrix_iter(border=2)]
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    blocks = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
    pairs = zip(rows[::2], rows[1::2], strict=True)
    return [
        "".join(blocks[bool(a), bool(b)] for a, b in zip(top, low, strict=True))
        for top, low in pairs
    ]


def _entry_page() -> Response:
    headers = {"cache-control": "no-store"}
    return FileResponse(_ENTER, media_type="text/html", headers=headers)


def _plain(token: str) -> str:
    return "".join(char for char in token.lower() if char.isalnum())[:64]


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _secret_in(header: str) -> str:
    try:
        found = SimpleCookie(header).get(COOKIE)
    except CookieError:
        return ""
    return found.value if found else ""
