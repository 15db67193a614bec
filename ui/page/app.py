"""Puts the page together: own routes first, then Gradio, and the gate around all."""

from __future__ import annotations

import logging
import secrets
from pathlib import Path
from typing import TYPE_CHECKING

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, JSONResponse, Response
from starlette.requests import ClientDisconnect

from ui.page.gate import Guard
from ui.page.head import HeadLines
from ui.page.job_routes import job_router
from ui.page.picture_routes import picture_router
from ui.page.screens import (
    head_lines,
    module_of,
    mount_screens,
    screens_present,
)
from ui.plain_text import visible
from vision.errors import PhotoError, VisionError

if TYPE_CHECKING:
    from ui.page.context import PageContext
    from ui.page.lan import Door

STATIC = Path(__file__).parent / "static"
_KINDS = {
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".html": "text/html",
}
log = logging.getLogger("dotward.page")


def build_app(
    context: PageContext, *, hosts: frozenset[str], door: Door | None = None
) -> FastAPI:
    """Build the whole page; nothing is started.

    Parameters
    ----------
    context : PageContext
        Jobs, worker and cache.
    hosts : frozenset of str
        Names under which the page answers, port included.
    door : Door, optional
        Who is let in from other devices; None if only this machine may ask.

    Returns
    -------
    FastAPI
        An ASGI application.
    """
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    app.add_api_route("/healthz", _healthz, methods=["GET"])
    app.add_api_route("/own/{name}", _static, methods=["GET", "HEAD"])
    app.add_api_route("/favicon.ico", _icon, methods=["GET"])
    add_error_words(app)
    app.include_router(job_router(context))
    app.include_router(picture_router(context))
    for screen in screens_present():
        app.include_router(module_of(screen).router(context))
    if door is not None:
        app.include_router(door.router())
    mount_screens(app, context)
    app.add_middleware(HeadLines, lines=head_lines(STATIC))
    app.add_middleware(Guard, hosts=hosts, door=door)
    return app


def add_error_words(app: FastAPI) -> None:
    """Have every error of a route told in a sentence.

    Parameters
    ----------
    app : FastAPI
    """
    app.add_exception_handler(VisionError, _told)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(ClientDisconnect, _gone)
    app.add_exception_handler(Exception, _not_foreseen)


def _healthz() -> JSONResponse:
    return JSONResponse({"state": "ok"}, headers={"cache-control": "no-store"})


def _static(name: str) -> Response:
    """Serve one of our own files; the name holds no slash, the list no other file."""
    kind = _KINDS.get(Path(name).suffix)
    if kind is None or name not in {path.name for path in STATIC.iterdir()}:
        return JSONResponse({"message": "There is nothing here."}, status_code=404)
    headers = {"cache-control": "no-cache"}
    return FileResponse(STATIC / name, media_type=kind, headers=headers)


def _icon() -> Response:
    return _static("icon.svg")


async def _told(request: Request, error: Exception) -> JSONResponse:
    """Say an error of ours as it is: it names what to do."""
    del request
    status = 422 if isinstance(error, PhotoError) else 409
    return JSONResponse({"message": visible(str(error))}, status_code=status)


async def _not_understood(request: Request, error: Exception) -> JSONResponse:
    """Say that an address was not understood, without saying it back."""
    del request, error
    message = "The page and the program do not fit together. Load the page again."
    return JSONResponse({"message": message}, status_code=422)


async def _gone(request: Request, error: Exception) -> Response:
    """End quietly: the person stopped sending, so nobody reads an answer."""
    del request, error
    return Response(status_code=400)


async def _not_foreseen(request: Request, error: Exception) -> JSONResponse:
    number = secrets.token_hex(4)
    log.error("%s %s: %s", number, request.url.path, error, exc_info=error)
    message = (
        f"Something went wrong that we did not foresee (number {number}). What was "
        "recorded before is safe. Try again; if it stays, start the page with "
        "`dotward --debug page` and report what it prints."
    )
    return JSONResponse({"message": message}, status_code=500)
