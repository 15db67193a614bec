"""Answers photos of one stage, one after the other: bare lands, or feet from a side."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from ui.command_steps import attempt, draw
from ui.contract import error_json
from ui.first_picture import first_only
from ui.inputs import photos_named
from ui.telling import (
    STATE_EXIT,
    Exit,
    print_answer,
    print_json,
    tell_error,
    worst,
)
from vision.package_names import packages_named
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Callable

    from ui import words
    from vision.packages import Variant


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An answer in sentences and as data; ``draw`` is None where nothing was found."""

    answer: words.Answer
    data: dict[str, Any]
    draw: Callable[[Path], Path] | None


def sizes_named(package: str) -> tuple[Variant, ...]:
    """Find the sizes that the name of a package stands for.

    Parameters
    ----------
    package : str
        The package whose place or feet the photos show.

    Returns
    -------
    tuple of Variant

    Raises
    ------
    typer.BadParameter
        The package is not in the tables.
    """
    variants = packages_named(package)
    if isinstance(variants, NotFound):
        raise typer.BadParameter(variants.reason, param_hint="--package")
    return variants


def answer_photos(
    photos: list[str],
    folder: Path | None,
    read: Callable[[Path], Told],
    *,
    as_json: bool,
) -> int:
    """Read each photo and print what was found; one that fails does not stop the rest.

    Parameters
    ----------
    photos : list of str
        Photos, folders or patterns.
    folder : Path or None
        Where to draw the answers.
    read : callable
        From a photo to the answer.
    as_json : bool
        Print one JSON object a photo.

    Returns
    -------
    int
        Exit code: the worst of the photos.
    """
    exits: list[Exit] = []
    for given, path in list(photos_named(photos)):
        told = (
            path if isinstance(path, Exception) else attempt(given, partial(read, path))
        )
        if isinstance(told, Exception):
            exits.append(Exit.UNUSABLE)
            tell_error(told, error_json(given, told) if as_json else None)
            continue
        exits.append(STATE_EXIT[told.answer.state])
        if as_json:
            print_json(told.data)
        else:
            print_answer(given, told.answer, first_only(Path(given)))
        if folder is not None and told.draw is not None:
            exits += draw(partial(_drawn, told.draw, folder))
    return worst(exits)


def _drawn(save: Callable[[Path], Path], folder: Path) -> tuple[Path]:
    return (save(folder),)
