"""Every kind of bad input that a photograph can be, as a file given to the command: a clear answer, nothing harmed."""

import io
import re
import struct
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image

from groovewright.cli import main
from groovewright.simulate.photo_scenes import Flag
from groovewright.vision import without_metadata

WHERE = (52.0, 31.0, 12.5)


def jpeg(gray, **options):
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(gray)).save(out, "JPEG", quality=92, **options)
    return out.getvalue()


def png_that_promises(width, height):
    """A PNG of a few bytes whose header promises this size."""
    parts = (
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)),
        (b"IDAT", zlib.compress(b"\0" * 999)),
        (b"IEND", b""),
    )
    chunks = [struct.pack(">I", len(d)) + k + d + struct.pack(">I", zlib.crc32(k + d)) for k, d in parts]
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


def moved(gray):
    """A phone that moved by 61 pixels."""
    return cv2.blur(gray, (61, 1))


def on_a_screen(gray):
    """A screen's pixels, 3.3 of the picture's each and turned by 12 degrees: 6 % of brightness."""
    rows, columns = np.mgrid[: gray.shape[0], : gray.shape[1]]
    turn, phase = np.radians(12.0), 2.0 * np.pi / 3.3
    along, across = (
        np.cos(turn) * columns + np.sin(turn) * rows,
        np.cos(turn) * rows - np.sin(turn) * columns,
    )
    grid = 1.0 + 0.06 * np.cos(phase * along) * np.cos(phase * across)
    return np.clip(np.rint(gray * grid), 0, 255).astype(np.uint8)


def no_markers(gray):
    """A table with things on it, sharp and without a sheet."""
    level = np.full_like(gray, 120)
    for k in range(12):
        cv2.circle(level, (150 + 190 * k, 200 + (k * 331) % 1300), 60, 40 + 15 * k, -1)
    return level


def placed(gray):
    """The same photo with a place and an owner in its file."""
    exif = Image.Exif()
    exif.get_ifd(0x8825)[2] = WHERE
    exif[0x013B] = "somebody"
    return jpeg(gray, exif=exif)


TAKEN = {
    "wrong scale": {"stretch": (0.97, 0.97)},
    "cut off": {"distance_mm": 200.0, "target": (0.0, -80.0, 5.0)},
}
"""What is unusual about how some are taken; the truth is 1.3 degrees."""
CASES = {
    "no markers": (lambda gray: jpeg(no_markers(gray)), (), 1, "none of the sheet's markers is wholly in it"),
    "wrong sheet": (jpeg, ("--sheet", "63.11:119.17"), 1, "this is another sheet"),
    "printed mirrored": (lambda gray: jpeg(gray[:, ::-1]), (), 1, "printed mirrored"),
    # nothing in the picture has a known length, and no angle depends on it: that is what the printed bars are for
    "wrong scale": (jpeg, ("--json",), 0, r'"yaw_deg": 1\.[23]'),
    "photo of a screen": (lambda gray: jpeg(on_a_screen(gray)), (), 0, "as of a screen"),
    "blurred": (lambda gray: jpeg(cv2.GaussianBlur(gray, (0, 0), 14.0)), (), 1, "blurred: its edges are"),
    "moved": (lambda gray: jpeg(moved(gray)), (), 1, "blurred: its edges are"),
    "overexposed": (lambda gray: jpeg(np.full_like(gray, 255)), (), 1, "overexposed"),
    "too dark": (lambda gray: jpeg(np.full_like(gray, 3)), (), 1, "too dark"),
    "cut off": (jpeg, (), 1, "cut off: only"),
    "zero bytes": (lambda _: b"", (), 2, "empty \\(0 bytes\\)"),
    "200 megapixels": (lambda _: png_that_promises(16000, 12500), (), 2, "more than 64 megapixels"),
    "decompression bomb": (lambda _: png_that_promises(60000, 60000), (), 2, "more than 64 megapixels"),
    "only claims to be one": (lambda _: b"\xff\xd8\xff\xe0 a claim", (), 2, "not a photo|damaged"),
    "half of a file": (lambda gray: jpeg(gray)[:90000], (), 2, "cut off or damaged"),
    "with a place in it": (placed, ("--json",), 0, '"yaw_deg"'),
}
"""What file is made of a photo, options, exit code, and what is said."""


@pytest.mark.parametrize("case", CASES)
def test_bad_input_gets_a_clear_answer_and_harms_nothing(case, flagged, take, tmp_path, capsys):
    make, options, code, words = CASES[case]
    content = make(take(flag=Flag(), **TAKEN[case]) if case in TAKEN else flagged)
    path = tmp_path / "photo.jpg"
    path.write_bytes(content)
    with pytest.raises(SystemExit) as stop:
        main(["photo", str(path), *options])
    out, err = capsys.readouterr()
    said = " ".join((out + err).split())
    assert stop.value.code == code
    assert re.search(words, said)
    assert "Traceback" not in said
    assert path.read_bytes() == content
    assert list(tmp_path.iterdir()) == [path]
    assert "52.0" not in said
    assert "somebody" not in said


def test_a_place_in_the_file_is_gone_from_what_is_kept(flagged):
    kept = without_metadata(placed(flagged))
    with Image.open(io.BytesIO(kept)) as image:
        exif = image.getexif()
        assert not exif.get_ifd(0x8825)
        assert 0x013B not in exif
    assert b"somebody" not in kept
