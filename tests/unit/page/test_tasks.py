"""What the worker does with real and with hostile files."""

from __future__ import annotations

import struct
import zlib

import pillow_heif
import pytest
from PIL import Image

from ui.page.pictures import photo_key, picture_folder, picture_info
from ui.page.tasks import TASKS
from ui.record import Opened, add_photo, load_job, new_job_name, open_job, photo_path

pillow_heif.register_heif_opener()


def png_header(width, height):
    """Give a PNG that claims a size and holds next to nothing."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = [(b"IHDR", head), (b"IDAT", zlib.compress(b"\0" * 2000)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data))
        + kind
        + data
        + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in parts
    )


@pytest.fixture
def job(tmp_path):
    opening = Opened(job=new_job_name(), technician="T", part="p", patient="b")
    return open_job(tmp_path / "jobs", opening)


def about(job, cache):
    event = load_job(job).photos[0].event
    path = photo_path(job, event.sha256, event.suffix)
    return {"cache": str(cache), "key": photo_key(event.sha256), "photo": str(path)}


def test_a_view_is_upright(job, tmp_path):
    picture = Image.effect_noise((640, 480), 60)
    exif = Image.Exif()
    exif[0x0112] = 6
    picture.save(tmp_path / "p.jpg", exif=exif)
    add_photo(job, tmp_path / "p.jpg", stage="before", by="T")
    said = []
    TASKS["view"](about(job, tmp_path), lambda *stage: said.append(stage))
    info = picture_info(tmp_path, about(job, tmp_path)["key"])
    assert (info.width_px, info.height_px) == (480, 640)
    assert said == [("picture",)]


def test_a_view_tells_nothing_of_the_camera_or_the_place(job, tmp_path):
    picture = Image.effect_noise((640, 480), 60)
    exif = Image.Exif()
    exif[0x010F] = "Camera works"
    exif.get_ifd(0x8825).update(
        {1: "N", 2: (53.0, 33.0, 12.0), 3: "E", 4: (9.0, 58.0, 1.0)}
    )
    picture.save(tmp_path / "p.heic", exif=exif.tobytes())
    add_photo(job, tmp_path / "p.heic", stage="before", by="T")
    assert load_job(job).photos[0].event.has_place
    task = about(job, tmp_path)
    TASKS["view"](task, lambda *_: None)
    with Image.open(picture_folder(tmp_path, task["key"]) / "view.jpg") as view:
        assert view.size == (640, 480)
        assert not view.getexif()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (png_header(20_000, 10_000), "over 60 megapixels"),
        (png_header(60_000, 60_000), "megapixels"),
        (b"\xff\xd8\xff\xe0" + bytes(range(256)) * 40, ""),
        (b"II*\x00" + b"\xff" * 900, ""),
        (b"RIFF\x40\x00\x00\x00WEBPVP8 " + b"\x00" * 90, ""),
        (b"\x00\x00\x00\x18ftypheic" + b"\x00" * 300, ""),
    ],
    ids=["200 MP", "3600 MP", "random jpeg", "random tiff", "empty webp", "empty heic"],
)
def test_a_hostile_file_is_answered_with_a_sentence(job, tmp_path, content, words):
    (tmp_path / "evil.jpg").write_bytes(content)
    add_photo(job, tmp_path / "evil.jpg", stage="before", by="T")
    assert TASKS["check"]({"folder": str(job)}, lambda *_: None) == 1
    (answer,) = load_job(job).answers
    message = answer.event.answer["error"]["message"]
    assert words in message
    assert "Traceback" not in message
    assert str(tmp_path) not in message


def test_photos_of_other_stages_are_not_taken_for_a_chip_from_above(job, tmp_path):
    for shade, stage in ((90, "lands"), (140, "side")):
        Image.new("RGB", (640, 480), (shade, shade, shade)).save(tmp_path / "p.jpg")
        add_photo(job, tmp_path / "p.jpg", stage=stage, by="T")
    TASKS["check"]({"folder": str(job)}, lambda *_: None)
    lands, side = (noted.event.answer for noted in load_job(job).answers)
    assert (lands["format"], lands["state"]) == ("dotward.lands/1", "unsure")
    assert "photo of the chip before lifting" in lands["reasons"][0]
    assert (side["format"], side["state"]) == ("dotward.side/1", "unsure")
