"""Copies of photos without the place they were taken at.

A place can hide in EXIF, XMP, maker notes, text chunks, preview pictures or a
film clip behind the picture.  So a copy keeps only what is known to be harmless:
the picture data, its colour profile and a few claims written anew.  The picture
data of JPEG, PNG and WebP is taken over bit for bit; other kinds are written as
PNG, upright, without loss of the 8-bit values.

References
----------
JPEG markers: ITU-T T.81 annex B.  PNG chunks: W3C PNG specification.  WebP
container: RFC 9649.
"""

from __future__ import annotations

import io
import struct
from typing import TYPE_CHECKING

from PIL import Image, ImageOps
from PIL.ExifTags import IFD, Base

from ui.record.claims import open_picture
from vision.errors import PhotoError

if TYPE_CHECKING:
    from pathlib import Path

_PNG_KEPT = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP"}
    | {b"pHYs", b"sBIT", b"bKGD"}
)
_PNG_START = b"\x89PNG\r\n\x1a\n"
_WEBP_KEPT = frozenset({b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP", b"ANIM", b"ANMF"})
_WEBP_FLAGS_DROPPED = 0x08 | 0x04  # EXIF and XMP present
_JPEG_ICC = b"ICC_PROFILE\x00"
_JPEG_ADOBE = b"Adobe"
_BROKEN = (
    OSError,
    IndexError,
    ValueError,
    SyntaxError,
    struct.error,
    Image.DecompressionBombError,
)
_KEPT_TAGS = (Base.Make, Base.Model, Base.Orientation, Base.DateTime)
_KEPT_EXIF_TAGS = (Base.DateTimeOriginal, Base.OffsetTimeOriginal)


def copy_without_place(path: Path) -> tuple[bytes, str]:
    """Make a copy of a photo that does not say where it was taken.

    Parameters
    ----------
    path : Path
        The untouched photo, named by its kind.

    Returns
    -------
    bytes, str
        Content and suffix of the copy.

    Raises
    ------
    PhotoError
        The file is too broken to be copied safely.
    """
    content = path.read_bytes()
    try:
        if path.suffix == ".jpg":
            return _jpeg(content, _harmless_exif(path)), ".jpg"
        if path.suffix == ".png" and _is_upright(path):
            return _png(content), ".png"
        if path.suffix == ".webp" and _is_upright(path):
            return _webp(content), ".webp"
        return _as_png(path), ".png"
    except _BROKEN as error:
        message = (
            f"{path.name}: too broken to make a copy without its place ({error}). "
            "Export with the originals, if the place may be known."
        )
        raise PhotoError(message) from error


def _is_upright(path: Path) -> bool:
    with open_picture(path) as picture:
        return bool(picture.getexif().get(Base.Orientation, 1) == 1)


def _harmless_exif(path: Path) -> bytes:
    """Write a few claims anew, the orientation among them."""
    old, new = Image.Exif(), Image.Exif()
    try:
        with open_picture(path) as picture:
            old = picture.getexif()
            inner = old.get_ifd(IFD.Exif)
    except Exception:
        return b""
    for tag in _KEPT_TAGS:
        if isinstance(old.get(tag), str | int):
            new[tag] = old[tag]
    kept = {
        int(tag): inner[tag]
        for tag in _KEPT_EXIF_TAGS
        if isinstance(inner.get(tag), str)
    }
    if kept:
        new.get_ifd(IFD.Exif).update(kept)
    return new.tobytes() if len(new) else b""


def _jpeg(content: bytes, exif: bytes) -> bytes:
    out = bytearray(b"\xff\xd8")
    if exif:
        out += b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif
    at = 2
    while True:
        marker, at = _jpeg_marker(content, at)
        if marker == 0xD9:
            return bytes(out + b"\xff\xd9")
        (size,) = struct.unpack_from(">H", content, at)
        segment = content[at : at + size]
        if len(segment) != size or size < 2:
            message = "a JPEG segment is cut off"
            raise ValueError(message)
        at += size
        if _jpeg_is_kept(marker, segment[2:]):
            out += bytes((0xFF, marker)) + segment
        if marker == 0xDA:
            end = _jpeg_scan_end(content, at)
            out += content[at:end]
            at = end


def _jpeg_marker(content: bytes, at: int) -> tuple[int, int]:
    while at + 1 < len(content):
        if content[at] != 0xFF:
            message = "a JPEG marker is missing"
            raise ValueError(message)
        if content[at + 1] != 0xFF:
            return content[at + 1], at + 2
        at += 1
    return 0xD9, at  # the end of the file ends a picture that was cut off


def _jpeg_scan_end(content: bytes, at: int) -> int:
    """Find the next marker that is neither a stuffed byte nor a restart."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0 or at + 1 >= len(content):
            return len(content)
        if content[at + 1] != 0x00 and not 0xD0 <= content[at + 1] <= 0xD7:
            return at
        at += 2


def _jpeg_is_kept(marker: int, payload: bytes) -> bool:
    if marker == 0xFE:
        return False
    if not 0xE0 <= marker <= 0xEF:
        return True
    return (
        (marker == 0xE0 and payload.startswith(b"JFIF\x00"))
        or (marker == 0xE2 and payload.startswith(_JPEG_ICC))
        or (marker == 0xEE and payload.startswith(_JPEG_ADOBE))
    )


def _png(content: bytes) -> bytes:
    out, at = bytearray(_PNG_START), len(_PNG_START)
    while at < len(content):
        size, name = struct.unpack_from(">I4s", content, at)
        chunk = content[at : at + 12 + size]
        if len(chunk) != 12 + size:
            message = "a PNG chunk is cut off"
            raise ValueError(message)
        if name in _PNG_KEPT:
            out += chunk
        if name == b"IEND":
            return bytes(out)
        at += 12 + size
    message = "the PNG has no end"
    raise ValueError(message)


def _webp(content: bytes) -> bytes:
    body, at = bytearray(), 12
    (total,) = struct.unpack_from("<I", content, 4)
    end = min(len(content), total + 8)
    while at + 8 <= end:
        name, size = struct.unpack_from("<4sI", content, at)
        data = content[at + 8 : at + 8 + size]
        if len(data) != size:
            message = "a WebP chunk is cut off"
            raise ValueError(message)
        if name == b"VP8X":
            data = bytes((data[0] & ~_WEBP_FLAGS_DROPPED,)) + data[1:]
        if name in _WEBP_KEPT:
            body += name + struct.pack("<I", size) + data + b"\x00" * (size % 2)
        at += 8 + size + size % 2
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + bytes(body)


def _as_png(path: Path) -> bytes:
    with open_picture(path) as picture:
        upright = ImageOps.exif_transpose(picture).convert("RGB")
    out = io.BytesIO()
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    bare.save(out, "PNG")
    return out.getvalue()
