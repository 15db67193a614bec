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
    photo_report_json,
    side_seen_json,
    side_view_json,
)
from ui.record import Checker
from vision.by_hand import ByHand
from vision.by_name import name_by_hand
from vision.errors import PhotoError, RecordError, VisionError
from vision.limits import shop_limits
from vision.load import load_photo
from vision.package_names import packages_named
from vision.results import NotFound, Photo, SideSeen

if TYPE_CHECKING:
    from collections.abc import Callable

    from ui.record import Corrected
    from ui.record.events import Stage
    from vision.packages import Variant
    from vision.results import LeadRow, PhotoReport, Point, Quad

    Fixes = tuple[Corrected, ...]
    Rows = tuple[tuple[Path, tuple[int, ...]], ...]

_ROOT = Path(__file__).resolve().parent.parent
NO_BEFORE = (
    "the kind of chip is not known, so its lands cannot be looked for. Add a photo of "
    "the chip before lifting in which its kind can be told."
)
SIDE_FORMAT = "dotward.side/1"
NO_CHIP = (
    "the kind of chip is not known, so its feet cannot be measured. Add a photo from "
    "above, before or after, in which its kind can be told."
)
KEPT = 2
"""Photos whose report is kept for the comparison that follows."""
MAX_KEPT_BYTES = 60_000_000
_MADE_WITH = {
    "models": _ROOT / "models" / "registry.toml",
    "limits": _ROOT / "vision" / "data" / "limits.toml",
}


def tool_checker(limits_file: Path | None = None) -> Checker:
    """Give the checker that looks with this program's own pipeline.

    Parameters
    ----------
    limits_file : Path or None
        The shop's own limits.

    Returns
    -------
    Checker
        A photo it cannot use gets an answer with ``error``.

    Raises
    ------
    VisionError
        The pipeline cannot be loaded, for instance for want of a network, or the
        limits break their rules.
    """
    # Loading the networks takes a moment, so only a check pays for it.
    from vision.pipeline import compare_looks, look  # noqa: PLC0415

    limits = shop_limits(limits_file)
    own = {} if limits_file is None else {"own limits": limits_file}
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
        path: Path,
        *,
        stage: Stage,
        by_hand: Fixes,
        like: str | None,
        leads: tuple[int, ...],
    ) -> dict[str, Any]:
        try:
            if stage == "lands":
                return _lands_json(path, like)
            if stage == "side":
                return _side_json(path, like, leads)
            fixes = _by_hand(by_hand)
            report = look_once(path, fixes)
            return photo_report_json(report) | _named_json(report, fixes)
        except PhotoError as error:
            return error_json(path.name, error)

    def compare_json(
        before: Path,
        after: Path,
        *,
        by_hand: tuple[Fixes, Fixes],
        lands: Path | None,
        side: Rows,
    ) -> dict[str, Any]:
        fixes = (_by_hand(by_hand[0]), _by_hand(by_hand[1]))
        try:
            looks = look_once(before, fixes[0]), look_once(after, fixes[1])
            bare = None if lands is None else load_photo(lands)
            rows = [(_photo_or_error(row), _row(leads)) for row, leads in side]
            found = compare_looks(
                *looks,
                chosen=(fixes[0].points_at_chip, fixes[1].points_at_chip),
                lands_photo=bare,
                side_photos=[(p, leads) for p, leads in rows if isinstance(p, Photo)],
                named=fixes[0].package or fixes[1].package,
                limits=limits,
            )
            answer = pair_report_json(found)
            return answer | {"side": _rows_json(rows, answer["side"])}
        except PhotoError as error:
            return pair_error_json(before.name, after.name, error)

    return Checker(
        look=look_json,
        compare=compare_json,
        tool_version=_version(),
        made_with={name: _sha256(path) for name, path in (_MADE_WITH | own).items()},
    )


def _named_json(report: PhotoReport, by_hand: ByHand) -> dict[str, Any]:
    """Say whether the chip may be what a person named it, where somebody did."""
    if not by_hand.package or not report.packages:
        return {}
    _, doubt = name_by_hand(report.packages[0], by_hand.package)
    return {"named": {"state": doubt.state, "reasons": list(doubt.reasons)}}


def _lands_json(path: Path, like: str | None) -> dict[str, Any]:
    """Look at bare lands; whose they are is known from the photo before lifting."""
    from ui.lands_command import lands_json  # noqa: PLC0415
    from vision.lands_check import look_at_lands  # noqa: PLC0415

    variants = packages_named(like) if like else NotFound(reason=NO_BEFORE)
    if isinstance(variants, NotFound):
        photo = load_photo(path)
        return lands_json(photo, variants)
    return lands_json(*look_at_lands(path, variants))


def _side_json(path: Path, like: str | None, leads: tuple[int, ...]) -> dict[str, Any]:
    """Measure a row of feet; whose they are is known from a photo from above."""
    from vision.side_check import NO_SIZE, read_row  # noqa: PLC0415
    from vision.side_view import unlike_sizes  # noqa: PLC0415

    variants = packages_named(like) if like else NotFound(reason=NO_CHIP)
    photo = load_photo(path)
    if not isinstance(variants, NotFound) and (unlike := unlike_sizes(variants)):
        variants = NotFound(reason=f"{NO_SIZE}: it may be {', '.join(unlike)}")
    if isinstance(variants, NotFound):
        seen = SideSeen(photo=photo, leads=_row(leads), view=variants)
    else:
        seen = read_row(photo, _row(leads), variants[0])
    return {"format": SIDE_FORMAT, **side_seen_json(seen)}


def _photo_or_error(path: Path) -> Photo | str:
    """Load a side photo; one that cannot be used does not spoil the comparison."""
    try:
        return load_photo(path)
    except PhotoError as error:
        return str(error).removeprefix(f"{path.name}: ")


def _rows_json(
    rows: list[tuple[Photo | str, LeadRow | None]], read: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Put the rows that were read among those whose photo cannot be used."""
    left = iter(read)
    return [
        next(left)
        if isinstance(photo, Photo)
        else {
            "photo": {"width_px": 0, "height_px": 0},
            "leads": None if leads is None else list(leads),
            "note": "",
            **side_view_json(NotFound(reason=photo)),
        }
        for photo, leads in rows
    ]


def _row(leads: tuple[int, ...]) -> LeadRow | None:
    return (leads[0], leads[1]) if leads else None


def _outline_px(value: dict[str, Any]) -> tuple[str, Quad]:
    a, b, c, d = ((float(x), float(y)) for x, y in value["outline_px"])
    return "outline_px", (a, b, c, d)


def _pin1_px(value: dict[str, Any]) -> tuple[str, Point]:
    x, y = value["at_px"]
    return "pin1_px", (float(x), float(y))


def _package(value: dict[str, Any]) -> tuple[str, tuple[Variant, ...]]:
    named = packages_named(value["name"])
    if not isinstance(named, NotFound):
        return "package", named
    raise ValueError(named.reason)


_READERS: dict[str, Callable[[dict[str, Any]], tuple[str, object]]] = {
    "outline": _outline_px,
    "pin1": _pin1_px,
    "package": _package,
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
