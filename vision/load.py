"""From a file to an upright photo, or a clear refusal."""

from __future__ import annotations

import hashlib
import io
import struct
import warnings
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
from PIL import Image, ImageOps, UnidentifiedImageError

from vision.errors import PHOTO_KINDS, PhotoError
from vision.results import Photo
from vision.spare import begin

pillow_heif.register_heif_opener()

FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "HEIF", "BMP", "GIF")
WANTED = f"a photo as {PHOTO_KINDS} is needed"
MIN_PIXELS = 50_000
"""Below this no chip has five pixels across a lead; thumbnails and icons end here."""
MAX_PIXELS = 60_000_000
"""Room for a 50-megapixel phone; three such photos still fit in 1 GiB."""
MIN_SIDE_PX = 100
MAX_BYTES = 400_000_000
"""A 50-megapixel TIFF with 16 bits a channel has 300 MB."""

EXIF_ORIENTATION = 0x0112
JPEG_START, JPEG_END, JPEG_SCAN = b"\xff\xd8", b"\xff\xd9", 0xDA

DECODE_ERRORS = (
    OSError,
    SyntaxError,
    ValueError,
    RuntimeError,
    EOFError,
    struct.error,
    cv2.error,
    MemoryError,
)
"""What decoders raise on damaged files; ``OSError`` covers Pillow's own."""


def load_photo(
    path: str | Path, *, min_pixels: int = MIN_PIXELS, max_pixels: int = MAX_PIXELS
) -> Photo:
    """Read a photo and turn it upright.

    Parameters
    ----------
    path : str or Path
        JPEG, PNG, WebP, TIFF, HEIC or BMP (also GIF).
    min_pixels, max_pixels : int
        Smallest and largest count of pixels accepted.

    Returns
    -------
    Photo
        ``pixels`` are (rows, cols, 3), uint8, BGR, read-only, with the EXIF
        orientation applied; ``sha256`` is that of the untouched bytes of the file.

    Raises
    ------
    PhotoError
        If the file is missing, empty, of another kind, damaged or cut short, too
        small or too large.  The size is taken from the header, so an enormous picture
        is refused before it is unpacked.

    Notes
    -----
    Of an animation or a file with several pages the first picture is taken.  Sixteen
    bits a channel are brought to eight by dividing by 257.  Transparent parts become
    white, as viewers show them on paper; the colour stored under full transparency is
    arbitrary and must not look like a board.  Colour profiles are not applied: no
    check depends on absolute colour.
    """
    path = Path(path)
    data = _read(path)
    digest = begin(hashlib.sha256, data)
    with warnings.catch_warnings():
        # Too large a picture is refused below with a sentence of our own.
        warnings.simplefilter("ignore")
        picture = _open(data, path.name)
        _check_size(picture.size, path.name, min_pixels, max_pixels)
        try:
            pixels = _decode(data, picture)
        except DECODE_ERRORS as error:
            message = (
                f"{path.name}: the picture cannot be unpacked ({_said(error)}); an "
                "undamaged file is needed. Copy it from the camera again."
            )
            raise PhotoError(message) from error
    pixels = np.ascontiguousarray(pixels)
    pixels.setflags(write=False)
    return Photo(
        path=path,
        sha256=digest().hexdigest(),
        width_px=pixels.shape[1],
        height_px=pixels.shape[0],
        pixels=pixels,
    )


def _read(path: Path) -> bytes:
    """Read the bytes of a file of sensible length."""
    if not path.is_file():
        seen = "this is a folder" if path.is_dir() else "there is no such file"
        message = f"{path.name}: {seen}; {WANTED}. Check the name and the folder."
        raise PhotoError(message)
    try:
        size = path.stat().st_size
        if size > MAX_BYTES:
            message = (
                f"{path.name}: {size / 1e6:.0f} MB; at most {MAX_BYTES / 1e6:.0f} MB "
                "accepted. Save it as JPEG."
            )
            raise PhotoError(message)
        data = path.read_bytes()
    except OSError as error:
        message = (
            f"{path.name}: it cannot be read ({error.strerror}); a readable file is "
            "needed. Check the rights and the medium."
        )
        raise PhotoError(message) from error
    if not data:
        message = (
            f"{path.name}: the file is empty; {WANTED}. Copy it from the camera again."
        )
        raise PhotoError(message)
    return data


def _open(data: bytes, name: str) -> Image.Image:
    """Read the header and refuse what is no photo."""
    try:
        return Image.open(io.BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError as error:
        message = (
            f"{name}: the header speaks of a picture far over "
            f"{MAX_PIXELS / 1e6:.0f} megapixels; it was not unpacked. Take the photo "
            "again, or make it smaller."
        )
        raise PhotoError(message) from error
    except UnidentifiedImageError as error:
        start = data[:200].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
        seen = "its content is no picture that we can read"
        if start.startswith(b"<"):
            seen = "its content is text (a web page or a drawing), whatever its name"
        elif start.startswith(b"%pdf"):
            seen = "its content is a PDF document, whatever its name"
        elif data.startswith(JPEG_START):
            seen = "it starts like a JPEG but the header is damaged or cut short"
        message = f"{name}: {seen}; {WANTED}. Send the photo as the camera made it."
        raise PhotoError(message) from error
    except DECODE_ERRORS as error:
        message = (
            f"{name}: the header is damaged ({_said(error)}); {WANTED}. Copy it from "
            "the camera again."
        )
        raise PhotoError(message) from error


def _said(error: BaseException) -> str:
    """Give a decoder's complaint on one line and in one breath."""
    return " ".join(str(error).split())[:100].rstrip(" .:") or "no reason given"


def _check_size(
    size_px: tuple[int, int], name: str, min_pixels: int, max_pixels: int
) -> None:
    """Refuse by the header alone a picture that is too small or too large."""
    width, height = size_px
    seen = f"{name}: {width} x {height} px, {width * height / 1e6:.2f} megapixels"
    if width * height > max_pixels:
        message = (
            f"{seen}; at most {max_pixels / 1e6:.0f} accepted. Set the camera to a "
            "smaller size, or cut the picture to the chip and its surroundings."
        )
        raise PhotoError(message)
    if width * height < min_pixels or min(width, height) < MIN_SIDE_PX:
        message = (
            f"{seen}; at least {min_pixels / 1e6:.2f} and {MIN_SIDE_PX} px a side are "
            "needed. Send the photo as the camera made it, not its thumbnail."
        )
        raise PhotoError(message)


def _decode(data: bytes, picture: Image.Image) -> np.ndarray:
    """Unpack the first picture, upright, BGR."""
    jpeg = picture.format in ("JPEG", "MPO")
    if jpeg and not _is_complete_jpeg(data):
        message = "the file ends before the picture does"
        raise ValueError(message)
    if jpeg and picture.mode in ("RGB", "L"):
        return _decode_jpeg(data, picture.getexif().get(EXIF_ORIENTATION, 1))
    picture.load()
    upright = ImageOps.exif_transpose(picture)
    return cv2.cvtColor(_to_rgb(upright), cv2.COLOR_RGB2BGR)


def _decode_jpeg(data: bytes, orientation: int) -> np.ndarray:
    """Unpack a JPEG the fast way and apply its EXIF orientation."""
    flags = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    if pixels is None:
        message = "its data are damaged"
        raise ValueError(message)
    if orientation in (5, 7):
        pixels = cv2.transpose(pixels)
    turns = {
        3: cv2.ROTATE_180,
        6: cv2.ROTATE_90_CLOCKWISE,
        7: cv2.ROTATE_180,
        8: cv2.ROTATE_90_COUNTERCLOCKWISE,
    }
    if orientation in turns:
        pixels = cv2.rotate(pixels, turns[orientation])
    if orientation in (2, 4):
        pixels = cv2.flip(pixels, 1 if orientation == 2 else 0)
    return pixels


def _to_rgb(picture: Image.Image) -> np.ndarray:
    """Bring any mode to eight bits RGB; transparent parts become white."""
    if picture.mode.startswith("I") or picture.mode == "F":
        values = np.asarray(picture, dtype=np.float64)
        if not np.isfinite(values).all() or values.min() < 0 or values.max() > 65535:
            message = "its brightness values are outside 16 bits"
            raise ValueError(message)
        grey = np.round(values / 257.0).astype(np.uint8)
        return np.repeat(grey[:, :, None], 3, axis=2)
    if picture.has_transparency_data:
        over = picture.convert("RGBA")
        white = Image.new("RGBA", over.size, "white")
        return np.asarray(Image.alpha_composite(white, over).convert("RGB"))
    return np.asarray(picture.convert("RGB"))


def _is_complete_jpeg(data: bytes) -> bool:
    """Tell whether a JPEG's picture ends with its end marker.

    Decoders fill what is missing with grey and say nothing.  Thumbnails in the header
    have end markers of their own, so the header's segments are stepped over first.
    """
    place = len(JPEG_START)
    while place + 4 <= len(data):
        if data[place] != 0xFF:
            return False
        if data[place + 1] == 0xFF:
            place += 1
            continue
        if data[place + 1] == JPEG_SCAN:
            return data.rfind(JPEG_END, place) >= 0
        place += 2 + int.from_bytes(data[place + 2 : place + 4], "big")
    return False
