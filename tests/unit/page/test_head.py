"""Our lines in the head of a page, and nowhere else."""

from __future__ import annotations

import pytest

from ui.page.app import STATIC
from ui.page.head import HeadLines
from ui.page.screens import head_lines

PAGE = b"<!doctype html><html><head><title>x</title></head><body><head></body>"


def served(path, *, pieces=(PAGE,)):
    """Give what comes through, and what the application was asked with."""
    asked, sent = [], []

    async def app(scope, receive, send):
        asked.append(scope)
        headers = [(b"content-type", b"text/html"), (b"Content-Length", b"7")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        for piece in pieces[:-1]:
            await send({"type": "http.response.body", "body": piece, "more_body": True})
        await send({"type": "http.response.body", "body": pieces[-1]})

    async def send(message):
        sent.append(message)

    scope = {"type": "http", "path": path, "headers": [(b"accept-encoding", b"br")]}
    coroutine = HeadLines(app, lines={"/": "<meta own>"})(scope, None, send)
    with pytest.raises(StopIteration):
        coroutine.send(None)
    return sent, asked[0]


@pytest.mark.parametrize("pieces", [(PAGE,), (PAGE[:18], PAGE[18:], b"")])
def test_lines_are_added_once_and_the_length_is_right(pieces):
    (start, body), asked = served("/", pieces=pieces)
    assert body["body"].count(b"<meta own>") == 1
    assert body["body"].index(b"<meta own>") < body["body"].index(b"<title>")
    lengths = [v for k, v in start["headers"] if k.lower() == b"content-length"]
    assert lengths == [str(len(body["body"])).encode()]
    assert asked["headers"] == []


def test_other_paths_pass_untouched():
    sent, asked = served("/assets/x.js")
    assert sent[1]["body"] == PAGE
    assert asked["headers"] == [(b"accept-encoding", b"br")]


def test_every_file_named_in_a_head_is_there():
    for lines in head_lines(STATIC).values():
        names = [part.split('"')[0] for part in lines.split("/own/")[1:]]
        assert "shell.js" in names
        assert [name for name in names if not (STATIC / name).is_file()] == []
        assert "http" not in lines.replace('http-equiv="', "")
