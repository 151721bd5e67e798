"""Time and memory of a reading from a 12-megapixel photo, beside OpenCV's marker detection alone on it.

Run: .venv/bin/python benchmarks/photo_speed.py
"""

from __future__ import annotations

import io
import resource
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import cv2
import numpy as np
from PIL import Image

from groovewright.geometry import alignment_for_nulls
from groovewright.sheets import SheetLabel, two_point_sheet
from groovewright.simulate.photo_scenes import Cartridge, Flag, photograph, sheet_pixels
from groovewright.simulate.photograph import Camera, Look
from groovewright.vision import decode_photo, read_photo

ROUNDS = 5


def best(function: Callable[[], object]) -> float:
    """Return the shortest of several times, in seconds."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return min(times)


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
    read_photo(decode_photo(content))
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main() -> None:
    """Print the figures."""
    content = taken()
    photo = decode_photo(content)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    alone = best(lambda: detector.detectMarkers(photo.gray))
    reading = best(lambda: read_photo(photo))
    whole = best(lambda: read_photo(decode_photo(content)))
    print(f"marker detection alone        {alone:.3f} s")
    print(f"reading, photo in memory      {reading:.3f} s  ({reading / alone:.2f} times)")
    print(f"reading with the JPEG decoded {whole:.3f} s  ({whole / alone:.2f} times)")
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as other:
        print(f"peak memory of a reading      {other.submit(peak_megabytes, content).result():.0f} MB")


if __name__ == "__main__":
    main()
