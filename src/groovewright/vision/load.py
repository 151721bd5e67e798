"""Load a photograph as gray pixels, the right way up, and nothing else of what the file may carry.

Of the metadata only two entries are used: how to turn the picture (Exif 2.32, tag 0x0112) and the focal
length in terms of 35 mm film (tag 0xA405). Where a picture was taken is never looked at and never kept.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import InputError

if TYPE_CHECKING:
    from PIL.Image import Image as PillowImage

Pixels = NDArray[np.uint8]

MOST_PIXELS = 64_000_000
"""Phones save up to 50 megapixels; more can't be held in memory beside the measurement."""
MOST_BYTES = 80_000_000
FEWEST_PIXELS = 200_000
FORMATS = ("JPEG", "PNG")
HEIF = ("HEIF",)
FOCAL_35MM_TAG, EXIF_FOLDER, _ORIENTATION = 0xA405, 0x8769, 0x0112
_SCAN, _TOLD = b"\xda", (*range(0xE1, 0xEE), 0xEF, 0xFE)
"""The marker of a JPEG's picture, and those of what applications and people write before it (ITU-T T.81, table B.1; the
one after them, Adobe's, says how colours are coded)."""
_PNG, _TOLD_PNG = b"\x89PNG\r\n\x1a\n", (b"eXIf", b"tEXt", b"zTXt", b"iTXt", b"tIME")
"""A PNG's signature and its chunks of metadata (PNG specification, 3rd edition, 11.3)."""
_FILM_DIAGONAL_MM = 43.27
"""Of a frame of 24 by 36 mm."""


@dataclass(frozen=True)
class Encoded:
    """A photograph's file without metadata, and the Exif number that says how its picture is turned."""

    content: bytes
    turn: int


@dataclass(frozen=True)
class Photo:
    """A photograph ready to be measured.

    `gray` is upright, [shape=(height, width)]; `focal_px` is what the camera says of itself, None where it
    doesn't. `encoded` is its file without what it tells of place, time and owner: colours are unpacked from it only
    where they are asked for.
    """

    gray: Pixels
    focal_px: float | None = None
    name: str = "photo"
    encoded: Encoded | None = field(default=None, repr=False, compare=False)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.gray.shape[1], self.gray.shape[0]


def load_photo(path: Path) -> Photo:
    """Return a photograph from a file: JPEG, PNG or HEIC.

    Raises
    ------
    InputError
        The file can't be read, isn't a photograph, or is too large or too small.
    """
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise InputError(
                f"{path.name} has {size / 1e6:.0f} MB; a photo of up to {MOST_BYTES / 1e6:.0f} MB can be read"
            )
        content = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} can't be read: {error.strerror}") from None
    return decode_photo(content, path.name)


def decode_photo(content: bytes, name: str = "photo") -> Photo:
    """Return a photograph from the bytes of a JPEG, PNG or HEIC file; raises as `load_photo` does."""
    with opened_image(content, name) as image:
        focal_35mm, turn = camera_facts(image)
        image.draft("L", None)
        gray = np.asarray(image.convert("L") if image.mode != "L" else image, dtype=np.uint8)
    gray = _upright(gray, turn)
    focal = focal_35mm / _FILM_DIAGONAL_MM * float(np.hypot(*gray.shape)) if focal_35mm else None
    bare = _without_segments(content)
    return Photo(gray, focal, name, None if bare is None else Encoded(bare, turn))


def in_colours(photo: Photo) -> tuple[Photo, Photo, Photo] | None:
    """Return a photograph as its red, green and blue light show it; None where its file has no colours.

    Of a HEIC file none are kept: what it tells of place and owner can't be cut out of it unread.

    Raises
    ------
    InputError
        As `load_photo` does.
    """
    if photo.encoded is None:
        return None
    with opened_image(photo.encoded.content, photo.name) as image:
        if image.mode in ("L", "LA", "1", "I", "I;16"):
            return None
        parts = (image if image.mode == "RGB" else image.convert("RGB")).split()
        red, green, blue = (
            replace(photo, gray=_upright(np.asarray(part, dtype=np.uint8), photo.encoded.turn), encoded=None)
            for part in parts
        )
    return red, green, blue


def _without_segments(content: bytes) -> bytes | None:
    """Return the file of a JPEG or PNG without the parts that hold metadata; None for any other."""
    if content[:2] == b"\xff\xd8":
        kept, at = [content[:2]], 2
        while (marker := content[at : at + 2])[:1] == b"\xff" and marker[1:] not in (b"", _SCAN):
            # a marker may be filled up with bytes like its first (B.1.1.2)
            end = at + (1 if marker == b"\xff\xff" else 2 + int.from_bytes(content[at + 2 : at + 4], "big"))
            if marker[1] not in _TOLD:
                kept.append(content[at:end])
            at = end
        return b"".join([*kept, content[at:]])
    if content[:8] == _PNG:
        kept, at = [_PNG], 8
        while at + 8 <= len(content):
            end = at + 12 + int.from_bytes(content[at : at + 4], "big")
            if content[at + 4 : at + 8] not in _TOLD_PNG:
                kept.append(content[at:end])
            at = end
        return b"".join(kept)
    return None


@contextmanager
def opened_image(content: bytes, name: str) -> Iterator[PillowImage]:
    """Open the bytes of a JPEG, PNG or HEIC file whose size is allowed; whatever fails in it is told in words.

    Raises
    ------
    InputError
        It can't be read, isn't a photograph, or is too large or too small.
    """
    from PIL import Image, UnidentifiedImageError

    if not content:
        raise InputError(f"{name} is empty (0 bytes); take or choose the photo again")
    formats: tuple[str, ...] = FORMATS
    if content[4:8] == b"ftyp":
        import pillow_heif

        pillow_heif.register_heif_opener(thumbnails=False)
        formats = HEIF
    try:
        with warnings.catch_warnings():
            # what Pillow says of metadata that it can't read, or of a large file, is nothing to a person at the bench
            warnings.simplefilter("ignore")
            with Image.open(BytesIO(content), formats=formats) as image:
                _check_size(image.size, name)
                yield image
    except InputError:
        raise
    except Image.DecompressionBombError:
        raise InputError(
            f"{name} unpacks to more than {MOST_PIXELS / 1e6:.0f} megapixels and is not read; 12 are plenty: choose "
            "a smaller size in the camera"
        ) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, RuntimeError) as error:
        reason = "cut off or damaged" if not isinstance(error, UnidentifiedImageError) else "not a photo"
        raise InputError(
            f"{name} is {reason}; a JPEG, PNG or HEIC file as the phone saved it can be read"
        ) from None


def _check_size(size: tuple[int, int], name: str) -> None:
    pixels = size[0] * size[1]
    if pixels > MOST_PIXELS:
        raise InputError(
            f"{name} has {pixels / 1e6:.0f} megapixels; up to {MOST_PIXELS / 1e6:.0f} can be read, "
            "and 12 are plenty: choose a smaller size in the camera"
        )
    if pixels < FEWEST_PIXELS:
        raise InputError(
            f"{name} has {size[0]} by {size[1]} pixels: too few to measure an angle; 3 megapixels or more work"
        )


def camera_facts(image: PillowImage) -> tuple[float | None, int]:
    """Return the focal length on 35 mm film, and the Exif number that says how the picture is turned."""
    try:
        exif = image.getexif()
        focal = float(exif.get_ifd(EXIF_FOLDER).get(FOCAL_35MM_TAG) or 0.0)
        turn = int(exif.get(_ORIENTATION) or 1)
    except (ValueError, TypeError, KeyError, OSError, SyntaxError, ZeroDivisionError):
        return None, 1
    return (focal if 8.0 <= focal <= 300.0 else None), turn


def _upright(gray: Pixels, turn: int) -> Pixels:
    """Return the picture turned as Exif 2.32 says (1 to 8; anything else is taken as upright)."""
    if turn in (2, 4, 5, 7):
        gray = gray[:, ::-1]
    quarter_turns = {3: 2, 4: 2, 5: 1, 6: 3, 7: 3, 8: 1}.get(turn, 0)
    return np.ascontiguousarray(np.rot90(gray, quarter_turns))
