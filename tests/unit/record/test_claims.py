"""What a photo's header says of its size, against the photo as it is loaded."""

from __future__ import annotations

import pillow_heif
import pytest
from PIL import Image
from PIL.ExifTags import Base

from ui.record.claims import upright_size_px
from vision.errors import PhotoError
from vision.load import load_photo

pillow_heif.register_heif_opener()


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "tif", "heic"])
def test_the_size_is_that_of_the_loaded_photo(tmp_path, suffix, orientation):
    exif = Image.Exif()
    exif[Base.Orientation] = orientation
    path = tmp_path / f"photo.{suffix}"
    said = exif.tobytes() if suffix == "heic" else exif
    Image.new("RGB", (400, 300), (9, 80, 200)).save(path, exif=said)
    photo = load_photo(path)
    assert upright_size_px(path) == (photo.width_px, photo.height_px)


def test_a_header_that_cannot_be_read_is_told(tmp_path):
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"no picture")
    with pytest.raises(PhotoError, match=r"photo.jpg: its size cannot be read"):
        upright_size_px(path)
