"""``dotward look --stage lands``: the bare lands, before the chip is set on them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from ui import words
from ui.contract import photo_json
from ui.stage_photos import Told, answer_photos, sizes_named
from vision.geometry import apply_homography
from vision.lands import corners_mm
from vision.lands_check import look_at_lands as read_photo
from vision.packages import land_name
from vision.results import NotFound

if TYPE_CHECKING:
    from pathlib import Path

    from vision.bare_lands import BareLands
    from vision.packages import Variant
    from vision.results import Photo

LANDS_FORMAT = "dotward.lands/1"


def look_at_lands(
    photos: list[str], package: str, folder: Path | None, *, as_json: bool
) -> int:
    """Check the bare lands in each photo and print what was found.

    Parameters
    ----------
    photos : list of str
        Photos, folders or patterns.
    package : str
        Whose lands they are.
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
    variants = sizes_named(package)

    def read(path: Path) -> Told:
        photo, lands = read_photo(path, variants)
        answer = lands_answer(lands, variants)
        return Told(
            answer=answer,
            data=lands_json(photo, lands),
            draw=None
            if isinstance(lands, NotFound)
            else partial(_draw, photo, lands, answer),
        )

    return answer_photos(photos, folder, read, as_json=as_json)


def lands_answer(
    lands: BareLands | NotFound, variants: tuple[Variant, ...]
) -> words.Answer:
    """Put the check of bare lands into sentences.

    Parameters
    ----------
    lands : BareLands or NotFound
    variants : tuple of Variant
        What was looked for.

    Returns
    -------
    Answer
    """
    if isinstance(lands, NotFound):
        names = ", ".join(sorted({f"{v.family}-{v.lead_count}" for v in variants}))
        return words.Answer(
            state="unsure",
            headline=f"Lands of {names}: cannot tell: {lands.reason}",
            next_steps=(
                "Photograph the place from straight above, chip off, sharp, the lands "
                "a third of the frame; name another package with --package.",
            ),
        )
    finding = lands.report.finding
    sizes = [f"{land.width_mm:.2f} by {land.length_mm:.2f} mm" for land in lands.lands]
    known = sorted(set(sizes), key=sizes.count, reverse=True)
    details = [
        f"Pattern: {lands.variant.name}, {len(lands.report.lands)} lands, "
        f"{lands.px_per_mm:.1f} px/mm",
        f"Lands: most {known[0]}" if known else "Lands: none could be measured",
        "L1, L2 and so on count from one end; the lands look the same turned by half a "
        "turn",
        *(finding.reasons if finding.state != "ok" else ()),
    ]
    return words.Answer(
        state=finding.state,
        headline=f"Lands: {words.STATE_WORDS[finding.state]}: {finding.reasons[0]}",
        details=tuple(details),
        cautions=(words.BEFORE_LANDS,) if finding.state != "ok" else (),
    )


def lands_json(photo: Photo, lands: BareLands | NotFound) -> dict[str, Any]:
    """Give the check of bare lands as plain data.

    Parameters
    ----------
    photo : Photo
    lands : BareLands or NotFound

    Returns
    -------
    dict
        Ready for ``json.dumps(..., allow_nan=False)``.
    """
    data: dict[str, Any] = {"format": LANDS_FORMAT, "photo": photo_json(photo)}
    if isinstance(lands, NotFound):
        return data | {"state": "unsure", "reasons": [lands.reason], "lands": []}
    finding = lands.report.finding
    return data | {
        "state": finding.state,
        "reasons": list(finding.reasons),
        "package": lands.variant.name,
        "px_per_mm": round(lands.px_per_mm, 3),
        "lands": [
            {
                "number": seen.number,
                "state": seen.state,
                "findings": list(seen.findings),
                "corners_px": _corners(lands, seen.number),
                "centre_mm": list(seen.strip.centre_mm) if seen.strip else None,
                "size_mm": [seen.strip.width_mm, seen.strip.length_mm]
                if seen.strip
                else None,
            }
            for seen in lands.report.lands
        ],
    }


def _corners(lands: BareLands, number: int) -> list[list[float]] | None:
    """Corners of a land in the photo; None where it could not be measured."""
    for strip in lands.lands:
        if strip.number == number:
            placed = apply_homography(lands.to_photo, corners_mm(strip))
            return [[round(float(x), 2), round(float(y), 2)] for x, y in placed]
    return None


def _draw(photo: Photo, lands: BareLands, answer: words.Answer, folder: Path) -> Path:
    from ui.pictures import save_lands

    marks = [
        (land_name(seen.number), seen.state, corners)
        for seen in lands.report.lands
        if (corners := _corners(lands, seen.number)) is not None
    ]
    return save_lands(photo, marks, answer, folder)
