"""Reads what a browser sends, never more than is allowed."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import secrets
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ui.record.files import told_as_record_error
from vision.errors import PhotoError, VisionError

if TYPE_CHECKING:
    from collections.abc import AsyncGenerator, AsyncIterator

    from starlette.requests import Request

MAX_JSON_BYTES = 200_000
MAX_UPLOAD_BYTES = 200_000_000
LONGEST_PAUSE_S = 60.0


class InputError(VisionError):
    """What was sent cannot be used; the sentence says what is needed."""

    code = "input"


async def read_json(request: Request) -> dict[str, Any]:
    """Read a small JSON object.

    Parameters
    ----------
    request : Request
        Its content type must be JSON: another website cannot send that unasked.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        It is too large, not JSON, or no object.
    """
    if request.headers.get("content-type", "").split(";")[0] != "application/json":
        message = "The request is not JSON; load the page again."
        raise InputError(message)
    content = bytearray()
    async for chunk in request.stream():
        content += chunk
        if len(content) > MAX_JSON_BYTES:
            message = (
                f"More than {MAX_JSON_BYTES // 1000} kB of text were sent; that much "
                "is not kept. Shorten it."
            )
            raise InputError(message)
    try:
        value = json.loads(content)
    except (ValueError, RecursionError) as error:
        message = "The request is not readable; load the page again."
        raise InputError(message) from error
    if not isinstance(value, dict):
        message = "The request is no JSON object; load the page again."
        raise InputError(message)
    return value


def text_of(body: dict[str, Any], name: str, *, needed: str = "") -> str:
    """Take a text out of a request.

    Parameters
    ----------
    body : dict
        What ``read_json`` gave.
    name : str
        Name of the field.
    needed : str, optional
        The sentence with which an empty text is refused; empty texts pass without.

    Returns
    -------
    str
        Without white space around it.

    Raises
    ------
    InputError
        It is no text, or empty and needed.
    """
    value = body.get(name, "")
    if not isinstance(value, str):
        message = f"{name} is no text; load the page again."
        raise InputError(message)
    # A lone surrogate cannot be written into the journal's UTF-8.
    value = value.encode("utf-8", "replace").decode("utf-8").strip()
    if needed and not value:
        raise InputError(needed)
    return value


def number_of(body: dict[str, Any], name: str) -> int:
    """Take a whole number out of a request.

    Parameters
    ----------
    body : dict
        What ``read_json`` gave.
    name : str
        Name of the field.

    Returns
    -------
    int

    Raises
    ------
    InputError
        It is no whole number.
    """
    value = body.get(name)
    if not isinstance(value, int) or isinstance(value, bool):
        message = f"{name} is no whole number; load the page again."
        raise InputError(message)
    return value


def row_of(text: str) -> tuple[int, ...]:
    """Read the row of leads that a side photo shows.

    Parameters
    ----------
    text : str
        Such as ``1-4``; empty where the row was not named.

    Returns
    -------
    tuple of int
        First and last lead, or nothing.

    Raises
    ------
    InputError
        It is no row.
    """
    if not text:
        return ()
    first, _, last = text.partition("-")
    if not all(
        part.isascii() and part.isdigit() and len(part) < 4 for part in (first, last)
    ):
        message = "That is no row of leads; load the page again."
        raise InputError(message)
    return int(first), int(last)


@contextlib.asynccontextmanager
async def incoming_file(request: Request, place: Path) -> AsyncIterator[Path]:
    """Write what is sent into a file that is gone when the block ends.

    Parameters
    ----------
    request : Request
        Its body is the file, nothing around it.
    place : Path
        Folder for files on their way in.

    Yields
    ------
    Path
        The file, whole.

    Raises
    ------
    PhotoError
        It is empty or larger than allowed; nothing of it is kept.
    """
    announced = request.headers.get("content-length", "")
    if announced.isdigit() and int(announced) > MAX_UPLOAD_BYTES:
        raise PhotoError(_too_large(int(announced)))
    path = place / f"{os.getpid()}-{secrets.token_hex(8)}"
    try:
        with told_as_record_error("photo"):
            await _write(request, path)
        yield path
    finally:
        path.unlink(missing_ok=True)


async def _write(request: Request, path: Path) -> None:
    size_bytes = 0
    # Written in the event loop: pieces are small, and the disk's cache takes them.
    async with contextlib.aclosing(_pieces(request)) as pieces:
        with path.open("xb") as file:
            async for chunk in pieces:
                size_bytes += len(chunk)
                if size_bytes > MAX_UPLOAD_BYTES:
                    raise PhotoError(_too_large(size_bytes))
                file.write(chunk)
    if not size_bytes:
        message = "The file is empty. Choose the photo again."
        raise PhotoError(message)


async def _pieces(request: Request) -> AsyncGenerator[bytes, None]:
    """Give what is sent piece by piece, but do not wait for a phone that sleeps."""
    try:
        async with asyncio.timeout(LONGEST_PAUSE_S) as limit:
            async for chunk in request.stream():
                limit.reschedule(asyncio.get_running_loop().time() + LONGEST_PAUSE_S)
                yield chunk
    except TimeoutError as error:
        message = (
            f"Nothing came for {LONGEST_PAUSE_S:.0f} s, so the sending was ended and "
            "nothing was added. Send the photo again."
        )
        raise PhotoError(message) from error


def _too_large(size_bytes: int) -> str:
    return (
        f"The file has more than {size_bytes // 1_000_000} MB; at most "
        f"{MAX_UPLOAD_BYTES // 1_000_000} MB are taken. Choose a single photo."
    )
