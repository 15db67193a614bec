"""The tool as the record's checker: answers as JSON, with what made them."""

from __future__ import annotations

import hashlib
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ui.contract import (
    error_json,
    pair_error_json,
    pair_report_json,
    photo_json,
    photo_report_json,
)
from ui.record import Checker
from vision.by_hand import ByHand
from vision.errors import PhotoError, RecordError, VisionError
from vision.load import load_photo
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Callable

    from ui.record import Corrected
    from ui.record.events import Stage
    from vision.results import PhotoReport, Point, Quad

    Fixes = tuple[Corrected, ...]

_ROOT = Path(__file__).resolve().parent.parent
NO_BEFORE = (
    "the kind of chip is not known, so its lands cannot be looked for. Add a photo of "
    "the chip before lifting in which its kind can be told."
)
SIDE_FORMAT = "dotward.side/1"
NOT_FROM_THE_SIDE = (
    "photos from the side are kept in the job and not judged there. Look at each joint "
    "in it yourself, zoomed to true pixels; `dotward look --stage side` measures feet."
)
KEPT = 2
"""Photos whose report is kept for the comparison that follows."""
MAX_KEPT_BYTES = 60_000_000
_MADE_WITH = {
    "models": _ROOT / "models" / "registry.toml",
    "limits": _ROOT / "vision" / "data" / "limits.toml",
}


def tool_checker() -> Checker:
    """Give the checker that looks with this program's own pipeline.

    Returns
    -------
    Checker
        A photo it cannot use gets an answer with ``error``.

    Raises
    ------
    VisionError
        The pipeline cannot be loaded, for instance for want of a network.
    """
    # Loading the networks takes a moment, so only a check pays for it.
    from vision.pipeline import compare_looks, look  # noqa: PLC0415

    kept: dict[tuple[Path, ByHand], PhotoReport] = {}

    def look_once(path: Path, by_hand: ByHand) -> PhotoReport:
        """Look, or give the report of a moment ago: a comparison follows two looks."""
        key = (path, by_hand)
        report = kept.pop(key, None) or look(path, by_hand=by_hand)
        if report.photo.pixels.nbytes <= MAX_KEPT_BYTES:
            kept[key] = report
        while len(kept) > KEPT:
            del kept[next(iter(kept))]
        return report

    def look_json(
        path: Path, *, stage: Stage, by_hand: Fixes, like: str | None
    ) -> dict[str, Any]:
        try:
            if stage == "lands":
                return _lands_json(path, like)
            if stage == "side":
                return _side_json(path)
            return photo_report_json(look_once(path, _by_hand(by_hand)))
        except PhotoError as error:
            return error_json(path.name, error)

    def compare_json(
        before: Path,
        after: Path,
        *,
        by_hand: tuple[Fixes, Fixes],
        lands: Path | None,
    ) -> dict[str, Any]:
        fixes = (_by_hand(by_hand[0]), _by_hand(by_hand[1]))
        try:
            looks = look_once(before, fixes[0]), look_once(after, fixes[1])
            bare = None if lands is None else load_photo(lands)
            found = compare_looks(*looks, is_chosen=bool(fixes[0]), lands_photo=bare)
            return pair_report_json(found)
        except PhotoError as error:
            return pair_error_json(before.name, after.name, error)

    return Checker(
        look=look_json,
        compare=compare_json,
        tool_version=_version(),
        made_with={name: _sha256(path) for name, path in _MADE_WITH.items()},
    )


def _lands_json(path: Path, like: str | None) -> dict[str, Any]:
    """Look at bare lands; whose they are is known from the photo before lifting."""
    from ui.lands_command import lands_json  # noqa: PLC0415
    from vision.lands_check import look_at_lands, packages_named  # noqa: PLC0415

    variants = packages_named(like) if like else NotFound(reason=NO_BEFORE)
    if isinstance(variants, NotFound):
        photo = load_photo(path)
        return lands_json(photo, variants)
    return lands_json(*look_at_lands(path, variants))


def _side_json(path: Path) -> dict[str, Any]:
    """Keep a photo from the side without an answer; a damaged one is an error."""
    photo = photo_json(load_photo(path))
    return {
        "format": SIDE_FORMAT,
        "photo": photo,
        "state": "unsure",
        "reasons": [NOT_FROM_THE_SIDE],
    }


def _outline_px(value: dict[str, Any]) -> tuple[str, Quad]:
    a, b, c, d = ((float(x), float(y)) for x, y in value["outline_px"])
    return "outline_px", (a, b, c, d)


def _pin1_px(value: dict[str, Any]) -> tuple[str, Point]:
    x, y = value["at_px"]
    return "pin1_px", (float(x), float(y))


_READERS: dict[str, Callable[[dict[str, Any]], tuple[str, object]]] = {
    "outline": _outline_px,
    "pin1": _pin1_px,
}


def _by_hand(fixes: Fixes) -> ByHand:
    """Read hand corrections; of several of one kind the last one counts.

    Raises
    ------
    RecordError
        A value has another form than this version knows.
    """
    given: dict[str, Any] = {}
    for fix in fixes:
        try:
            name, value = _READERS[fix.what](fix.value)
            given[name] = value
        except (KeyError, TypeError, ValueError) as error:
            message = (
                f"the hand correction “{fix.what}” has a form that this version does "
                "not know. Take it back, or use the version that wrote it."
            )
            raise RecordError(message) from error
    return ByHand(**given)


def _version() -> str:
    try:
        return metadata.version("dotward")
    except metadata.PackageNotFoundError:
        return "not installed"


def _sha256(path: Path) -> str:
    """Hash a file; the registry holds the hash of every network in turn."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        message = (
            f"{path.name}: cannot be read ({error.strerror}), so an answer could not "
            "say what it was made with. Install the program again."
        )
        raise VisionError(message) from error
