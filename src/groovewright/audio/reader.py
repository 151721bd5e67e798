"""Reading a recording in blocks: what the file is, what it promises, and what it really holds."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.packed import opened
from groovewright.quantities import InputError, Limits

Samples = NDArray[np.float32]
"""Sound in full scale units, left column first. [shape=(n, 2)]"""

SAMPLE_RATE = Limits("sample rate", 44_100, 192_000, "Hz")
CONTAINERS = {"WAV", "WAVEX", "RF64", "W64", "FLAC", "AIFF"}
ENCODINGS = {"PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"}
LARGEST = 1e4
"""Full scales, 80 dB over one: a larger sample of a float file is damage, not sound."""
ADVICE = "record to WAV, FLAC or AIFF with 16, 24 or 32 bits, at 44.1 to 192 kHz, in stereo"


@dataclass(frozen=True)
class Recording:
    """What a file says about itself.

    Parameters
    ----------
    frames : int
        Samples per channel that the decoder expects; 0 where the file does not say.
    promised_frames : int or None
        What the header claims, where that is more than the file can hold.
    channels : int
        1 or 2; a single channel is read into both columns.
    """

    path: Path
    rate_hz: int
    frames: int
    channels: int
    container: str
    encoding: str
    promised_frames: int | None = None

    @property
    def duration_s(self) -> float:
        """How long the file should last."""
        return self.frames / self.rate_hz


@dataclass
class BlockReader:
    """Walks through a recording once; afterwards it knows what was delivered and what went wrong.

    Parameters
    ----------
    recording : Recording
    delivered_frames : int
        Frames handed out so far.
    not_finite : int
        Samples that were not a number, infinite or beyond `LARGEST`, and were read as 0.
    problem : str
        Why reading stopped early; empty when it did not.
    """

    recording: Recording
    delivered_frames: int = 0
    not_finite: int = 0
    problem: str = ""

    def blocks(self, block_frames: int) -> Iterator[Samples]:
        """Yield the sound in blocks of at most `block_frames`, in order, until the end or the first fault."""
        import soundfile

        try:
            with opened(self.recording.path) as read:
                while len(block := read(block_frames)):
                    block, bad = repaired(block)
                    self.not_finite += bad
                    self.delivered_frames += len(block)
                    yield block
        except (soundfile.LibsndfileError, RuntimeError, OSError) as error:
            self.problem = f"decoding stopped after {self._reached()}: {_first_line(error)}"
        missing = self.recording.frames - self.delivered_frames
        if missing > 0 and not self.problem:
            self.problem = f"the file ends after {self._reached()}, {missing} samples short"

    def _reached(self) -> str:
        return f"{self.delivered_frames / self.recording.rate_hz:.2f} s"


def repaired(block: Samples) -> tuple[Samples, int]:
    """Return a block as two columns, and how many samples were taken as 0: no numbers, or too large to be sound."""
    if block.shape[1] == 1:
        block = np.repeat(block, 2, axis=1)
    flat = block.ravel(order="K")
    # a sum of squares is small only if every sample is, and costs one pass
    with np.errstate(over="ignore", invalid="ignore"):
        usual = np.dot(flat, flat) <= LARGEST**2
    if usual:
        return block, 0
    bad = ~(np.abs(block) <= LARGEST)
    block[bad] = 0.0
    return block, int(bad.sum())


def open_recording(path: Path) -> Recording:
    """Return what the file is, once it is clear that it can be measured.

    Raises
    ------
    InputError
        There is no such file, it is empty, not sound, lossy, has more than two channels, no samples, or a
        sample rate that is not supported: each with what to do instead.
    """
    import soundfile

    _check_there(path)
    try:
        info = soundfile.info(str(path))
    except (soundfile.LibsndfileError, RuntimeError, TypeError, ValueError, OSError) as error:
        raise InputError(f"{path} can't be read as sound ({_first_line(error)}); {ADVICE}") from None
    return _checked(path, info)


def _check_there(path: Path) -> None:
    if not path.exists():
        raise InputError(f"{path} does not exist; name a recording, such as side-a.wav")
    if not path.is_file():
        raise InputError(f"{path} is not a file; name a recording, such as side-a.wav")
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            stream.read(1)
    except OSError as error:
        raise InputError(f"{path} can't be opened: {error.strerror}") from None
    if size == 0:
        raise InputError(f"{path} is empty (0 bytes); record it again")


def _checked(path: Path, info: Any) -> Recording:
    if info.format not in CONTAINERS or info.subtype not in ENCODINGS:
        raise InputError(
            f"{path} is {info.format} with {info.subtype} coding, which is not measured because lossy or "
            f"rare coding changes what a measurement needs; {ADVICE}"
        )
    if info.channels not in (1, 2):
        raise InputError(
            f"{path} has {info.channels} channels; allowed is 2 (or 1, with less to be learned): export "
            "the two that carry the record player"
        )
    SAMPLE_RATE.check(info.samplerate, str(path))
    holds = path.stat().st_size * 64
    # some writers that were cut off leave the length unknown or absurd
    frames = int(info.frames) if 0 <= info.frames <= holds else 0
    if info.frames == 0:
        raise InputError(f"{path} has a header but no sound in it; record it again")
    promised = _promised_frames(path, info.channels)
    if promised is not None and promised <= frames:
        promised = None
    return Recording(path, int(info.samplerate), frames, info.channels, info.format, info.subtype, promised)


def _promised_frames(path: Path, channels: int) -> int | None:
    """Return what a RIFF header claims, since the decoder silently cuts the claim to the file's size."""
    with path.open("rb") as stream:
        head = stream.read(12)
        if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
            return None
        sample_bytes = 0
        for _ in range(64):
            chunk = stream.read(8)
            if len(chunk) < 8:
                return None
            name, size = struct.unpack("<4sI", chunk)
            if name == b"fmt ":
                body = stream.read(size)
                sample_bytes = struct.unpack_from("<H", body, 14)[0] // 8 if len(body) >= 16 else 0
            elif name == b"data":
                unknown = size in (0, 0xFFFFFFFF) or not sample_bytes
                return None if unknown else size // (sample_bytes * channels)
            else:
                stream.seek(size + size % 2, 1)
    return None


def _first_line(error: BaseException) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0].rstrip(".")
