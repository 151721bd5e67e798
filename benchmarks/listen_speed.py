"""How long listening takes against decoding plus one FFT, and how much memory, for a 20-minute side.

Run: .venv/bin/python benchmarks/listen_speed.py [minutes] [wav|flac]
Prints one table; the aim is a ratio of 3 or less with a list, and under 400 MB whatever the length.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile
from scipy import fft

from groovewright.audio import Band, BandList, Channel, Kind, Law, band_list_toml
from groovewright.simulate.recording import Flaws, record

RATE_HZ = 96_000


def programme() -> BandList:
    """Return 100 s of everything that is measured."""
    left, right, lateral, vertical = Channel.LEFT, Channel.RIGHT, Channel.LATERAL, Channel.VERTICAL

    def tone(start_s: float, end_s: float, channel: Channel, hz: float, level: float = 5.0) -> Band:
        return Band(
            f"{channel.value} {hz:g}",
            Kind.TONE,
            start_s,
            end_s,
            channel,
            frequency_hz=hz,
            level_cm_per_s=level,
            groove_radius_mm=110.0,
        )

    def sweep(start_s: float, end_s: float, channel: Channel, first: float, last: float, law: Law) -> Band:
        return Band(
            f"sweep {channel.value}",
            Kind.SWEEP,
            start_s,
            end_s,
            channel,
            sweep_start_hz=first,
            sweep_end_hz=last,
            level_cm_per_s=1.0,
            law=law,
        )

    return BandList(
        bands=(
            tone(1.0, 9.0, left, 1000.0),
            tone(10.0, 18.0, right, 1000.0),
            tone(19.0, 27.0, lateral, 1000.0),
            tone(28.0, 48.0, lateral, 3150.0),
            sweep(49.0, 59.0, lateral, 25.0, 4.0, Law.CONSTANT_VELOCITY),
            sweep(60.0, 75.0, left, 20.0, 20_000.0, Law.EQUALISED),
            tone(76.0, 80.0, vertical, 1000.0),
            Band("silence", Kind.SILENCE, 81.0, 99.0),
        )
    )


def make(folder: Path, minutes: float, ending: str) -> tuple[Path, Path]:
    """Write the programme again and again until the side is full, and its band list."""
    flaws = Flaws(
        azimuth_deg=1.0, yaw_deg=1.0, eccentricity_mm=0.1, random_flutter_percent=0.03, noise=1e-5,
        groove_noise_cm_per_s=0.02, lateral_resonance=(9.0, 4.0),
        vertical_resonance=(10.0, 3.0), full_scale_cm_per_s=100.0,
    )  # fmt: skip
    part = record(programme(), flaws, rate_hz=RATE_HZ, seed=3)[: 100 * RATE_HZ]
    times = max(1, round(minutes * 60.0 / 100.0))
    path = folder / f"side.{ending}"
    bands: list[Band] = []
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_24") as sound:
        for turn in range(times):
            sound.write(part)
            shift = 100.0 * turn
            bands += [
                replace(
                    band, name=f"{band.name} ({turn})", start_s=band.start_s + shift, end_s=band.end_s + shift
                )
                for band in programme().bands
            ]
    list_path = folder / "side.toml"
    list_path.write_text(band_list_toml(BandList(bands=tuple(bands))), encoding="utf-8")
    return path, list_path


def floor_s(path: Path) -> tuple[float, float]:
    """Return the seconds that decoding takes, and a real FFT over the same samples."""
    decoding = transforming = 0.0
    with soundfile.SoundFile(path) as sound:
        while True:
            start = time.perf_counter()
            block = sound.read(32 * 16384, dtype="float32", always_2d=True)
            decoding += time.perf_counter() - start
            whole = len(block) // 16384 * 16384
            if not whole:
                return decoding, transforming
            start = time.perf_counter()
            fft.rfft(np.ascontiguousarray(block[:whole].T).reshape(2, -1, 16384), axis=-1)
            transforming += time.perf_counter() - start


CHILD = """
import sys, time
from pathlib import Path
start = time.perf_counter()
from groovewright.audio import assess, hear_recording, read_band_list
bands = read_band_list(Path(sys.argv[2])) if len(sys.argv) > 2 else None
listening = assess(hear_recording(Path(sys.argv[1]), bands))
took = time.perf_counter() - start
peak = open("/proc/self/status").read().split("VmHWM:")[1].split()[0]
print(took, time.process_time(), int(peak) / 1024.0, len(listening.measures))
"""


def listened(*arguments: str) -> tuple[float, float, float, int]:
    """Return seconds on the clock and of CPU (imports included), peak MB, and the number of measures."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD, *arguments], capture_output=True, text=True, check=True
    )
    took, work, memory, measures = done.stdout.split()
    return float(took), float(work), float(memory), int(measures)


def main() -> None:
    """Print the table."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    ending = sys.argv[2] if len(sys.argv) > 2 else "wav"
    with tempfile.TemporaryDirectory() as name:
        path, list_path = make(Path(name), minutes, ending)
        # what was written must not still be on its way to the disk
        os.sync()
        floor_s(path)
        print(
            f"{minutes:g} minutes, {RATE_HZ} Hz, 24 bit, {ending}; decoding and one real FFT before and after each"
        )
        before = floor_s(path)
        for label, arguments in (("with a list", (str(path), str(list_path))), ("bands found", (str(path),))):
            took, work, memory, measures = listened(*arguments)
            after = floor_s(path)
            floor = 0.5 * (sum(before) + sum(after))
            print(
                f"{label}: {took:.2f} s ({work:.2f} s of CPU), decoding {after[0]:.2f} s, FFT {after[1]:.2f} s, "
                f"ratio {took / floor:.2f}, {memory:.0f} MB, {measures} measures"
            )
            before = after
    print(
        f"this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB (making the file)"
    )


if __name__ == "__main__":
    main()
