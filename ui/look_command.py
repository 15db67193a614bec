"""``dotward look``: every chip in photos, or what photos of another stage show."""

from __future__ import annotations

import functools
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ui import look_words, words
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
from ui.inputs import given_name, photos_named
from ui.telling import STATE_EXIT, Exit, print_answer, print_json, tell_error, worst

if TYPE_CHECKING:
    from collections.abc import Mapping

    from vision.pinouts import Pinout
    from vision.results import PhotoReport


class Stage(StrEnum):
    """What a photo shows."""

    CHIP = "chip"
    LANDS = "lands"
    SIDE = "side"
    PADS = "pads"


USUAL_PACKAGE = "SOIC-8"


def command(
    photos: Annotated[
        list[str],
        typer.Argument(
            metavar="PHOTO",
            parser=given_name,
            help="Photos, folders or patterns of them.",
        ),
    ],
    *,
    jsonl: Annotated[
        bool, typer.Option("--jsonl", help="Print one JSON object a photo.")
    ] = False,
    draw_into: DrawFolder = None,
    pinout: Annotated[
        str | None,
        typer.Option("--pinout", help="Name the pins by this table or TOML file."),
    ] = None,
    stage: Annotated[
        Stage, typer.Option("--stage", help="What the photos show.")
    ] = Stage.CHIP,
    package: Annotated[
        str | None,
        typer.Option(
            "--package", help="With --stage lands or side: which package; else SOIC-8."
        ),
    ] = None,
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

    _refuse_of_other_stages(mark, package, pinout, stage)
    if pinout and jsonl and draw_into is None:
        refuse_pinout("--jsonl")
    named = package or USUAL_PACKAGE
    folder = made_folder(draw_into)
    if stage is Stage.LANDS:
        from ui.lands_command import look_at_lands

        raise typer.Exit(look_at_lands(photos, named, folder, as_json=jsonl))
    if stage is Stage.SIDE:
        from ui.side_command import look_at_side

        raise typer.Exit(look_at_side(photos, named, folder, as_json=jsonl))
    if stage is Stage.PADS:
        from ui.pads_command import look_at_pads

        raise typer.Exit(look_at_pads(photos, mark or [], folder, as_json=jsonl))
    table = find_pinout(pinout)
    names = _names(table)
    exits: list[Exit] = []
    for given, photo in with_progress(list(photos_named(photos)), "Looking"):
        outcome = attempt(given, functools.partial(_look_at, photo))
        if isinstance(outcome, Exception):
            exits.append(Exit.UNUSABLE)
            tell_error(outcome, error_json(given, outcome) if jsonl else None)
            continue
        exits.append(STATE_EXIT[look_words.look_state(outcome)])
        if jsonl:
            print_json(photo_report_json(outcome))
        else:
            answer = look_words.look_answer(outcome)
            pins = words.pin_lines(outcome, names, table.name) if table else ()
            pages = first_only(outcome.photo.path)
            print_answer(given, answer, (*pages, *pins))
        exits += _draw_look(outcome, folder, names)
    raise typer.Exit(worst(exits))


def _refuse_of_other_stages(
    mark: list[str] | None, package: str | None, pinout: str | None, stage: Stage
) -> None:
    """Refuse options that the stage of the photos has no use for."""
    if mark and stage is not Stage.PADS:
        message = "it marks a contact pad: give it with --stage pads"
        raise typer.BadParameter(message, param_hint="--mark")
    if package and stage not in (Stage.LANDS, Stage.SIDE):
        message = (
            "it says whose lands or feet they are: give it with --stage lands|side"
        )
        raise typer.BadParameter(message, param_hint="--package")
    if pinout and stage is not Stage.CHIP:
        message = "it names the pins of a chip seen from above: leave --stage out"
        raise typer.BadParameter(message, param_hint="--pinout")


def _look_at(photo: Path | Exception) -> PhotoReport:
    if isinstance(photo, Exception):
        raise photo
    from vision.pipeline import look as look_at

    return look_at(photo)


def _draw_look(
    report: PhotoReport, folder: Path | None, names: Mapping[int, str]
) -> list[Exit]:
    if folder is None:
        return []
    from ui.pictures import save_look

    return draw(lambda: (save_look(report, folder, names),))


def _names(pinout: Pinout | None) -> dict[int, str]:
    return dict(enumerate(pinout.pins, 1)) if pinout else {}
