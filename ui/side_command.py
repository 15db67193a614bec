"""``dotward look --stage side``: one row of feet, seen nearly along the board."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from ui import words
from ui.contract import LOOK_FORMAT, photo_json
from ui.pictures import save_lands
from ui.stage_photos import Told, answer_photos
from vision.load import load_photo
from vision.results import NotFound
from vision.side_view import read_side

if TYPE_CHECKING:
    from pathlib import Path

    from vision.packages import Variant
    from vision.results import Photo
    from vision.side_view import SideFoot, SideView

NEXT_PHOTO = (
    "Photograph the row again: camera beside the board and 15 to 30 degrees above it, "
    "the whole row and its lands sharp and filling half of the frame, nothing in front "
    "of them, light from behind the camera."
)
LOOK_CLOSELY = (
    "Look at that foot under the microscope, board unpowered, and touch it with a "
    "wooden pick: a foot that moves is not soldered."
)
WHAT_IT_IS_NOT = (
    "Heights are against the row itself: a row that stands high as a whole, and solder "
    "that did not wet, are not seen in them"
)


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
        The package is not in the tables.
    """

    def read(path: Path, variants: tuple[Variant, ...]) -> Told:
        photo = load_photo(path)
        side = side_of(photo, variants[0])
        answer = side_answer(side, variants[0])
        return Told(
            answer=answer,
            data=side_json(photo, side),
            draw=None
            if isinstance(side, NotFound)
            else partial(draw_side, photo, side, answer),
        )

    return answer_photos(photos, package, folder, read, as_json=as_json)


def side_of(photo: Photo, variant: Variant) -> SideView | NotFound:
    """Measure the row of feet in a photo against the family's coplanarity.

    Parameters
    ----------
    photo : Photo
    variant : Variant

    Returns
    -------
    SideView or NotFound
    """
    return read_side(photo.pixels, variant)


def side_answer(side: SideView | NotFound, variant: Variant) -> words.Answer:
    """Put the heights of a row of feet into sentences.

    Parameters
    ----------
    side : SideView or NotFound
    variant : Variant
        What was looked for.

    Returns
    -------
    Answer
    """
    if isinstance(side, NotFound):
        return words.Answer(
            state="unsure",
            headline=f"Feet: cannot tell: {side.reason}",
            next_steps=(NEXT_PHOTO,),
        )
    bad = [foot for foot in side.feet if foot.state == "fault"]
    doubtful = [foot for foot in side.feet if foot.state == "unsure"]
    if bad:
        said = f"lifted: {_named(bad)}; limit {side.limit_mm:.2f} mm"
    elif doubtful:
        said = f"cannot tell of {_named(doubtful)}; limit {side.limit_mm:.2f} mm"
    else:
        said = f"all {len(side.feet)} within {side.limit_mm:.2f} mm of one line"
    steps = (LOOK_CLOSELY,) if bad else (NEXT_PHOTO, LOOK_CLOSELY) if doubtful else ()
    return words.Answer(
        state=side.state,
        headline=f"Feet: {words.STATE_WORDS[side.state]}: {said}",
        details=(
            "Heights from the left: " + "; ".join(map(_height, side.feet)),
            f"Scale: {side.pitch_mm:.2f} mm between leads, as {variant.family}-"
            f"{variant.lead_count} has (--package), {side.px_per_mm:.0f} px/mm",
            WHAT_IT_IS_NOT,
        ),
        next_steps=steps,
    )


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
    quality = {"state": "ok" if found else "unsure", "reasons": reasons}
    data: dict[str, Any] = {
        "format": LOOK_FORMAT,
        "photo": photo_json(photo),
        "quality": quality,
        "packages": [],
    }
    if isinstance(side, NotFound):
        return data | {"side": {"state": "unsure", "reasons": reasons, "feet": []}}
    feet = [
        {
            "from_left": foot.from_left,
            "state": foot.state,
            "height_mm": round(foot.height_mm, 3),
            "u_mm": round(foot.u_mm, 3),
            "at_px": [round(value, 1) for value in foot.at_px],
        }
        for foot in side.feet
    ]
    heights = [foot.height_mm for foot in side.feet]
    return data | {
        "side": {
            "state": side.state,
            "reasons": [],
            "limit_mm": side.limit_mm,
            "coplanarity_mm": round(max(heights) - min(heights), 3),
            "pitch_mm": side.pitch_mm,
            "px_per_mm": round(side.px_per_mm, 2),
            "feet": feet,
        }
    }


def draw_side(photo: Photo, side: SideView, answer: words.Answer, folder: Path) -> Path:
    """Draw a mark on the land of each foot, with its number from the left.

    Parameters
    ----------
    photo : Photo
    side : SideView
    answer : Answer
    folder : Path

    Returns
    -------
    Path

    Raises
    ------
    OSError
        The file cannot be written.
    """
    reach = 0.3 * side.px_per_mm * side.pitch_mm
    square = ((-reach, -reach), (-reach, reach), (reach, reach), (reach, -reach))
    marks = [
        (
            foot.from_left,
            foot.state,
            [[foot.at_px[0] + x, foot.at_px[1] - reach + y] for x, y in square],
        )
        for foot in side.feet
    ]
    return save_lands(photo, marks, answer, folder, kind="side")


def _named(feet: list[SideFoot]) -> str:
    """Name feet with their heights."""
    return ", ".join(f"foot {f.from_left} from the left, {_height(f)}" for f in feet)


def _height(foot: SideFoot) -> str:
    return f"{foot.height_mm:+.2f} ± {foot.u_mm:.2f} mm"
