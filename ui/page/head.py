"""Puts our own lines into the head of the pages as they leave.

Gradio adds such lines by script, after it has started; standing in the page itself,
our scripts load at once and beside Gradio's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ui.page.gate import App, Message, Receive, Scope, Send

_MARK = b"<head>"


class HeadLines:
    """Answers a request for a page with our lines in its head.

    Parameters
    ----------
    app : ASGI application
        Gives the pages.
    lines : mapping of str to str
        What to add, by path.
    """

    def __init__(self, app: App, *, lines: Mapping[str, str]) -> None:
        self._app = app
        self._lines = {path: text.encode() for path, text in lines.items()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["path"] not in self._lines:
            await self._app(scope, receive, send)
            return
        added = self._lines[scope["path"]]
        start: Message = {}
        body = bytearray()

        async def collect(message: Message) -> None:
            if message["type"] == "http.response.start":
                start.update(message)
                return
            body.extend(message.get("body", b""))
            if message.get("more_body", False):
                return
            page = bytes(body).replace(_MARK, _MARK + b"\n" + added + b"\n", 1)
            kept = [h for h in start["headers"] if h[0].lower() != b"content-length"]
            length = (b"content-length", str(len(page)).encode())
            await send({**start, "headers": [*kept, length]})
            await send({"type": "http.response.body", "body": page})

        # A packed page could not be added to; a page is small.
        plain = [h for h in scope["headers"] if h[0].lower() != b"accept-encoding"]
        await self._app({**scope, "headers": plain}, receive, collect)
