"""The gate in front of everything the page serves: who may ask, and for what.

Pure ASGI, so that streams pass through unbuffered.  What is not named here is
closed, whatever the program behind the gate would answer.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, MutableMapping

    Scope = MutableMapping[str, Any]
    Message = MutableMapping[str, Any]
    Receive = Callable[[], Awaitable[Message]]
    Send = Callable[[Message], Awaitable[None]]
    App = Callable[[Scope, Receive, Send], Awaitable[None]]

PAGES = ("/", "/review", "/enter")
_OPEN = frozenset(
    {
        *PAGES,
        "/healthz",
        "/leave",
        "/favicon.ico",
        "/theme.css",
        "/gradio_api/queue/join",
        "/gradio_api/queue/data",
        "/gradio_api/startup-events",
        "/gradio_api/reset",
        "/gradio_api/cancel",
    }
)
_OPEN_BELOW = (
    "/own/",
    "/api/",
    "/job/",
    "/assets/",
    "/static/",
    "/svelte/",
    "/gradio_api/heartbeat/",
)
_WITHOUT_SESSION = frozenset({"/healthz", "/enter", "/favicon.ico"})
_WITHOUT_SESSION_BELOW = ("/own/",)
_READING = frozenset({"GET", "HEAD"})
# Gradio puts its settings into the page as a script, hence 'unsafe-inline'.
CONTENT_POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self' 'unsafe-inline'",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        "media-src 'self' blob:",
        "connect-src 'self'",
        "object-src 'none'",
        "base-uri 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
# A report brings its own style and pictures and no script at all.
REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(self), microphone=(), geolocation=()"),
)


class Door(Protocol):
    """Tells whether a request comes from someone who was let in."""

    def is_inside(self, cookie: str) -> bool:
        """Tell whether the ``Cookie`` header holds a session that has not ended."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a request is turned away."""

    status: int
    sentence: str


class Guard:
    """Answers refused requests itself and hands on the rest.

    Parameters
    ----------
    app : ASGI application
        What is guarded.
    hosts : frozenset of str
        The ``Host`` values under which the page may be asked for, port included.
    door : Door or None
        Who was let in; None where being on this machine is enough.
    """

    def __init__(
        self, app: App, *, hosts: frozenset[str], door: Door | None = None
    ) -> None:
        self._app = app
        self._hosts = hosts
        self._door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        refused = self.refusal(scope)
        if refused is not None:
            await _answer(_hardened(send, scope), refused)
            return
        await self._app(scope, receive, _hardened(send, scope))

    def refusal(self, scope: Scope) -> Refusal | None:
        """Say why a request is turned away, if it is.

        Parameters
        ----------
        scope : dict
            The ASGI scope of an HTTP request.

        Returns
        -------
        Refusal or None
            None where it may pass.
        """
        headers = _headers(scope)
        if headers.get("host", "").lower() not in self._hosts:
            return Refusal(status=421, sentence="This page is not known by that name.")
        path = scope["path"]
        if not is_open(path):
            return Refusal(status=404, sentence="There is nothing here.")
        if not self._is_own(scope, headers):
            return Refusal(
                status=403, sentence="Requests from other websites are refused."
            )
        if self._door is None or _needs_no_session(path):
            return None
        if self._door.is_inside(headers.get("cookie", "")):
            return None
        return Refusal(
            status=401,
            sentence="Scan the code again that `dotward page --lan` printed.",
        )

    def _is_own(self, scope: Scope, headers: dict[str, str]) -> bool:
        """Tell whether the request does not come from another website."""
        origin = headers.get("origin")
        if origin is not None and urlsplit(origin).netloc.lower() not in self._hosts:
            return False
        site = headers.get("sec-fetch-site", "none")
        if site in ("same-origin", "none"):
            return True
        # A link on another page may lead here, but only to a page, to be looked at.
        return (
            scope["method"] in _READING
            and headers.get("sec-fetch-mode") == "navigate"
            and headers.get("sec-fetch-dest") == "document"
            and scope["path"] in PAGES
        )


def is_open(path: str) -> bool:
    """Tell whether a path is served at all.

    Parameters
    ----------
    path : str
        Path of the request, percent signs already decoded.

    Returns
    -------
    bool
        False for everything that is not named in this module.
    """
    if any(part in path for part in ("..", "//", "\\")) or not path.isprintable():
        return False
    return path in _OPEN or path.startswith(_OPEN_BELOW)


def _needs_no_session(path: str) -> bool:
    return path in _WITHOUT_SESSION or path.startswith(_WITHOUT_SESSION_BELOW)


def _headers(scope: Scope) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, value in scope["headers"]:
        key = name.decode("latin-1").lower()
        text = value.decode("latin-1")
        # Two Host headers are an attack; two others are of no use to us.
        found[key] = f"{found[key]}, {text}" if key in found else text
    return found


def _hardened(send: Send, scope: Scope) -> Send:
    """Give every answer the protective headers and take CORS off it."""
    is_report = scope["path"].startswith("/job/") and scope["path"].endswith("/report")
    policy = REPORT_POLICY if is_report else CONTENT_POLICY
    added = ((b"content-security-policy", policy.encode()), *_HEADERS)

    async def send_hardened(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = {name for name, _ in added}
            kept = [
                (name, value)
                for name, value in message.get("headers", [])
                if name.lower() not in own
                and not name.lower().startswith(b"access-control-")
            ]
            message = {**message, "headers": [*kept, *added]}
        await send(message)

    return send_hardened


async def _answer(send: Send, refused: Refusal) -> None:
    body = json.dumps({"message": refused.sentence}).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"cache-control", b"no-store"),
        (b"content-length", str(len(body)).encode()),
    ]
    await send(
        {"type": "http.response.start", "status": refused.status, "headers": headers}
    )
    await send({"type": "http.response.body", "body": body})
