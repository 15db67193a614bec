"""The demo's page: one HTML file that holds its pictures and needs no network."""

from __future__ import annotations

import base64
import html
from importlib import resources
from string import Template
from typing import TYPE_CHECKING
from urllib.parse import quote

from ui.new_file import write_new

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from ui.demo import Shown
    from ui.demo_truth import Row

PAGE = "index.html"
SIGN_OF_STATE = {"ok": "&#10003;", "fault": "&#8722;", "unsure": "?"}
OUTCOME_WORDS = {
    "right": "&#10003; as known",
    "wrong": "&#10007; not as known",
    "not judged": "? not judged",
}
KIND_OF_PICTURE = {".jpg": "image/jpeg", ".webp": "image/webp"}


def write_page(
    out: Path,
    story: str,
    parts: Sequence[tuple[str, Sequence[Shown]]],
    counts: Counter[str],
) -> Path:
    """Write the page of the demo.

    Parameters
    ----------
    out : Path
        Folder of the page.
    story : str
    parts : sequence of tuple of str and sequence of Shown
        Heading and what stands under it.
    counts : Counter
        Rows by outcome.

    Returns
    -------
    Path
        The page; no other file is written over.

    Raises
    ------
    OSError
        The page cannot be written.
    """
    template = resources.files("ui").joinpath("demo.html").read_text(encoding="utf-8")
    body = "".join(
        f"<h2>{html.escape(heading)}</h2>{''.join(map(_article, shown))}"
        for heading, shown in parts
    )
    text = Template(template).substitute(
        story=html.escape(story),
        right=counts["right"],
        wrong=counts["wrong"],
        unjudged=counts["not judged"],
        parts=body,
    )
    return write_new(out / PAGE, text.encode())


def _article(shown: Shown) -> str:
    state = shown.answer.state
    pictures = "".join(_figure(path, shown.answer.headline) for path in shown.pictures)
    told = [
        *shown.answer.details,
        *(f"Next: {step}" for step in shown.answer.next_steps),
        *(f"Caution: {caution}" for caution in shown.answer.cautions),
    ]
    return (
        f"<article><h3>{html.escape(shown.title)}</h3>"
        f'<p class="files">{html.escape(shown.files)}</p>'
        f'<p class="answer {state}"><span class="sign">{SIGN_OF_STATE[state]}</span>'
        f"{html.escape(shown.answer.headline)}</p>"
        f'<div class="pictures">{pictures}</div>{_table(shown.rows)}'
        f"<details><summary>All that is told</summary><ul>{_items(told)}</ul></details>"
        "</article>"
    )


def _figure(path: Path, words: str) -> str:
    kind = KIND_OF_PICTURE[path.suffix]
    data = base64.b64encode(path.read_bytes()).decode("ascii")
    blinks = path.suffix == ".webp"
    note = "Blinks between before and after; the board lies still." if blinks else ""
    text = html.escape("Before and after in turn" if blinks else words)
    return (
        f'<figure class="{"blink" if blinks else "still"}">'
        f'<a href="{quote(path.name)}">'
        f'<img src="data:{kind};base64,{data}" alt="{text}" loading="lazy"></a>'
        f"<figcaption>{note} <code>{html.escape(path.name)}</code></figcaption>"
        "</figure>"
    )


def _table(rows: Iterable[Row]) -> str:
    lines = "".join(
        f'<tr class="{row.outcome.replace(" ", "-")}">'
        f"<th scope=row>{html.escape(row.question)}</th>"
        f'<td data-head="Answer">{html.escape(row.answer)}</td>'
        f'<td data-head="Known">{html.escape(row.known)}</td>'
        f'<td class="outcome">{OUTCOME_WORDS[row.outcome]}</td></tr>'
        for row in rows
    )
    return (
        "<table><thead><tr><th>Question</th><th>Answer</th><th>Known truth</th>"
        f"<th>Agrees</th></tr></thead><tbody>{lines}</tbody></table>"
    )


def _items(lines: Iterable[str]) -> str:
    return "".join(f"<li>{html.escape(line)}</li>" for line in lines)
