"""Pictures for the screen, made from stored photos: a view and fine tiles.

Everything here can be made again at any time.  A folder a picture: ``info.json``
(written last, so it says that the view is whole), ``view.jpg`` with its long side at
most ``VIEW_PX``, and ``tile-COLUMN-ROW.jpg`` at true pixels.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from ui.record.files import write_whole

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import numpy as np

VIEW_PX = 2400
TILE_PX = 1024
VIEW_QUALITY, TILE_QUALITY = 88, 95
INFO_NAME, VIEW_NAME = "info.json", "view.jpg"
PICTURE_FOLDER = "pictures"
_KEY = re.compile(r"[0-9a-f]{32}", flags=re.ASCII)
_FILE = re.compile(r"view\.jpg|tile-\d{1,3}-\d{1,3}\.jpg", flags=re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Info:
    """Sizes of a picture; ``view_px`` is the long side of its view."""

    width_px: int
    height_px: int
    view_px: int


def photo_key(sha256: str) -> str:
    """Name the picture of a photo.

    Parameters
    ----------
    sha256 : str
        Hash of the photo.

    Returns
    -------
    str
        32 hexadecimal digits.
    """
    return sha256[:32]


def pair_key(before_sha256: str, after_sha256: str, matrix: object) -> str:
    """Name the picture of an after photo laid over its before photo.

    Parameters
    ----------
    before_sha256, after_sha256 : str
        Hashes of the photos.
    matrix : list of list of float
        What lays the one over the other.

    Returns
    -------
    str
        32 hexadecimal digits.
    """
    text = json.dumps([before_sha256, after_sha256, matrix])
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def picture_folder(cache: Path, key: str) -> Path:
    """Say where a picture lies.

    Parameters
    ----------
    cache : Path
        Folder of what can be made again.
    key : str
        Name of the picture.

    Returns
    -------
    Path

    Raises
    ------
    ValueError
        The key has another form, so it could lead elsewhere.
    """
    if _KEY.fullmatch(key) is None:
        message = f"{key[:80]!r} is not the name of a picture"
        raise ValueError(message)
    return cache / PICTURE_FOLDER / key


def picture_file(cache: Path, key: str, name: str) -> Path | None:
    """Find a file of a picture.

    Parameters
    ----------
    cache : Path
        Folder of what can be made again.
    key, name : str
        As they stand in the address asked for.

    Returns
    -------
    Path or None
        None where there is no such file, or the name is none of ours.
    """
    if _KEY.fullmatch(key) is None or _FILE.fullmatch(name) is None:
        return None
    path = picture_folder(cache, key) / name
    return path if path.is_file() else None


def picture_info(cache: Path, key: str) -> Info | None:
    """Read the sizes of a picture.

    Parameters
    ----------
    cache : Path
        Folder of what can be made again.
    key : str
        Name of the picture.

    Returns
    -------
    Info or None
        None where the picture has not been made.
    """
    path = picture_folder(cache, key) / INFO_NAME
    try:
        return Info(**json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def lacks_tiles(cache: Path, key: str) -> bool:
    """Tell whether a picture is larger than its view and has not all its tiles.

    Parameters
    ----------
    cache : Path
        Folder of what can be made again.
    key : str
        Name of a picture that has a view.

    Returns
    -------
    bool
    """
    info = picture_info(cache, key)
    if info is None or max(info.width_px, info.height_px) <= info.view_px:
        return False
    last = f"{(info.width_px - 1) // TILE_PX}-{(info.height_px - 1) // TILE_PX}"
    return not (picture_folder(cache, key) / f"tile-{last}.jpg").is_file()


def save_view(folder: Path, pixels: np.ndarray) -> Info:
    """Write the view of a picture.

    Parameters
    ----------
    folder : Path
        Folder of the picture; made if missing.
    pixels : ndarray of shape (rows, cols, 3), uint8
        BGR, upright.

    Returns
    -------
    Info
    """
    # Only the worker decodes and encodes; the page itself needs no OpenCV.
    import cv2  # noqa: PLC0415

    rows, cols = pixels.shape[:2]
    scale = min(1.0, VIEW_PX / max(rows, cols))
    small = pixels
    if scale < 1.0:
        size = (round(cols * scale), round(rows * scale))
        small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    info = Info(width_px=cols, height_px=rows, view_px=max(small.shape[:2]))
    folder.mkdir(parents=True, exist_ok=True)
    write_whole(folder / VIEW_NAME, _jpeg(small, VIEW_QUALITY))
    write_whole(folder / INFO_NAME, json.dumps(asdict(info)).encode())
    return info


def save_tiles(folder: Path, pixels: np.ndarray) -> None:
    """Write the tiles of a picture that is larger than its view.

    Parameters
    ----------
    folder : Path
        Folder of the picture.
    pixels : ndarray of shape (rows, cols, 3), uint8
        BGR, upright.
    """
    rows, cols = pixels.shape[:2]
    if max(rows, cols) <= VIEW_PX:
        return
    for row in range(0, rows, TILE_PX):
        for col in range(0, cols, TILE_PX):
            path = folder / f"tile-{col // TILE_PX}-{row // TILE_PX}.jpg"
            if not path.exists():
                tile = pixels[row : row + TILE_PX, col : col + TILE_PX]
                write_whole(path, _jpeg(tile, TILE_QUALITY))


def warped(
    after: np.ndarray, matrix: Sequence[Sequence[float]], size_px: tuple[int, int]
) -> np.ndarray:
    """Lay an after photo over the frame of its before photo.

    Parameters
    ----------
    after : ndarray of shape (rows, cols, 3), uint8
        The photo to be laid over.
    matrix : 3 x 3 numbers
        Takes before pixels to after pixels.
    size_px : (int, int)
        Width and height of the before photo.

    Returns
    -------
    ndarray
        Grey where the after photo shows nothing.
    """
    import cv2  # noqa: PLC0415
    import numpy  # noqa: PLC0415, ICN001

    return cv2.warpPerspective(
        after,
        numpy.array(matrix, dtype=float),
        size_px,
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(128, 128, 128),
    )


def _jpeg(pixels: np.ndarray, quality: int) -> bytes:
    import cv2  # noqa: PLC0415

    is_made, content = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not is_made:
        message = "the picture could not be packed as JPEG"
        raise ValueError(message)
    return bytes(content)
