"""Lines are broken at the width of a terminal and left whole in a pipe."""

from __future__ import annotations

import io

import pytest

from ui import telling
from ui.words import Answer

LONG = "look along that row from a low angle, under magnification, " * 3


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def columns(monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    return 40


def test_a_line_is_broken_at_the_width_and_keeps_its_indent(columns):
    lines = telling.fitted(f"  Next: {LONG}", Terminal()).split("\n")
    assert len(lines) > 3
    assert all(len(line) < columns for line in lines)
    assert all(line.startswith("  ") and line[2] != " " for line in lines)
    assert " ".join(" ".join(lines).split()) == f"Next: {LONG}".strip()


def test_a_pipe_gets_the_line_whole(columns):
    assert telling.fitted(f"  {LONG}", io.StringIO()) == f"  {LONG}"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  12   34   56",
        "0" * 64,
        "\nfirst line\n  second line",
        "photos/a-long-name-that-has-many-hyphens-in-it.jpg",
    ],
)
def test_what_fits_or_cannot_be_broken_stays_as_it_is(columns, text):
    assert telling.fitted(text, Terminal()) == text


@pytest.mark.parametrize("stream", [Terminal(), io.StringIO()])
def test_an_answer_goes_out_as_its_stream_needs(columns, monkeypatch, stream):
    monkeypatch.setattr("sys.stdout", stream)
    telling.print_answer("a.jpg", Answer(state="ok", headline="short", details=(LONG,)))
    said = stream.getvalue().splitlines()
    assert said[:2] == ["a.jpg", "  short"]
    assert (len(max(said, key=len)) < columns) == stream.isatty()


def test_a_terminal_that_names_no_width_still_gets_words(monkeypatch):
    monkeypatch.setenv("COLUMNS", "1")
    first, *_ = telling.fitted(LONG, Terminal()).split("\n")
    assert first == "look along that row"
