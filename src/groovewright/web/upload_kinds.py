"""Which files may be handed in, how large, and how their kind is judged: from the first bytes alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from groovewright.quantities import InputError
from groovewright.store.files import megabytes

FIRST_BYTES = 64
"""How much of a file is looked at before any of it is kept."""

FORM_BYTES = 100_000
"""What a form may weigh beside its files."""


@dataclass(frozen=True)
class Content:
    """What a file is: the ending and media type that it is given, whatever it was called."""

    ending: str
    media_type: str


@dataclass(frozen=True)
class UploadKind:
    """One purpose for which files are handed in.

    Parameters
    ----------
    purpose : str
        One word, as it stands in the address: `/jobs/N/upload/PURPOSE`.
    largest_bytes : int
        Of one file.
    most_files : int
        In one form.
    judged : function
        Returns what the first bytes show; raises InputError where it is not of this kind.
    """

    purpose: str
    largest_bytes: int
    most_files: int
    judged: Callable[[bytes], Content]

    @property
    def largest_body(self) -> int:
        """Return what a whole form may weigh."""
        return self.largest_bytes * self.most_files + FORM_BYTES


# EBU Tech 3306 (RF64), IETF RFC 9639 (FLAC), AIFF 1.3; the GUID of W64 from memory
W64 = b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00"
LOSSY = ((b"ID3", "MP3"), (b"OggS", "Ogg"), (b"#!AMR", "AMR"))


def recording_content(first: bytes) -> Content:
    """Return what kind of sound file begins like this.

    Raises
    ------
    InputError
        None that can be measured.
    """
    head, inner = first[:4], first[8:12]
    if head in (b"RIFF", b"RF64") and inner == b"WAVE":
        return Content("wav", "audio/wav")
    if first.startswith(W64):
        return Content("w64", "application/octet-stream")
    if head == b"fLaC":
        return Content("flac", "audio/flac")
    if head == b"FORM" and inner in (b"AIFF", b"AIFC"):
        return Content("aiff", "audio/aiff")
    lossy = next((name for mark, name in LOSSY if first.startswith(mark)), "")
    if not lossy and first[4:8] == b"ftyp":
        lossy = "MP4 or M4A"
    if not lossy and len(first) > 1 and first[0] == 0xFF and first[1] & 0xE6 == 0xE2:
        lossy = "MP3"  # ISO/IEC 11172-3: eleven bits of 1, layer III
    why = f"it is {lossy}, which is lossy" if lossy else "its content is no sound file that can be measured"
    raise InputError(f"{why}; allowed are WAV, FLAC and AIFF. Record again, or export from the original")


HEIC_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")
"""ISO/IEC 23008-12: what an HEIF file says it is."""


def photo_content(first: bytes) -> Content:
    """Return what kind of photograph begins like this.

    Raises
    ------
    InputError
        None that can be measured.
    """
    if first.startswith(b"\xff\xd8\xff"):
        return Content("jpg", "image/jpeg")
    if first.startswith(b"\x89PNG\r\n\x1a\n"):
        return Content("png", "image/png")
    if first[4:8] == b"ftyp" and first[8:12] in HEIC_BRANDS:
        return Content("heic", "image/heic")
    raise InputError(
        "its content is no photograph that can be measured; allowed are JPEG, PNG and HEIC, as the camera saves them"
    )


RECORDING = UploadKind("recording", 4_000_000_000, 1, recording_content)
PHOTO = UploadKind("photo", 60_000_000, 6, photo_content)
KINDS = {kind.purpose: kind for kind in (RECORDING, PHOTO)}

UPLOAD_PATH = re.compile(r"/jobs/\d{1,9}/upload/([a-z]{1,20})")


def largest_upload(path: str) -> int | None:
    """Return what a request to this address may weigh; None where no file is handed in."""
    found = UPLOAD_PATH.fullmatch(path)
    kind = KINDS.get(found[1]) if found else None
    return kind.largest_body if kind else None


def too_large(kind: UploadKind) -> InputError:
    """Return the error for a file that is too large."""
    return InputError(
        f"it is larger than the {megabytes(kind.largest_bytes)} that a {kind.purpose} may have; nothing was kept"
    )
