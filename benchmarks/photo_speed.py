"""Time and memory of a reading from a 12-megapixel photo, beside OpenCV's marker detection alone on it.

Run: .venv/bin/python benchmarks/photo_speed.py

Both are given the same: the photo in memory, and then its JPEG file, which either has to decode first. Each is timed in
turn, ten times, and the shortest counts: by the clock with as many threads as OpenCV takes, and by
processor time with one thread, which other work on the machine disturbs less.
"""

from __future__ import annotations

import io
import subprocess
import sys
import time
from collections.abc import Callable

import cv2
import numpy as np
from PIL import Image

from groovewright.geometry import alignment_for_nulls
from groovewright.sheets import SheetLabel, two_point_sheet
from groovewright.simulate.photo_scenes import Cartridge, Flag, photograph, sheet_pixels
from groovewright.simulate.photograph import Camera, Look
from groovewright.vision import decode_photo, read_photo

ROUNDS = 10
READ_ALONE = """
import sys
from groovewright.vision import decode_photo, read_photo
read_photo(decode_photo(sys.stdin.buffer.read()))
print(next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""
"""What a process does whose memory is measured: its own peak (Linux), without that of the process that started it."""


def best(clock: Callable[[], float], *functions: Callable[[], object]) -> list[float]:
    """Return the shortest of several times of each function, in seconds, taken in turn."""
    times: list[list[float]] = []
    for _ in range(ROUNDS):
        times.append([])
        for function in functions:
            start = clock()
            function()
            times[-1].append(clock() - start)
    return [min(each) for each in zip(*times, strict=True)]


def taken() -> bytes:
    """Return a 12-megapixel photo of the flag as a JPEG file."""
    drawing = two_point_sheet(
        alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=SheetLabel("Fernhill F9")
    )
    gray = photograph(
        drawing=drawing,
        pixels=sheet_pixels(drawing),
        null="outer",
        cartridge=Cartridge(yaw_deg=1.0),
        camera=Camera(4000, 3000, 3200.0, 300.0, 4.0, 30.0, 20.0),
        look=Look(),
        random=np.random.default_rng(1),
        flag=Flag(),
    )
    out = io.BytesIO()
    Image.fromarray(gray).convert("RGB").save(out, "JPEG", quality=92)
    return out.getvalue()


def peak_megabytes(content: bytes) -> float:
    """Return the most memory that a process needs which only decodes and reads."""
    done = subprocess.run([sys.executable, "-c", READ_ALONE], input=content, capture_output=True, check=True)
    return int(done.stdout) / 1024.0


def main() -> None:
    """Print the figures."""
    content = taken()
    photo = decode_photo(content)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    for clock, threads in ((time.perf_counter, cv2.getNumThreads()), (time.process_time, 1)):
        cv2.setNumThreads(threads)
        alone, reading, alone_whole, whole = best(
            clock,
            lambda: detector.detectMarkers(photo.gray),
            lambda: read_photo(photo),
            lambda: detector.detectMarkers(decode_photo(content).gray),
            lambda: read_photo(decode_photo(content)),
        )
        print(f"{'by the clock' if clock is time.perf_counter else 'processor time'}, threads: {threads}")
        print(f"  photo in memory: marker detection alone   {alone:.3f} s")
        print(f"                   reading                  {reading:.3f} s  ({reading / alone:.2f} times)")
        print(f"  from a JPEG:     marker detection alone   {alone_whole:.3f} s")
        print(f"                   reading                  {whole:.3f} s  ({whole / alone_whole:.2f} times)")
    print(f"peak memory of a reading        {peak_megabytes(content):.0f} MB")


if __name__ == "__main__":
    main()
