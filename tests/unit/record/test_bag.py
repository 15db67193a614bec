"""Exports: whole bags, no places, originals only where asked for."""

from __future__ import annotations

import csv
import hashlib
import struct
import zlib

import bagit
import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageOps
from PIL.ExifTags import IFD, Base
from PIL.PngImagePlugin import PngInfo

from tests.unit.record.helpers import PLACE, make_photo
from ui.record import Outcome, add_event, add_photo, check_bag, export_bag
from ui.record.journal import JOURNAL_NAME
from ui.record.privacy import copy_without_place
from vision.errors import PhotoError, RecordError

XMP = b"http://ns.adobe.com/xap/1.0/\x00<x exif:GPSLatitude='53,33.2N'/>"


def exif_with_place(orientation=1):
    exif = Image.Exif()
    exif[Base.Orientation] = orientation
    exif[Base.Make] = "Test camera works"
    exif.get_ifd(IFD.GPSInfo).update(PLACE)
    return exif


def assert_no_place(content, tmp_path, suffix):
    assert b"GPSLatitude" not in content
    assert b"SECRET PLACE" not in content
    path = tmp_path / f"copy{suffix}"
    path.write_bytes(content)
    with Image.open(path) as picture:
        assert not dict(picture.getexif().get_ifd(IFD.GPSInfo))
        return np.asarray(ImageOps.exif_transpose(picture).convert("RGB"))


def upright(path):
    with Image.open(path) as picture:
        return np.asarray(ImageOps.exif_transpose(picture).convert("RGB"))


@pytest.fixture
def noise():
    return Image.effect_noise((40, 30), 60).convert("RGB")


def test_jpeg_copy_keeps_every_pixel_and_turn(tmp_path, noise):
    path = tmp_path / "a.jpg"
    noise.save(path, quality=92, exif=exif_with_place(6), progressive=True)
    content = path.read_bytes()
    segment = b"\xff\xe1" + struct.pack(">H", len(XMP) + 2) + XMP
    comment = b"\xff\xfe" + struct.pack(">H", 14) + b"SECRET PLACE"
    path.write_bytes(
        content[:2] + segment + comment + content[2:] + b"ftypmp42 SECRET PLACE"
    )
    copy, suffix = copy_without_place(path)
    assert suffix == ".jpg"
    assert np.array_equal(assert_no_place(copy, tmp_path, suffix), upright(path))
    with Image.open(tmp_path / "copy.jpg") as picture:
        assert picture.getexif()[Base.Orientation] == 6
        assert picture.getexif()[Base.Make] == "Test camera works"


def test_jpeg_that_was_cut_off_is_copied_as_far_as_it_goes(tmp_path, noise):
    path = tmp_path / "a.jpg"
    noise.save(path, quality=92, exif=exif_with_place())
    path.write_bytes(path.read_bytes()[:-300])
    copy, _ = copy_without_place(path)
    assert copy.endswith(b"\xff\xd9")
    assert b"GPS" not in copy


@pytest.mark.parametrize("orientation", [1, 3])
def test_png_copy(tmp_path, noise, orientation):
    path = tmp_path / "a.png"
    texts = PngInfo()
    texts.add_text("place", "SECRET PLACE")
    noise.save(path, exif=exif_with_place(orientation), pnginfo=texts)
    copy, suffix = copy_without_place(path)
    assert np.array_equal(assert_no_place(copy, tmp_path, suffix), upright(path))


@pytest.mark.parametrize("orientation", [1, 8])
@pytest.mark.parametrize("lossless", [True, False])
def test_webp_copy(tmp_path, noise, orientation, lossless):
    path = tmp_path / "a.webp"
    noise.save(path, lossless=lossless, exif=exif_with_place(orientation), xmp=XMP)
    copy, suffix = copy_without_place(path)
    assert np.array_equal(assert_no_place(copy, tmp_path, suffix), upright(path))


@pytest.mark.parametrize("suffix", [".heic", ".tif", ".bmp"])
def test_other_kinds_become_png(tmp_path, noise, suffix):
    pillow_heif.register_heif_opener()
    path = tmp_path / f"a{suffix}"
    extra = {} if suffix == ".bmp" else {"exif": exif_with_place()}
    noise.save(path, **extra)
    copy, new_suffix = copy_without_place(path)
    assert new_suffix == ".png"
    assert np.array_equal(assert_no_place(copy, tmp_path, new_suffix), upright(path))


def png_chunk(name, data):
    crc = struct.pack(">I", zlib.crc32(name + data))
    return struct.pack(">I", len(data)) + name + data + crc


@pytest.mark.parametrize(
    ("suffix", "content"),
    [
        (".jpg", b"\xff\xd8\xff\xe1\xff\xff" + bytes(9)),
        (".jpg", b"\xff\xd8\xff\xe1"),
        (".png", b"\x89PNG\r\n\x1a\n" + bytes(5)),
        (".png", b"\x89PNG\r\n\x1a\n" + b"\xff\xff\xff\xff" + b"IDAT"),
        (
            ".tif",
            b"\x89PNG\r\n\x1a\n"
            + png_chunk(
                b"IHDR", struct.pack(">IIBBBBB", 200_000, 200_000, 8, 2, 0, 0, 0)
            )
            + png_chunk(b"IEND", b""),
        ),
        (".webp", b"RIFF\xff\xff\xff\xffWEBPVP8X\x00\x00\x00\x00"),
        (".heic", b"\x00\x00\x00\x18ftypheic" + bytes(40)),
    ],
)
def test_broken_pictures_are_refused_not_copied(tmp_path, suffix, content):
    path = tmp_path / f"a{suffix}"
    path.write_bytes(content)
    with pytest.raises(PhotoError, match="too broken"):
        copy_without_place(path)


def test_bag_is_valid_and_names_everything(job, tmp_path):
    hostile = '=HYPERLINK("http://x")\u202e<script>.jpg'
    source = make_photo(tmp_path / "a.jpg")
    add_photo(job, source, stage="before", by="T", name=hostile)
    bag = export_bag(job, tmp_path / "out" / "bag")
    check_bag(bag)
    assert bagit.Bag(str(bag)).info["External-Identifier"] == job.name
    journal = (bag / "data" / JOURNAL_NAME).read_bytes()
    assert journal == (job / JOURNAL_NAME).read_bytes()
    (copy,) = (bag / "data" / "photos").iterdir()
    with Image.open(copy) as picture:
        assert not dict(picture.getexif().get_ifd(IFD.GPSInfo))
    with (bag / "data" / "photos.csv").open(newline="", encoding="utf-8") as file:
        (row,) = list(csv.DictReader(file))
    assert row["original_sha256"] == hashlib.sha256(source.read_bytes()).hexdigest()
    assert row["copy_sha256"] == hashlib.sha256(copy.read_bytes()).hexdigest()
    assert row["original_place_removed"] == "yes"
    assert row["name_as_given"].startswith("'=HYPERLINK")
    assert "[U+202E]" in row["name_as_given"]
    assert not (bag / "data" / "originals").exists()


def test_originals_only_on_request(job, tmp_path):
    source = make_photo(tmp_path / "a.jpg")
    add_photo(job, source, stage="before", by="T")
    bag = export_bag(job, tmp_path / "bag", with_originals=True)
    (original,) = (bag / "data" / "originals").iterdir()
    assert original.read_bytes() == source.read_bytes()
    original.chmod(0o644)
    original.write_bytes(b"other")
    with pytest.raises(RecordError, match="Export the job again"):
        check_bag(bag)


def test_photo_that_cannot_be_copied_is_named_in_the_bag(job, tmp_path):
    source = tmp_path / "a.jpg"
    source.write_bytes(b"\xff\xd8\xff\xe1\xff\xff broken")
    add_photo(job, source, stage="before", by="T")
    bag = export_bag(job, tmp_path / "bag")
    (note,) = (bag / "data" / "photos").iterdir()
    assert "too broken" in note.read_text(encoding="utf-8")


def test_damaged_job_and_existing_target_are_refused(job, tmp_path):
    (tmp_path / "bag").mkdir()
    with pytest.raises(RecordError, match="there already"):
        export_bag(job, tmp_path / "bag")
    add_event(job, Outcome(worked=True, by="T"))
    content = (job / JOURNAL_NAME).read_bytes()
    (job / JOURNAL_NAME).write_bytes(content.replace(b'"by":"T"', b'"by":"U"'))
    with pytest.raises(RecordError, match="event 2"):
        export_bag(job, tmp_path / "new")
    assert not list(tmp_path.glob(".part-*"))
    assert not (tmp_path / "new").exists()
