"""``dotward look --stage side``: one row of feet, seen nearly along the board."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import typer

from ui.contract import LOOK_FORMAT, photo_json, side_view_json
from ui.pictures import save_lands
from ui.side_words import foot_tag, side_answer
from ui.stage_photos import Told, answer_photos, sizes_named
from vision.load import load_photo
from vision.results import NotFound, SideSeen
from vision.side_view import read_side, unlike_sizes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from ui import words
    from vision.results import Photo, SideView


def look_at_side(
    photos: list[str], package: str, folder: Path | None, *, as_json: bool
) -> int:
    """Measure the row of feet in each photo and print what was found.

    Parameters
    ----------
    photos : list of str
        Photos, folders or patterns.
    package : str
        Whose feet they are; its pitch gives the scale.
    folder : Path or None
        Where to draw the answer.
    as_json : bool
        Print one JSON object a photo.

    Returns
    -------
    int
        Exit code: the worst of the photos.

    Raises
    ------
    typer.BadParameter
        The package is not in the tables, or stands for sizes whose rows differ.
    """
    sizes = sizes_named(package)
    if unlike := unlike_sizes(sizes):
        message = (
            f"{package} stands for sizes whose rows differ, and with them the scale: "
            f"{', '.join(unlike)}; name one of them in full"
        )
        raise typer.BadParameter(message, param_hint="--package")
    size = sizes[0]
    name = f"{size.family}-{size.lead_count}"

    def read(path: Path) -> Told:
        photo = load_photo(path)
        side = read_side(photo.pixels, size)
        seen = SideSeen(photo=photo, leads=None, view=side)
        answer = side_answer(seen, package=name)
        return Told(
            answer=answer,
            data=side_json(photo, side),
            draw=None
            if isinstance(side, NotFound)
            else partial(draw_side, seen, answer),
        )

    return answer_photos(photos, folder, read, as_json=as_json)


def side_json(photo: Photo, side: SideView | NotFound) -> dict[str, Any]:
    """Give the heights of a row of feet as plain data.

    Parameters
    ----------
    photo : Photo
    side : SideView or NotFound

    Returns
    -------
    dict
        Ready for ``json.dumps(..., allow_nan=False)``.
    """
    found = not isinstance(side, NotFound)
    reasons = [side.reason] if isinstance(side, NotFound) else []
    return {
        "format": LOOK_FORMAT,
        "photo": photo_json(photo),
        "quality": {"state": "ok" if found else "unsure", "reasons": reasons},
        "packages": [],
        "side": side_view_json(side),
    }


def draw_side(seen: SideSeen, answer: words.Answer, folder: Path) -> Path:
    """Draw a mark on the land of each foot: its lead, or its place from the left.

    Parameters
    ----------
    seen : SideSeen
    answer : Answer
    folder : Path

    Returns
    -------
    Path

    Raises
    ------
    OSError
        The file cannot be written.

    Notes
    -----
    Without marks where the row could not be read.
    """
    side = seen.view
    if isinstance(side, NotFound):
        return save_lands(seen.photo, [], answer, folder, kind="side")
    marks = [
        (foot_tag(seen, foot), foot.state, side.square_px(foot)) for foot in side.feet
    ]
    return save_lands(seen.photo, marks, answer, folder, kind="side")


def draw_rows(rows: Iterable[SideSeen], folder: Path) -> Iterator[Path]:
    """Draw every row of feet that could be read.

    Parameters
    ----------
    rows : iterable of SideSeen
    folder : Path

    Yields
    ------
    Path

    Raises
    ------
    OSError
        A file cannot be written.
    """
    for seen in rows:
        if not isinstance(seen.view, NotFound):
            yield draw_side(seen, side_answer(seen), folder)
