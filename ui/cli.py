"""The ``dotward`` command.

Exit codes: 0 nothing against it, 1 a fault, 3 could not be judged or look yourself,
2 the command was not understood, 4 a file could not be used.  Where several hold,
an unusable file is told first, then a fault, then what could not be judged.
"""

from __future__ import annotations

import functools
import importlib.util
import logging
import sys
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from ui import pair_words, words
from ui.inputs import side_photo
from ui.job_options import Home
from ui.telling import (
    STATE_EXIT,
    Exit,
    print_answer,
    print_json,
    say,
    tell_error,
    worst,
)
from vision.errors import VisionError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from vision.photo_scale import Ruler
    from vision.pinouts import Pinout
    from vision.results import LeadRow, PairReport, PhotoReport

T = TypeVar("T")
log = logging.getLogger("dotward")


class Stage(StrEnum):
    """What a photo shows."""

    CHIP = "chip"
    LANDS = "lands"
    SIDE = "side"
    PADS = "pads"


MANY_PHOTOS = 3
INTERRUPTED = 130

app = typer.Typer(
    name="dotward",
    help="Tells from photographs whether a chip sits on its board the right way round.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
# Groups of commands in modules of their own; each brings `app`, its Typer.
GROUPS = {"job": "ui.job_commands"}

# Single commands in modules of their own; each brings `command`.
SINGLE = {"tags": "ui.tag_command", "place": "ui.place_command"}


def _mount() -> None:
    for name, module in SINGLE.items():
        app.command(name)(importlib.import_module(module).command)
    for name, module in GROUPS.items():
        if importlib.util.find_spec(module):
            group = importlib.import_module(module)
            app.add_typer(group.app, name=name)
            if hasattr(group, "report_command"):
                app.command("report")(group.report_command)


def _print_version(*, wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            print(f"dotward {version('dotward')}")
        except PackageNotFoundError:
            print("dotward, not installed")
        raise typer.Exit


@app.callback()
def common(
    *,
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            help="Print the version and stop.",
            callback=lambda value: _print_version(wanted=value),
            is_eager=True,
        ),
    ] = False,
    debug: Annotated[
        bool, typer.Option("--debug", help="Log what went wrong in full.")
    ] = False,
) -> None:
    """Tell from photographs whether a chip sits on its board the right way round."""
    logging.basicConfig(
        level=logging.DEBUG if debug else logging.CRITICAL, stream=sys.stderr
    )


DrawFolder = Annotated[
    Path | None,
    typer.Option(
        "--draw", help="Write pictures with the answer drawn into this folder."
    ),
]


@app.command()
def look(
    photos: Annotated[
        list[str],
        typer.Argument(metavar="PHOTO", help="Photos, folders or patterns of them."),
    ],
    *,
    jsonl: Annotated[
        bool, typer.Option("--jsonl", help="Print one JSON object a photo.")
    ] = False,
    draw: DrawFolder = None,
    pinout: Annotated[
        str | None,
        typer.Option("--pinout", help="Name the pins by this table or TOML file."),
    ] = None,
    stage: Annotated[
        Stage, typer.Option("--stage", help="What the photos show.")
    ] = Stage.CHIP,
    package: Annotated[
        str,
        typer.Option("--package", help="With --stage lands or side: which package."),
    ] = "SOIC-8",
    mark: Annotated[
        list[str] | None,
        typer.Option(
            "--mark",
            metavar="X1,Y1,X2,Y2",
            help="With --stage pads: two corners of a rectangle around a contact pad, "
            "pixels; may be given again.",
        ),
    ] = None,
) -> None:
    """Find every chip in PHOTO... and the corner where its pin 1 is."""
    from ui.contract import error_json, photo_report_json
    from ui.inputs import photos_named

    if mark and stage is not Stage.PADS:
        message = "it marks a contact pad: give it with --stage pads"
        raise typer.BadParameter(message, param_hint="--mark")
    folder = _folder(draw)
    if stage is Stage.LANDS:
        from ui.lands_command import look_at_lands

        raise typer.Exit(look_at_lands(photos, package, folder, as_json=jsonl))
    if stage is Stage.SIDE:
        from ui.side_command import look_at_side

        raise typer.Exit(look_at_side(photos, package, folder, as_json=jsonl))
    if stage is Stage.PADS:
        from ui.pads_command import look_at_pads

        raise typer.Exit(look_at_pads(photos, mark or [], folder, as_json=jsonl))
    named = _find_pinout(pinout)
    names = _names(named)
    exits: list[Exit] = []
    for given, photo in _with_progress(list(photos_named(photos)), "Looking"):
        outcome = _attempt(given, functools.partial(_look_at, photo))
        if isinstance(outcome, Exception):
            exits.append(Exit.UNUSABLE)
            tell_error(outcome, error_json(given, outcome) if jsonl else None)
            continue
        exits.append(STATE_EXIT[words.look_state(outcome)])
        if jsonl:
            print_json(photo_report_json(outcome))
        else:
            answer = words.look_answer(outcome)
            pins = words.pin_lines(outcome, names, named.name) if named else ()
            print_answer(given, answer, pins)
        exits += _draw_look(outcome, folder, names)
    raise typer.Exit(worst(exits))


@app.command()
def compare(
    before: Annotated[
        Path | None, typer.Argument(metavar="BEFORE", help="Photo before lifting.")
    ] = None,
    after: Annotated[
        Path | None, typer.Argument(metavar="AFTER", help="Photo after soldering.")
    ] = None,
    *,
    pairs: Annotated[
        Path | None, typer.Option("--pairs", help="A list of pairs, one JSON a line.")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the answer as one JSON object.")
    ] = False,
    jsonl: Annotated[
        bool, typer.Option("--jsonl", help="Print one JSON object a pair.")
    ] = False,
    lands: Annotated[
        Path | None,
        typer.Option("--lands", help="Photo of the bare lands, to measure leads by."),
    ] = None,
    side: Annotated[
        list[str] | None,
        typer.Option(
            "--side",
            metavar="PHOTO[:FIRST-LAST]",
            help="Photo of a row of feet from the side, such as side.jpg:1-4 for the "
            "row of leads 1 to 4; may be given again for another row.",
        ),
    ] = None,
    budget: Annotated[
        bool,
        typer.Option("--budget", help="Print what makes each number uncertain."),
    ] = False,
    at: Annotated[
        str | None,
        typer.Option(
            "--at",
            metavar="X,Y",
            help="Pixel of BEFORE on the chip meant; else the one in the middle.",
        ),
    ] = None,
    ruler: Annotated[
        str | None,
        typer.Option(
            "--ruler",
            metavar='"X,Y X,Y MM"',
            help="Two ticks of a ruler in BEFORE, pixels, and the length between them.",
        ),
    ] = None,
    draw: DrawFolder = None,
) -> None:
    """Say how the chip sits AFTER against BEFORE: turned, moved, skewed."""
    todo = _pairs_to_compare(before, after, pairs)
    if at is not None and len(todo) > 1:
        message = "it points into one photo: compare one pair"
        raise typer.BadParameter(message, param_hint="--at")
    if side and len(todo) > 1:
        message = "it shows the feet of one chip: compare one pair"
        raise typer.BadParameter(message, param_hint="--side")
    told = _Told(
        as_json=as_json or jsonl,
        folder=_folder(draw),
        lands=lands,
        side=[side_photo(text) for text in side or []],
        budget=budget,
        at_px=None if at is None else _place(at),
        ruler=None if ruler is None else _ruler(ruler),
    )
    exits = [_compare_one(pair, told) for pair in _with_progress(todo, "Comparing")]
    raise typer.Exit(worst(exits))


@app.command()
def page(
    *,
    jobs: Home,
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes any.")] = 7717,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Let devices on this network in, with a code."),
    ] = False,
    address: Annotated[
        str | None,
        typer.Option("--address", help="With --lan: listen only at this address."),
    ] = None,
) -> None:
    """Serve the page for the bench and the review, on this machine alone."""
    from ui.page.serve import LOOPBACK, Place, serve

    if address is not None and not lan:
        message = "without --lan the page is for this machine alone: leave it out"
        raise typer.BadParameter(message, param_hint="--address")
    listen = (address or "0.0.0.0") if lan else LOOPBACK
    outcome = _attempt(
        "page",
        lambda: serve(jobs, Place(address=listen, port=port, lan=lan), _say_line),
    )
    if isinstance(outcome, Exception):
        tell_error(outcome, None)
        raise typer.Exit(Exit.UNUSABLE)


def _say_line(line: str) -> None:
    print(line, flush=True)


@app.command()
def demo(
    out: Annotated[
        Path, typer.Option("--out", help="Folder for the pictures and the page.")
    ] = Path("dotward-demo"),
) -> None:
    """Look at and compare the sample pictures; hold the answers against the truth."""
    from ui.demo import run_demo

    outcome = _attempt("demo", lambda: run_demo(_folder(out) or out, print))
    if isinstance(outcome, Exception):
        tell_error(outcome, None)
        raise typer.Exit(Exit.UNUSABLE)
    raise typer.Exit(Exit.NOTHING_AGAINST if outcome else Exit.FAULT)


def main() -> None:
    """Run ``dotward`` and never show a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = app(standalone_mode=False)
    except typer.Abort:
        code = INTERRUPTED
    except BrokenPipeError:
        code = Exit.UNUSABLE
        sys.stdout = None  # nobody reads it any more
    except Exception as error:  # the last line before the person
        code = _last_word(error)
    sys.exit(code)


def _last_word(error: Exception) -> Exit:
    show = getattr(error, "show", None)
    if callable(show):  # a command that was not understood says so itself
        show()
        return Exit.USAGE
    log.debug("not foreseen", exc_info=error)
    tell_error(error, None)
    return Exit.UNUSABLE


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    name: str | None
    before: Path
    after: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """How pairs are answered: JSON, drawn, with bare lands, side photos, budgets."""

    as_json: bool
    folder: Path | None
    lands: Path | None
    side: list[tuple[Path, LeadRow | None]]
    budget: bool
    at_px: tuple[float, float] | None = None
    ruler: Ruler | None = None


def _place(text: str) -> tuple[float, float]:
    """Read a place in a photo, written X,Y."""
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        message = f"{text!r} is no place; write two pixels, such as 812,604"
        raise typer.BadParameter(message, param_hint="--at") from None
    return x, y


def _ruler(text: str) -> Ruler:
    """Read two ticks and the length between them, written "X,Y X,Y MM"."""
    try:
        start, end, length = text.split()
        length_mm = float(length)
        ticks = [tuple(float(v) for v in tick.split(",")) for tick in (start, end)]
        (x0, y0), (x1, y1) = ticks
    except ValueError:
        message = f'{text!r} is no ruler; write "812,604 1210,590 10" (pixels, mm)'
        raise typer.BadParameter(message, param_hint="--ruler") from None
    if not length_mm > 0 or (x0, y0) == (x1, y1):
        message = f"{text!r}: the ticks must lie apart and the length be above 0 mm"
        raise typer.BadParameter(message, param_hint="--ruler")
    return (x0, y0), (x1, y1), length_mm


def _look_at(photo: Path | Exception) -> PhotoReport:
    if isinstance(photo, Exception):
        raise photo
    from vision.pipeline import look as look_at

    return look_at(photo)


def _pairs_to_compare(
    before: Path | None, after: Path | None, pairs: Path | None
) -> list[_Pair]:
    if pairs is not None and before is None:
        from ui.inputs import read_pairs

        listed = _attempt(str(pairs), lambda: read_pairs(pairs))
        if isinstance(listed, Exception):
            tell_error(listed, None)
            raise typer.Exit(Exit.UNUSABLE)
        return [_Pair(name=p.pair, before=p.before, after=p.after) for p in listed]
    if pairs is not None or before is None or after is None:
        message = "give BEFORE and AFTER, or --pairs FILE and no photos"
        raise typer.BadParameter(message)
    return [_Pair(name=None, before=before, after=after)]


def _compare_one(pair: _Pair, told: _Told) -> Exit:
    from ui.contract import pair_error_json, pair_report_json

    def compare_them() -> PairReport:
        from vision.pipeline import compare as compare_photos

        return compare_photos(
            pair.before,
            pair.after,
            lands_path=told.lands,
            side_paths=told.side,
            at_px=told.at_px,
            ruler=told.ruler,
        )

    title = f"{pair.before} -> {pair.after}"
    outcome = _attempt(title, compare_them)
    if isinstance(outcome, Exception):
        failed = pair_error_json(pair.before, pair.after, outcome, pair.name)
        tell_error(outcome, failed if told.as_json else None)
        return Exit.UNUSABLE
    answer = pair_words.pair_answer(outcome)
    if told.as_json:
        more = {"budgets": list(outcome.budgets)} if told.budget else {}
        print_json(pair_report_json(outcome, pair.name) | more)
    else:
        print_answer(title, answer)
        if told.budget:
            print("\n\n".join(outcome.budgets), end="\n\n", flush=True)
    drawn: Iterable[Exit] = ()
    folder = told.folder
    if folder is not None:
        from ui.pictures import save_pair

        drawn = _draw(lambda: (*save_pair(outcome, folder), *_rows(outcome, folder)))
    return worst([STATE_EXIT[answer.state], *drawn])


def _rows(report: PairReport, folder: Path) -> Iterator[Path]:
    """Draw the rows of feet that were read beside a pair."""
    if report.side:
        from ui.side_command import draw_rows

        yield from draw_rows(report.side, folder)


def _draw_look(
    report: PhotoReport, folder: Path | None, names: Mapping[int, str]
) -> list[Exit]:
    if folder is None:
        return []
    from ui.pictures import save_look

    return _draw(lambda: (save_look(report, folder, names),))


def _draw(save: Callable[[], Iterable[Path]]) -> list[Exit]:
    saved = _attempt("picture", save)
    if isinstance(saved, Exception):
        tell_error(saved, None)
        return [Exit.UNUSABLE]
    for path in saved:
        say(f"drawn: {path}")
    return []


def _attempt(what: str, work: Callable[[], T]) -> T | Exception:
    """Do the work; give the error instead of raising it, so that the rest goes on."""
    try:
        return work()
    except BrokenPipeError:  # nobody reads the answers any more
        raise
    except (VisionError, OSError) as error:
        return error
    except Exception as error:  # one photo must not stop the others
        log.debug("%s: not foreseen", what, exc_info=error)
        return error


def _find_pinout(name: str | None) -> Pinout | None:
    if name is None:
        return None
    from vision.pinouts import load_pinout

    try:
        return load_pinout(name)
    except VisionError as error:
        raise typer.BadParameter(str(error)) from None


def _names(pinout: Pinout | None) -> dict[int, str]:
    return dict(enumerate(pinout.pins, 1)) if pinout else {}


def _folder(folder: Path | None) -> Path | None:
    if folder is None:
        return None
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"{folder}: cannot be made: {error.strerror}"
        raise typer.BadParameter(message) from None
    return folder


def _with_progress(items: list[T], doing: str) -> Iterator[T]:
    """Give the items one by one, with a bar on stderr when they are many."""
    if len(items) < MANY_PHOTOS or not sys.stderr.isatty():
        yield from items
        return
    from rich.console import Console
    from rich.progress import track

    yield from track(items, doing, console=Console(stderr=True), transient=True)


_mount()
