"""The demo: our own sample pictures, judged and held against the known truth."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ui import look_words, pair_words, words
from ui.demo_page import write_page
from ui.demo_side import judge_side
from ui.demo_truth import (
    KnownPair,
    KnownPhoto,
    Row,
    judge_pair,
    judge_photo,
    read_truth,
    sample_folder,
)
from ui.pictures import save_look, save_pair
from ui.side_command import draw_side
from ui.side_words import side_answer
from vision.errors import TableError, VisionError
from vision.load import load_photo
from vision.package_names import packages_named
from vision.pipeline import compare, look
from vision.results import NotFound, SideSeen
from vision.side_view import read_side

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

STORY = (
    "A harbour's tide-gauge logger has drowned. Its calibration memory is lifted off "
    "and soldered to a spare board. The board, the chip and the story are made up; "
    "the pictures are made by the project's own scene maker, so the truth is known."
)
OUTCOME_WORDS = {
    "right": "as known",
    "wrong": "NOT AS KNOWN",
    "not judged": "not judged",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One photo or pair of the demo with its answer, rows and pictures."""

    title: str
    files: str
    answer: words.Answer
    rows: tuple[Row, ...]
    pictures: tuple[Path, ...]


def run_demo(out: Path, say: Callable[[str], None]) -> bool:
    """Look at and compare the sample pictures, and write what was found.

    Parameters
    ----------
    out : Path
        Folder for the pictures and ``index.html``; must exist.
    say : callable
        Takes each line that is told on the way.

    Returns
    -------
    bool
        True if no answer is against the known truth.

    Raises
    ------
    TableError
        The sample pictures or their truth are not there.
    OSError
        A file cannot be written.
    """
    samples = sample_folder()
    photos, pairs = read_truth(samples)
    say(STORY)
    shown = [
        (_show_side if known.is_side_view else _show_photo)(samples, known, out)
        for known in photos
    ]
    _tell(shown, say)
    compared = [_show_pair(samples, known, out) for known in pairs]
    _tell(compared, say)
    counts: Counter[str] = Counter(
        row.outcome for part in (*shown, *compared) for row in part.rows
    )
    page = write_page(out, STORY, (("Compare", compared), ("Look", shown)), counts)
    say(f"\n{summary(counts)}")
    say(f"Pictures and page: {page}")
    return counts["wrong"] == 0


def summary(counts: Counter[str]) -> str:
    """Say how many answers agreed, disagreed or were not given.

    Parameters
    ----------
    counts : Counter
        By outcome.

    Returns
    -------
    str
    """
    return (
        f"{counts['right']} answers as known, {counts['wrong']} not as known, "
        f"{counts['not judged']} not judged. Not judged is not passed."
    )


def _show_photo(samples: Path, known: KnownPhoto, out: Path) -> Shown:
    try:
        report = look(samples / known.file)
    except VisionError as error:
        return _failed(known.title, known.file, error)
    return Shown(
        title=known.title,
        files=known.file,
        answer=look_words.look_answer(report),
        rows=judge_photo(known, report),
        pictures=(save_look(report, out),),
    )


def _show_side(samples: Path, known: KnownPhoto, out: Path) -> Shown:
    variants = packages_named(f"{known.family}-{known.lead_count}")
    if isinstance(variants, NotFound):
        return _failed(known.title, known.file, TableError(variants.reason))
    try:
        photo = load_photo(samples / known.file)
        side = read_side(photo.pixels, variants[0])
    except VisionError as error:
        return _failed(known.title, known.file, error)
    seen = SideSeen(photo=photo, leads=None, view=side)
    answer = side_answer(seen, package=f"{known.family}-{known.lead_count}")
    return Shown(
        title=known.title,
        files=known.file,
        answer=answer,
        rows=judge_side(known, side),
        pictures=() if isinstance(side, NotFound) else (draw_side(seen, answer, out),),
    )


def _show_pair(samples: Path, known: KnownPair, out: Path) -> Shown:
    files = f"{known.before} -> {known.after}"
    try:
        report = compare(samples / known.before, samples / known.after)
    except VisionError as error:
        return _failed(known.title, files, error)
    return Shown(
        title=known.title,
        files=files,
        answer=pair_words.pair_answer(report),
        rows=judge_pair(known, report),
        pictures=save_pair(report, out),
    )


def _failed(title: str, files: str, error: VisionError) -> Shown:
    row = Row(
        question="Answer", answer=str(error), known="a usable photo", outcome="wrong"
    )
    return Shown(
        title=title,
        files=files,
        answer=words.Answer(state="unsure", headline=str(error)),
        rows=(row,),
        pictures=(),
    )


def _tell(shown: list[Shown], say: Callable[[str], None]) -> None:
    for part in shown:
        say(f"\n{part.title} ({part.files})")
        say(f"  {part.answer.headline}")
        for row in part.rows:
            say(
                f"  {OUTCOME_WORDS[row.outcome]:<14}{row.question}: {row.answer} "
                f"[known: {row.known}]"
            )
