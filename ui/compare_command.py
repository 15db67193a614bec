"""``dotward compare``: how a chip sits after soldering against before."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ui import pair_words
from ui.command_steps import (
    DrawFolder,
    attempt,
    draw,
    find_pinout,
    made_folder,
    refuse_pinout,
    with_progress,
)
from ui.first_picture import first_only
from ui.inputs import (
    BadPair,
    PhotoPair,
    PhotoSize,
    named_path,
    read_pairs,
    refuse_outside,
    side_photo,
)
from ui.telling import (
    STATE_EXIT,
    Exit,
    print_answer,
    print_json,
    say,
    tell_error,
    worst,
)
from ui.words import error_words
from vision.errors import TableError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from vision.limits import ShopLimits
    from vision.packages import Variant
    from vision.photo_scale import Ruler
    from vision.pinouts import Pinout
    from vision.results import LeadRow, PairReport


def command(
    before: Annotated[
        Path | None,
        typer.Argument(
            metavar="BEFORE", parser=named_path, help="Photo before lifting."
        ),
    ] = None,
    after: Annotated[
        Path | None,
        typer.Argument(
            metavar="AFTER", parser=named_path, help="Photo after soldering."
        ),
    ] = None,
    *,
    pairs: Annotated[
        Path | None,
        typer.Option(
            "--pairs",
            parser=named_path,
            metavar="FILE",
            help="A list of pairs, one JSON a line.",
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the answer as one JSON object.")
    ] = False,
    jsonl: Annotated[
        bool, typer.Option("--jsonl", help="Print one JSON object a pair.")
    ] = False,
    lands: Annotated[
        Path | None,
        typer.Option(
            "--lands",
            parser=named_path,
            metavar="PHOTO",
            help="Photo of the bare lands, to measure leads by.",
        ),
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
            help="Pixel of BEFORE on the chip meant; else the one in the middle, or "
            "the worst of those about it.",
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
    package: Annotated[
        str | None,
        typer.Option(
            "--package",
            help="What the chip is, such as SOIC-8; of --pairs where no line says so.",
        ),
    ] = None,
    limit_set: Annotated[
        str,
        typer.Option(
            "--limits",
            metavar="NAME",
            help="Which limits to judge by: general, "
            "strict, or a set of your own file.",
        ),
    ] = "general",
    own_limits: Annotated[
        Path | None,
        typer.Option(
            "--own",
            parser=named_path,
            metavar="FILE",
            help="Your shop's limits, TOML.",
        ),
    ] = None,
    pinout: Annotated[
        str | None,
        typer.Option(
            "--pinout", help="What the pins are called: a table or TOML file."
        ),
    ] = None,
    draw_into: DrawFolder = None,
) -> None:
    """Say how the chip sits AFTER against BEFORE: turned, moved, skewed."""
    if pinout and (as_json or jsonl):
        refuse_pinout("--json" if as_json else "--jsonl")
    todo = _pairs_to_compare(before, after, pairs)
    if len(todo) > 1:
        _refuse_for_many(
            {"--at": at, "--lands": lands, "--ruler": ruler, "--side": side}
        )
    told = _Told(
        as_json=as_json or jsonl,
        folder=made_folder(draw_into),
        lands=lands,
        side=[side_photo(text) for text in side or []],
        budget=budget,
        at_px=None if at is None else _place(at),
        ruler=None if ruler is None else _ruler(ruler),
        named=_named(package),
        limits=_limits(own_limits, limit_set),
        pinout=find_pinout(pinout),
    )
    _refuse_outside(todo[0], told)
    exits = [_answer(pair, told) for pair in with_progress(todo, "Comparing")]
    raise typer.Exit(worst(exits))


LEAST_RULER_MM, MOST_RULER_MM = 0.1, 1000.0
"""A ruler beside a chip; what is shorter or longer is a slip of the pen."""
OF_ONE_PAIR = {
    "--at": "it points into one photo",
    "--lands": "it shows the lands of one board",
    "--ruler": "its ticks lie in one photo, and a line of the list cannot hold them",
    "--side": "it shows the feet of one chip",
}


def _refuse_for_many(given: dict[str, object]) -> None:
    for option, value in given.items():
        if value:
            message = f"{OF_ONE_PAIR[option]}: compare one pair"
            raise typer.BadParameter(message, param_hint=option)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """How pairs are answered: JSON, drawn, with bare lands, side photos, names."""

    as_json: bool
    folder: Path | None
    lands: Path | None
    side: list[tuple[Path, LeadRow | None]]
    budget: bool
    limits: ShopLimits
    at_px: tuple[float, float] | None = None
    ruler: Ruler | None = None
    named: tuple[Variant, ...] = ()
    pinout: Pinout | None = None


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
    apart_px = math.dist((x0, y0), (x1, y1))
    if not LEAST_RULER_MM <= length_mm <= MOST_RULER_MM or apart_px < 1:
        message = (
            f"{text!r}: the ticks must lie apart and the length be above 0 mm: from "
            f"{LEAST_RULER_MM:g} to {MOST_RULER_MM:g} mm"
        )
        raise typer.BadParameter(message, param_hint="--ruler")
    return (x0, y0), (x1, y1), length_mm


def _refuse_outside(pair: PhotoPair | BadPair, told: _Told) -> None:
    """Refuse places outside the photo before; how it is unusable is said later."""
    if isinstance(pair, BadPair) or (told.at_px is None and told.ruler is None):
        return
    from ui.record.claims import upright_size_px

    size_px = attempt(str(pair.before), lambda: upright_size_px(pair.before))
    if not isinstance(size_px, Exception):
        photo = PhotoSize(pair.before, *size_px)
        refuse_outside([] if told.at_px is None else [told.at_px], photo, "--at")
        refuse_outside(told.ruler[:2] if told.ruler else (), photo, "--ruler")


def _named(text: str | None) -> tuple[Variant, ...]:
    try:
        return _sizes(text)
    except TableError as error:
        raise typer.BadParameter(str(error), param_hint="--package") from None


def _limits(own: Path | None, set_name: str) -> ShopLimits:
    from vision.limits import shop_limits

    try:
        return shop_limits(own, set_name)
    except TableError as error:
        hint = "--limits" if own is None else "--own"
        raise typer.BadParameter(str(error), param_hint=hint) from None


def _sizes(text: str | None) -> tuple[Variant, ...]:
    """Find the sizes that a package's name stands for; none without a name."""
    from vision.package_names import packages_named
    from vision.results import NotFound

    found = () if text is None else packages_named(text)
    if isinstance(found, NotFound):
        raise TableError(found.reason)
    return found


def _pairs_to_compare(
    before: Path | None, after: Path | None, pairs: Path | None
) -> list[PhotoPair | BadPair]:
    if pairs is not None and before is None:
        listed = attempt(str(pairs), lambda: read_pairs(pairs))
        if isinstance(listed, Exception):
            tell_error(listed, None)
            raise typer.Exit(Exit.UNUSABLE)
        return list(listed)
    if pairs is not None or before is None or after is None:
        message = "give BEFORE and AFTER, or --pairs FILE and no photos"
        raise typer.BadParameter(message)
    return [PhotoPair(pair=None, line_no=0, before=before, after=after)]


def _answer(pair: PhotoPair | BadPair, told: _Told) -> Exit:
    if isinstance(pair, BadPair):
        return _tell_unusable(pair, pair.error, told)
    return _compare_one(pair, told)


def _tell_unusable(pair: PhotoPair | BadPair, error: Exception, told: _Told) -> Exit:
    """Say why a pair has no answer; of a list also which pair and line it is."""
    from ui.contract import pair_error_json

    if told.as_json:
        print_json(pair_error_json(pair.before, pair.after, error, pair.pair))
    is_listed = isinstance(pair, PhotoPair) and pair.pair is not None
    where = f"line {pair.line_no}, pair {pair.pair}: " if is_listed else ""
    say(where + error_words(error))
    return Exit.UNUSABLE


def _compare_one(pair: PhotoPair, told: _Told) -> Exit:
    from ui.contract import pair_report_json

    def compare_them() -> PairReport:
        from vision.pipeline import compare as compare_photos

        return compare_photos(
            pair.before,
            pair.after,
            lands_path=told.lands,
            side_paths=told.side,
            at_px=told.at_px,
            ruler=told.ruler,
            named=told.named if pair.package is None else _sizes(pair.package),
            limits=told.limits,
        )

    title = f"{pair.before} -> {pair.after}"
    outcome = attempt(title, compare_them)
    if isinstance(outcome, Exception):
        return _tell_unusable(pair, outcome, told)
    answer = pair_words.pair_answer(outcome, told.pinout)
    if told.as_json:
        more = {"budgets": list(outcome.budgets)} if told.budget else {}
        print_json(pair_report_json(outcome, pair.pair) | more)
    else:
        print_answer(title, answer, first_only(pair.before, pair.after))
        if told.budget:
            print("\n\n".join(outcome.budgets), end="\n\n", flush=True)
    drawn: Iterable[Exit] = ()
    folder = told.folder
    if folder is not None:
        from ui.pictures import save_pair

        drawn = draw(lambda: (*save_pair(outcome, folder), *_rows(outcome, folder)))
    return worst([STATE_EXIT[answer.state], *drawn])


def _rows(report: PairReport, folder: Path) -> Iterator[Path]:
    """Draw the rows of feet that were read beside a pair."""
    if report.side:
        from ui.side_command import draw_rows

        yield from draw_rows(report.side, folder)
