"""Every kind of file that a technician may hand over, good and bad."""

import hashlib
import io
import struct
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.tolerances import LOSSY_GREY_LEVELS
from vision.errors import PhotoError
from vision.load import load_photo

WIDTH, HEIGHT = 400, 300
# One colour a quarter of the picture (RGB), so that every turn and mirror shows.
QUARTERS = {
    (0, 0): (200, 40, 40),
    (1, 0): (40, 200, 40),
    (0, 1): (40, 40, 200),
    (1, 1): (220, 220, 60),
}
ORIENTATION = 0x0112


def scene():
    """The upright picture, RGB."""
    rgb = np.zeros((HEIGHT, WIDTH, 3), np.uint8)
    for (right, low), colour in QUARTERS.items():
        rows = slice(low * HEIGHT // 2, (low + 1) * HEIGHT // 2)
        rgb[rows, right * WIDTH // 2 : (right + 1) * WIDTH // 2] = colour
    return rgb


def save(path, picture, kind, **options):
    picture.save(path, kind, **options)
    return path


def is_upright(photo, tolerance=LOSSY_GREY_LEVELS):
    """Whether each quarter has its colour; says so with an assertion."""
    assert photo.pixels.shape == (HEIGHT, WIDTH, 3) == (*photo.pixels.shape[:2], 3)
    assert (photo.width_px, photo.height_px) == (WIDTH, HEIGHT)
    assert photo.pixels.dtype == np.uint8
    for (right, low), colour in QUARTERS.items():
        row, col = HEIGHT // 4 + low * HEIGHT // 2, WIDTH // 4 + right * WIDTH // 2
        seen = photo.pixels[row, col, ::-1].astype(int)
        assert np.abs(seen - colour).max() <= tolerance
    return True


def laid(orientation):
    """The picture as a camera stores it under an EXIF orientation."""
    # The inverse of what a viewer does; EXIF 2.3, tag 0x0112.
    undo = {
        1: lambda a: a,
        2: np.fliplr,
        3: lambda a: np.rot90(a, 2),
        4: np.flipud,
        5: lambda a: a.transpose(1, 0, 2),
        6: lambda a: np.rot90(a, 1),
        7: lambda a: np.rot90(a.transpose(1, 0, 2), 2),
        8: lambda a: np.rot90(a, -1),
    }
    return Image.fromarray(np.ascontiguousarray(undo[orientation](scene())))


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_exif_orientation_is_applied(tmp_path, kind, orientation):
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    options = {"quality": 95} if kind in ("JPEG", "WEBP") else {}
    picture = laid(orientation)
    path = save(tmp_path / "a.jpg", picture, kind, exif=exif, **options)
    assert is_upright(load_photo(path))


@pytest.mark.parametrize("orientation", [0, 9, 77])
def test_an_impossible_orientation_is_ignored(tmp_path, orientation):
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    assert is_upright(load_photo(save(tmp_path / "a", laid(1), "JPEG", exif=exif)))


@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ("JPEG", {"quality": 95}),
        ("JPEG", {"quality": 95, "progressive": True}),
        ("PNG", {}),
        ("WEBP", {"lossless": True}),
        ("WEBP", {"quality": 95}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("HEIF", {"quality": 95}),
        ("BMP", {}),
    ],
)
def test_every_format_whatever_the_name_says(tmp_path, kind, options):
    path = save(tmp_path / "photo.xyz", Image.fromarray(scene()), kind, **options)
    photo = load_photo(str(path))
    assert is_upright(photo)
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert not photo.pixels.flags.writeable


def test_heic_orientation_is_applied_once(tmp_path):
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    path = save(tmp_path / "a.heic", laid(6), "HEIF", quality=95, exif=exif.tobytes())
    assert is_upright(load_photo(path))


@pytest.mark.parametrize("mode", ["L", "1", "P", "CMYK", "YCbCr", "LAB"])
def test_other_colour_modes(tmp_path, mode):
    kind = "JPEG" if mode in ("CMYK", "YCbCr") else "TIFF"
    given = Image.fromarray(scene()).convert(mode)
    photo = load_photo(save(tmp_path / "a.jpg", given, kind))
    if mode not in ("L", "1"):
        # LAB and palette files hold colours a little off the ones given.
        assert is_upright(photo, tolerance=4 * LOSSY_GREY_LEVELS)
    else:
        assert (photo.pixels.max(axis=2) == photo.pixels.min(axis=2)).all()


def test_grey_jpeg(tmp_path):
    path = save(tmp_path / "a.jpg", Image.fromarray(scene()).convert("L"), "JPEG")
    assert load_photo(path).pixels.shape == (HEIGHT, WIDTH, 3)


@pytest.mark.parametrize("suffix", [".png", ".tiff"])
@pytest.mark.parametrize("colour", [True, False])
def test_sixteen_bits(tmp_path, suffix, colour):
    deep = scene()[:, :, ::-1].astype(np.uint16) * 257
    path = tmp_path / f"a{suffix}"
    assert cv2.imwrite(str(path), deep if colour else deep[:, :, 1])
    photo = load_photo(path)
    if colour:
        assert is_upright(photo, tolerance=1)
    else:
        assert np.array_equal(photo.pixels[:, :, 0], scene()[:, :, 1])


def test_brightness_beyond_sixteen_bits_is_refused(tmp_path):
    given = Image.fromarray(np.full((HEIGHT, WIDTH), 1e6, np.float32))
    with pytest.raises(PhotoError, match="16 bits"):
        load_photo(save(tmp_path / "a.tiff", given, "TIFF"))


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "TIFF"])
def test_transparent_parts_are_white(tmp_path, kind):
    rgba = np.dstack([scene(), np.full((HEIGHT, WIDTH), 255, np.uint8)])
    rgba[:20, :20] = (0, 0, 0, 0)
    options = {"lossless": True} if kind == "WEBP" else {}
    photo = load_photo(save(tmp_path / "a", Image.fromarray(rgba), kind, **options))
    assert is_upright(photo)
    assert (photo.pixels[:20, :20] == 255).all()


@pytest.mark.parametrize("kind", ["WEBP", "PNG", "TIFF", "GIF"])
def test_the_first_picture_of_several_is_taken(tmp_path, kind):
    later = [Image.new("RGB", (WIDTH, HEIGHT), "black")] * 2
    options = {"lossless": True} if kind == "WEBP" else {}
    first = Image.fromarray(scene())
    path = tmp_path / "a"
    first.save(path, kind, save_all=True, append_images=later, **options)
    assert is_upright(load_photo(path))


def test_a_header_thumbnail_does_not_hide_a_cut(tmp_path):
    inner = io.BytesIO()
    Image.new("RGB", (160, 120)).save(inner, "JPEG")
    whole = io.BytesIO()
    segment = struct.pack(">BBH", 0xFF, 0xE5, 2 + len(inner.getvalue()))
    Image.fromarray(scene()).save(whole, "JPEG")
    data = whole.getvalue()[:2] + segment + inner.getvalue() + whole.getvalue()[2:]
    path = tmp_path / "a.jpg"
    path.write_bytes(data)
    assert load_photo(path).width_px == WIDTH
    path.write_bytes(data[:-400])
    with pytest.raises(PhotoError, match="ends before"):
        load_photo(path)


def test_data_after_the_end_of_a_jpeg_do_no_harm(tmp_path):
    path = save(tmp_path / "a.jpg", Image.fromarray(scene()), "JPEG", quality=95)
    path.write_bytes(path.read_bytes() + b"moving picture" * 100)
    assert is_upright(load_photo(path))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF", "BMP"])
@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9, 0.99])
def test_a_file_cut_short_is_refused(tmp_path, kind, share):
    noise = np.random.default_rng(5).integers(0, 256, (HEIGHT, WIDTH, 3), np.uint8)
    path = save(tmp_path / "a.jpg", Image.fromarray(noise), kind)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    with pytest.raises(PhotoError, match=r"a\.jpg: .*\. "):
        load_photo(path)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "text .a web page or a draw"),
        (b"\xef\xbb\xbf\n<!DOCTYPE html><html></html>", "text"),
        (b"%PDF-1.7", "PDF"),
        (b"\xff\xd8", "starts like a JPEG"),
        (b"\xff\xd8\xff\xe0" + b"\x00" * 50, "JPEG"),
        (b"hello", "no picture .* JPEG, PNG, WebP, TIFF, HEIC or BMP is needed"),
        (bytes(range(256)) * 9, "no picture"),
    ],
)
def test_what_is_no_photo_says_so(tmp_path, data, message):
    path = tmp_path / "a.jpg"
    path.write_bytes(data)
    with pytest.raises(PhotoError, match=message):
        load_photo(path)


def test_no_file_and_a_folder(tmp_path):
    with pytest.raises(PhotoError, match="no such file"):
        load_photo(tmp_path / "gone.jpg")
    with pytest.raises(PhotoError, match="folder"):
        load_photo(tmp_path)


@pytest.mark.parametrize("size", [(1, 1), (99, 4000), (4000, 60), (200, 200)])
def test_too_small_is_refused_with_the_size(tmp_path, size):
    path = save(tmp_path / "a.png", Image.new("RGB", size), "PNG")
    with pytest.raises(PhotoError, match=f"{size[0]} x {size[1]} px.*thumbnail"):
        load_photo(path)


def png_header(width, height):
    """A PNG that claims a size and holds next to nothing."""

    def chunk(kind, body):
        crc = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + crc

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
    return b"\x89PNG\r\n\x1a\n" + body + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(9000, 7000), (12_000, 12_000), (100_000, 100_000)])
def test_an_enormous_picture_is_refused_by_its_header(tmp_path, size):
    # Unpacking would fail on the missing data and say so instead.
    path = tmp_path / "bomb.png"
    path.write_bytes(png_header(*size))
    with pytest.raises(PhotoError, match="megapixels"):
        load_photo(path)


def test_the_limits_can_be_chosen(tmp_path):
    path = save(tmp_path / "a.png", Image.fromarray(scene()), "PNG")
    with pytest.raises(PhotoError, match="at most 0 accepted"):
        load_photo(path, max_pixels=100_000)
    with pytest.raises(PhotoError, match=r"at least 0\.30"):
        load_photo(path, min_pixels=300_000)


def test_fifty_megapixels_are_accepted(tmp_path):
    path = tmp_path / "a.jpg"
    grey = np.full((6144, 8160, 3), 128, np.uint8)
    cv2.imwrite(str(path), grey)
    assert load_photo(path).height_px == 6144


def test_damaged_jpeg_data_are_refused_or_read(tmp_path):
    path = save(tmp_path / "a.jpg", Image.fromarray(scene()), "JPEG")
    data = bytearray(path.read_bytes())
    data[20:60] = bytes(40)
    path.write_bytes(bytes(data))
    with pytest.raises(PhotoError, match=r"a\.jpg"):
        load_photo(path)
