"""What a photo file says of itself: its kind, and what the camera claimed."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pillow_heif
from PIL import Image
from PIL.ExifTags import IFD, Base

from vision.errors import PhotoError

if TYPE_CHECKING:
    from pathlib import Path

SNIFF_BYTES = 32
_BEGINNINGS = {
    b"\xff\xd8\xff": ".jpg",
    b"\x89PNG\r\n\x1a\n": ".png",
    b"II*\x00": ".tif",
    b"MM\x00*": ".tif",
    b"BM": ".bmp",
}
_HEIF_BRANDS = frozenset({b"heic", b"heix", b"heif", b"mif1", b"msf1", b"avif"})
_CLAIMED = {
    "camera maker": Base.Make,
    "camera model": Base.Model,
    "software": Base.Software,
    "orientation": Base.Orientation,
    "file time": Base.DateTime,
}
_CLAIMED_IN_EXIF = {
    "taken": Base.DateTimeOriginal,
    "time zone": Base.OffsetTimeOriginal,
}
_MAX_CLAIM_CHARS = 200
_ON_ITS_SIDE = (5, 6, 7, 8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Claims:
    """What the camera wrote into the file.  The place itself is never copied."""

    texts: dict[str, str] = field(default_factory=dict)
    has_place: bool = False


def photo_suffix(start: bytes) -> str | None:
    """Tell the kind of picture file from its first bytes, never from its name.

    Parameters
    ----------
    start : bytes
        At least the first ``SNIFF_BYTES`` bytes of the file.

    Returns
    -------
    str or None
        ``.jpg`` and the like; None where it is no photo this tool reads.
    """
    for beginning, suffix in _BEGINNINGS.items():
        if start.startswith(beginning):
            return suffix
    if start[:4] == b"RIFF" and start[8:12] == b"WEBP":
        return ".webp"
    if start[4:8] == b"ftyp" and start[8:12] in _HEIF_BRANDS:
        return ".heic"
    return None


def open_picture(path: Path) -> Image.Image:
    """Open a picture's header; the pixels are decoded only when asked for.

    Parameters
    ----------
    path : Path
        A picture file.

    Returns
    -------
    Image
        Not upright: the orientation is not applied.
    """
    pillow_heif.register_heif_opener()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return Image.open(path)


def upright_size_px(path: Path) -> tuple[int, int]:
    """Read from a photo's header how large it is when upright.

    Parameters
    ----------
    path : Path
        A picture file.

    Returns
    -------
    int, int
        Width and height as of the loaded photo; nothing is unpacked.

    Raises
    ------
    PhotoError
        The header cannot be read.
    """
    try:
        with open_picture(path) as picture, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            width_px, height_px = picture.size
            # Pillow has turned the size of a TIFF by itself, and that of a HEIC.
            turns_itself = picture.format == "TIFF"
            turn = 1 if turns_itself else picture.getexif().get(Base.Orientation)
    except Exception as error:  # a hostile header may raise almost anything
        message = (
            f"{path.name}: its size cannot be read from the header. Choose an "
            "undamaged file."
        )
        raise PhotoError(message) from error
    return (height_px, width_px) if turn in _ON_ITS_SIDE else (width_px, height_px)


def read_claims(path: Path) -> Claims:
    """Read what the camera claimed about a photo.

    Parameters
    ----------
    path : Path
        A picture file.

    Returns
    -------
    Claims
        Empty where the file holds none or they cannot be read.
    """
    try:
        with open_picture(path) as picture, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            exif = picture.getexif()
            inner = exif.get_ifd(IFD.Exif)
            has_place = bool(exif.get_ifd(IFD.GPSInfo))
    # A damaged or hostile header may raise almost anything; the photo is kept
    # all the same and simply has no claims.
    except Exception:
        return Claims()
    found = {name: exif.get(tag) for name, tag in _CLAIMED.items()}
    found |= {name: inner.get(tag) for name, tag in _CLAIMED_IN_EXIF.items()}
    texts = {
        name: str(value)[:_MAX_CLAIM_CHARS].rstrip("\x00 ")
        for name, value in found.items()
        if isinstance(value, str | int) and str(value).strip("\x00 ")
    }
    return Claims(texts=texts, has_place=has_place)
