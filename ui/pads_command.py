"""``dotward look --stage pads``: how much of the marked contact pads is stained."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

from ui import words
from ui.command_steps import draw
from ui.contract import LOOK_FORMAT, error_json, photo_json
from ui.first_picture import first_only
from ui.inputs import photos_named, refuse_outside
from ui.pictures import save_pads
from ui.telling import (
    STATE_EXIT,
    Exit,
    print_answer,
    print_json,
    tell_error,
    worst,
)
from vision.draw import PadMark
from vision.errors import VisionError
from vision.load import load_photo
from vision.pads import read_pad
from vision.results import NotFound

if TYPE_CHECKING:
    from pathlib import Path

    from vision.pads import Mark, PadStain
    from vision.results import Photo

    Read = list[tuple[Mark, PadStain | NotFound]]

CLEAN_GENTLY = (
    "Clean gently, board unpowered: isopropyl alcohol on a lint-free swab, light "
    "strokes, let it dry. No eraser, fibre pen or other abrasive on thin gold: it goes "
    "through to the nickel (common practice)."
)
LOOK_AGAIN = (
    "Photograph it again when it is dry: a stain that stays may be corrosion or worn "
    "plating, which cleaning does not mend."
)
NOT_A_FAULT = (
    "A note, not a fault: a shadow or a reflection of something dark looks like a "
    "stain, and a clear film does not show"
)
BETTER_PHOTO = (
    "Photograph the pad from straight above in even light, sharp, and mark it with a "
    "little of the board around it."
)


def look_at_pads(
    photos: list[str], marks: list[str], folder: Path | None, *, as_json: bool
) -> int:
    """Measure the stained share of marked pads in a photo and print it.

    Parameters
    ----------
    photos : list of str
        One photo.
    marks : list of str
        Rectangles around pads, each ``X1,Y1,X2,Y2`` in pixels of the upright photo.
    folder : Path or None
        Where to draw the answer.
    as_json : bool
        Print one JSON object.

    Returns
    -------
    int
        Exit code: 0 where every mark was measured, 3 where one could not be.

    Raises
    ------
    typer.BadParameter
        There is not one photo, no mark, or a mark is no rectangle in the photo.
    """
    named = list(photos_named(photos))
    if len(named) != 1:
        message = f"{len(named)} photos; the marks are places in one photo: give one"
        raise typer.BadParameter(message, param_hint="PHOTO")
    boxes = [read_mark(text) for text in marks]
    if not boxes:
        message = "mark at least one pad, such as --mark 120,80,260,150"
        raise typer.BadParameter(message, param_hint="--mark")
    given, path = named[0]
    try:
        if isinstance(path, Exception):
            raise path
        photo = load_photo(path)
    except (VisionError, OSError) as error:
        tell_error(error, error_json(given, error) if as_json else None)
        return Exit.UNUSABLE
    for left, top, right, bottom in boxes:
        refuse_outside([(left, top), (right, bottom)], photo, "--mark")
    read: Read = [(box, read_pad(photo.pixels, box)) for box in boxes]
    answer = pads_answer(read)
    if as_json:
        print_json(pads_json(photo, read))
    else:
        print_answer(given, answer, first_only(path))
    state = STATE_EXIT[answer.state]
    if folder is None:
        return state
    drawn = [_drawn(k, *pad) for k, pad in enumerate(read, 1)]
    return worst([state, *draw(lambda: (save_pads(photo, drawn, answer, folder),))])


def read_mark(text: str) -> Mark:
    """Read a rectangle around a pad.

    Parameters
    ----------
    text : str
        ``X1,Y1,X2,Y2``, two opposite corners.

    Returns
    -------
    (float, float, float, float)
        Left, top, right, bottom.

    Raises
    ------
    typer.BadParameter
        It is no rectangle.
    """
    try:
        x0, y0, x1, y1 = (float(part) for part in text.split(","))
        is_flat = not (abs(x1 - x0) >= 1 and abs(y1 - y0) >= 1)
    except ValueError:
        is_flat = True
    if is_flat:
        message = (
            f"{text[:40]!r} is no mark; write two opposite corners of a rectangle "
            "around the pad in pixels, such as 120,80,260,150"
        )
        raise typer.BadParameter(message, param_hint="--mark")
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def pads_answer(read: Read) -> words.Answer:
    """Put the stained shares of marked pads into sentences.

    Parameters
    ----------
    read : list of (mark, PadStain or NotFound)

    Returns
    -------
    Answer
        ``unsure`` where a pad could not be measured, else ``ok``: a stain is a note.
    """
    is_read = [not isinstance(pad, NotFound) for _, pad in read]
    said = [f"Pad {k}: {_share(pad)}" for k, (_, pad) in enumerate(read, 1)]
    steps = () if all(is_read) else (BETTER_PHOTO,)
    if any(_is_stained(pad) for _, pad in read):
        steps = (*steps, CLEAN_GENTLY, LOOK_AGAIN)
    return words.Answer(
        state="ok" if all(is_read) else "unsure",
        headline=said[0],
        details=(*said[1:], *((NOT_A_FAULT,) if any(is_read) else ())),
        next_steps=steps,
    )


def pads_json(photo: Photo, read: Read) -> dict[str, Any]:
    """Give the stained shares of marked pads as plain data.

    Parameters
    ----------
    photo : Photo
    read : list of (mark, PadStain or NotFound)

    Returns
    -------
    dict
        The line of ``look`` with the pads under ``pads``; ready for
        ``json.dumps(..., allow_nan=False)``.
    """
    reasons = [
        f"pad {k}: {pad.reason}"
        for k, (_, pad) in enumerate(read, 1)
        if isinstance(pad, NotFound)
    ]
    return {
        "format": LOOK_FORMAT,
        "photo": photo_json(photo),
        "quality": {"state": "unsure" if reasons else "ok", "reasons": reasons},
        "packages": [],
        "pads": [_pad_json(mark, pad) for mark, pad in read],
    }


def _pad_json(mark: Mark, pad: PadStain | NotFound) -> dict[str, Any]:
    found: dict[str, Any] = {"mark_px": [round(value, 1) for value in mark]}
    if isinstance(pad, NotFound):
        return found | {"state": "unsure", "reasons": [pad.reason]}
    return found | {
        "state": "ok",
        "reasons": [],
        "stained_frac": round(pad.stained_frac, 3),
        "u_frac": round(pad.u_frac, 3),
        "clean_lab": [round(value, 1) for value in pad.clean_lab],
    }


def _is_stained(pad: PadStain | NotFound) -> bool:
    return not isinstance(pad, NotFound) and pad.stained_frac > pad.u_frac


def _share(pad: PadStain | NotFound) -> str:
    if isinstance(pad, NotFound):
        return f"cannot tell: {pad.reason}"
    if not _is_stained(pad):
        return f"no stain beyond {100 * pad.u_frac:.0f} % of the metal"
    return f"{_percent(pad)} of the metal stained"


def _percent(pad: PadStain) -> str:
    return f"{100 * pad.stained_frac:.0f} ± {100 * pad.u_frac:.0f} %"


def _drawn(number: int, mark: Mark, pad: PadStain | NotFound) -> PadMark:
    if isinstance(pad, NotFound):
        return PadMark(mark_px=mark, label=f"{number} ?")
    return PadMark(
        mark_px=mark,
        label=str(number),
        stain=pad.stain,
        corner_px=pad.corner_px,
    )
