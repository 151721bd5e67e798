"""Loading: what a phone saves comes in upright, and what is no photograph does no harm."""

import contextlib
import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from groovewright.quantities import InputError
from groovewright.vision.load import MOST_PIXELS, decode_photo, in_colours, load_photo

RAMP = np.tile(np.linspace(20, 230, 640, dtype=np.uint8), (480, 1))
"""Dark at the left, bright at the right."""


def saved(pixels, file_format, **options):
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, file_format, **options)
    return out.getvalue()


@pytest.mark.parametrize("file_format", ["JPEG", "PNG", "HEIF"])
def test_each_format_comes_in_as_gray_pixels(file_format):
    if file_format == "HEIF":
        import pillow_heif

        pillow_heif.register_heif_opener()
    photo = decode_photo(saved(RAMP, file_format))
    assert photo.size == (640, 480)
    assert photo.gray == pytest.approx(RAMP.astype(float), abs=4.0)


# Exif 2.32, tag 0x0112: where the visual top and left of the picture are stored
@pytest.mark.parametrize(
    ("turn", "stored"),
    [
        (1, lambda upright: upright),
        (2, lambda upright: upright[:, ::-1]),
        (3, lambda upright: upright[::-1, ::-1]),
        (4, lambda upright: upright[::-1]),
        (5, lambda upright: upright.T),
        (6, lambda upright: np.rot90(upright, 1)),
        (7, lambda upright: np.rot90(upright, 2).T),
        (8, lambda upright: np.rot90(upright, -1)),
    ],
)
def test_a_turned_picture_comes_in_upright(turn, stored):
    upright = RAMP.copy()
    upright[:60, :60] = 255
    exif = Image.Exif()
    exif[0x0112] = turn
    photo = decode_photo(saved(np.ascontiguousarray(stored(upright)), "PNG", exif=exif))
    assert photo.gray.tolist() == upright.tolist()


def test_the_stated_focal_length_is_used_and_a_location_is_not_kept():
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 12.0)
    photo = decode_photo(saved(RAMP, "JPEG", exif=exif))
    # 26 mm on a frame with a diagonal of 43.27 mm, and 800 pixels of diagonal here
    assert photo.focal_px == pytest.approx(26.0 / 43.27 * 800.0, rel=1e-3)
    assert set(vars(photo)) == {"gray", "focal_px", "name", "encoded"}


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_what_is_kept_of_a_file_for_its_colours_tells_neither_place_nor_owner(kind):
    exif = Image.Exif()
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 12.0)
    exif[0x013B] = "somebody"
    content = saved(RAMP, kind, exif=exif)
    assert b"somebody" in content
    kept = decode_photo(content).encoded.content
    assert b"somebody" not in kept
    assert not dict(Image.open(io.BytesIO(kept)).getexif())
    np.testing.assert_array_equal(
        np.asarray(Image.open(io.BytesIO(kept))), np.asarray(Image.open(io.BytesIO(content)))
    )


def test_a_damaged_head_is_read_or_refused_in_words_and_warns_of_nothing(recwarn):
    exif = Image.Exif()
    exif[0x013B] = "somebody"
    content = saved(RAMP, "JPEG", exif=exif)
    # bytes that fill up a marker (ITU-T T.81, B.1.1.2)
    filled = content[:2] + b"\xff" * 5 + content[2:]
    assert b"somebody" not in decode_photo(filled).encoded.content
    random = np.random.default_rng(4)
    for _ in range(300):
        damaged = bytearray(content)
        for at in random.integers(2, 300, 4):
            damaged[at] = random.integers(256)
        with contextlib.suppress(InputError):
            in_colours(decode_photo(bytes(damaged)))
    assert not recwarn.list


def bomb(width, height):
    """A PNG of a few bytes whose header promises this size."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 999))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(("width", "height"), [(16000, 12500), (60000, 60000)])
def test_a_picture_of_200_megapixels_or_a_bomb_is_refused_before_it_is_unpacked(width, height):
    assert width * height > MOST_PIXELS
    with pytest.raises(InputError, match="megapixels"):
        decode_photo(bomb(width, height))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"%PDF-1.7 not a picture at all", "not a photo"),
        (b"\xff\xd8\xff\xe0 only claims to be a JPEG", "not a photo|damaged"),
        (b"\0\0\0\x18ftypheic and nothing behind it", "not a photo|damaged"),
        (saved(RAMP, "GIF"), "not a photo"),
    ],
)
def test_what_is_no_photo_is_refused_in_words(content, words):
    with pytest.raises(InputError, match=words):
        decode_photo(content)


def test_a_cut_off_photo_is_refused_in_words():
    noise = np.random.default_rng(1).integers(0, 255, (900, 1200), dtype=np.uint8)
    with pytest.raises(InputError, match="cut off or damaged"):
        decode_photo(saved(noise, "JPEG")[:40000])


def test_a_thumbnail_is_too_small_to_measure():
    with pytest.raises(InputError, match="too few"):
        decode_photo(saved(RAMP[:100, :100], "PNG"))


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(InputError, match=r"none\.jpg can't be read"):
        load_photo(tmp_path / "none.jpg")
