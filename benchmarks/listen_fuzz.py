"""Damaged recordings: the reader reads what is there, says what is wrong, or refuses in words; it never crashes.

Run: .venv/bin/python benchmarks/listen_fuzz.py [files] [seed]
Prints how many files were read whole, up to the damage, or refused; the first that breaks a promise ends the run,
stays on the disk and is named. One in `LISTENED` also goes the whole way, from finding bands to verdicts.
"""

from __future__ import annotations

import collections
import faulthandler
import struct
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from groovewright.audio import BlockReader, assess, hear_recording, next_move, open_recording, verdicts
from groovewright.quantities import InputError

RATE_HZ = 48_000
KINDS = (
    ("wav", "PCM_16", "WAV"),
    ("wav", "PCM_24", "WAVEX"),
    ("wav", "FLOAT", "WAV"),
    ("wav", "PCM_24", "RF64"),
    ("w64", "PCM_24", "W64"),
    ("flac", "PCM_16", "FLAC"),
    ("flac", "PCM_24", "FLAC"),
    ("aiff", "PCM_16", "AIFF"),
    ("aiff", "PCM_24", "AIFF"),
    ("aiff", "FLOAT", "AIFF"),
)
HEADER = 120
"""Bytes in which most of what a header says stands."""
LONGEST_S = 20.0
"""More time than this for half a second of sound is as bad as a crash."""
LISTENED = 25
BLOCK = 10_000

Damage = Callable[[bytearray, np.random.Generator], bytearray]


def sound() -> np.ndarray:
    """Return half a second of a tone and a little noise. [shape=(n, 2)]"""
    t = np.arange(RATE_HZ // 2) / RATE_HZ
    tone = 0.3 * np.sin(2.0 * np.pi * 1000.0 * t)
    return np.stack([tone, 0.9 * tone], axis=1) + 1e-4 * np.random.default_rng(0).standard_normal((t.size, 2))


def truncated(content: bytearray, random: np.random.Generator) -> bytearray:
    """Return the file cut off anywhere, headers more often."""
    end = len(content) if random.random() < 0.6 else HEADER
    return content[: int(random.integers(0, end))]


def flipped(content: bytearray, random: np.random.Generator) -> bytearray:
    """Return the file with a few bits turned."""
    reach = len(content) if random.random() < 0.5 else HEADER
    for _ in range(int(random.integers(1, 30))):
        content[int(random.integers(0, reach))] ^= 1 << int(random.integers(0, 8))
    return content


def lying(content: bytearray, random: np.random.Generator) -> bytearray:
    """Return the file with header fields of two, four or eight bytes that claim nonsense."""
    claims = (
        0,
        1,
        2,
        3,
        7,
        100,
        0x7FFF,
        0x8000,
        0xFFFF,
        0x7FFF_FFFF,
        0x8000_0000,
        0xFFFF_FFFF,
        2**63,
        2**64 - 1,
    )
    for _ in range(int(random.integers(1, 4))):
        code = random.choice(["<H", ">H", "<I", ">I", "<Q", ">Q"])
        size = struct.calcsize(code)
        claim = claims[int(random.integers(0, len(claims)))] & ((1 << 8 * size) - 1)
        struct.pack_into(code, content, 2 * int(random.integers(0, (HEADER - size) // 2)), claim)
    return content


def torn(content: bytearray, random: np.random.Generator) -> bytearray:
    """Return the file with a stretch taken out, doubled, zeroed or put in from elsewhere."""
    first, last = sorted(int(place) for place in random.integers(0, len(content), 2))
    stretch = content[first:last]
    choice = int(random.integers(0, 4))
    if choice == 0:
        return content[:first] + content[last:]
    if choice == 1:
        return content[:last] + content[first:]
    if choice == 2:
        return content[:first] + bytearray(len(stretch)) + content[last:]
    return content[:first] + bytearray(random.bytes(len(stretch))) + content[last:]


def several(content: bytearray, random: np.random.Generator) -> bytearray:
    """Return the file with two kinds of damage."""
    for damage in (lying, flipped, torn, truncated)[int(random.integers(0, 3)) :][:2]:
        if len(content) > HEADER:
            content = damage(content, random)
    return content


DAMAGES: tuple[Damage, ...] = (truncated, flipped, lying, torn, several)


def outcome(path: Path, original: np.ndarray | None) -> str:
    """Read one file in blocks and return what became of it; `original` must be what begins it, where given.

    Raises
    ------
    AssertionError
        A promise of the reader is broken.
    """
    try:
        recording = open_recording(path)
    except InputError as error:
        if str(path) not in str(error):
            raise AssertionError(f"a refusal that does not name the file: {error}") from error
        return "refused"
    reader = BlockReader(recording)
    place = 0
    for block in reader.blocks(BLOCK):
        assert block.dtype == np.float32
        assert 0 < len(block) <= BLOCK
        assert block.shape[1] == 2
        assert np.isfinite(block).all()
        if original is not None:
            assert np.array_equal(block, original[place : place + len(block)]), (
                "other sound than was recorded"
            )
        place += len(block)
    assert place == reader.delivered_frames
    short = place < recording.frames
    assert not short or reader.problem, "short, and nothing said"
    promised = recording.promised_frames
    told = bool(reader.problem) or (promised is not None and promised > place)
    return "read up to the damage, and told" if told else "read to its end"


def run(files: int, seed: int, folder: Path) -> dict[str, int]:
    """Damage so many files, and return how many of them ended how."""
    random = np.random.default_rng(seed)
    whole = []
    for number, (ending, encoding, container) in enumerate(KINDS):
        path = folder / f"whole-{number}.{ending}"
        soundfile.write(path, sound(), RATE_HZ, subtype=encoding, format=container)
        whole.append((ending, path.read_bytes(), soundfile.read(path, dtype="float32")[0]))
    counts: collections.Counter[str] = collections.Counter()
    for number in range(files):
        ending, content, original = whole[number % len(whole)]
        damage = DAMAGES[number // len(whole) % len(DAMAGES)]
        path = folder / f"seed-{seed}-file-{number}-{damage.__name__}.{ending}"
        path.write_bytes(bytes(damage(bytearray(content), random)))
        start = time.perf_counter()
        kind = outcome(path, original if damage is truncated else None)
        if number % LISTENED == 0 and kind != "refused":
            assert next_move(verdicts(assess(hear_recording(path, None))))
            counts["listened to, the whole way"] += 1
        took = time.perf_counter() - start
        assert took < LONGEST_S, f"{path} took {took:.0f} s"
        counts[kind] += 1
        path.unlink()
    return dict(sorted(counts.items()))


def main() -> None:
    """Print the counts."""
    faulthandler.enable()
    files = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    folder = Path(tempfile.mkdtemp(prefix="listen-fuzz-"))
    print(f"damaged files lie in {folder}", file=sys.stderr)
    for kind, count in run(files, seed, folder).items():
        print(f"{count:6d} {kind}")
    for path in folder.iterdir():
        path.unlink()
    folder.rmdir()


if __name__ == "__main__":
    main()
