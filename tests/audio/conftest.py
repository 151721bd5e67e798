"""Small recordings with known truth, made once for a session."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from groovewright.audio import Band, BandList, Channel, Kind, Law, Listening, assess, hear_recording
from groovewright.simulate.recording import Flaws, record, write_recording

RATE_HZ = 48_000


def tone(start_s, end_s, channel, hz=1000.0, level=5.0, radius=100.0):
    name = f"{channel.value} {hz:g} Hz {level:g} at {start_s:g} s"
    return Band(
        name,
        Kind.TONE,
        start_s,
        end_s,
        channel,
        frequency_hz=hz,
        level_cm_per_s=level,
        groove_radius_mm=radius,
    )


def sweep(start_s, end_s, channel, first_hz, last_hz, law):
    name = f"sweep {channel.value} {first_hz:g}"
    return Band(
        name,
        Kind.SWEEP,
        start_s,
        end_s,
        channel,
        sweep_start_hz=first_hz,
        sweep_end_hz=last_hz,
        level_cm_per_s=1.0,
        law=law,
    )


SIDE = BandList(
    (
        tone(0.5, 7.5, Channel.LEFT, radius=140.0),
        tone(8.0, 15.0, Channel.RIGHT, radius=138.0),
        tone(15.5, 22.5, Channel.LATERAL, radius=90.0),
        tone(23.0, 27.0, Channel.VERTICAL, radius=88.0),
        tone(27.5, 47.5, Channel.LATERAL, hz=3150.0, radius=120.0),
        sweep(48.0, 63.0, Channel.LATERAL, 25.0, 4.0, Law.CONSTANT_VELOCITY),
        sweep(63.5, 78.5, Channel.VERTICAL, 25.0, 4.0, Law.CONSTANT_VELOCITY),
        sweep(79.0, 94.0, Channel.LEFT, 20.0, 20_000.0, Law.EQUALISED),
        Band("silence", Kind.SILENCE, 94.5, 119.5),
    )
)

FLAWS = Flaws(
    azimuth_deg=-1.4,
    yaw_deg=2.0,
    left_gain=1.08,
    speed_error_percent=-0.15,
    eccentricity_mm=0.18,
    flutter=((4.0, 0.08),),
    random_flutter_percent=0.02,
    lateral_resonance=(9.4, 4.5),
    vertical_resonance=(11.3, 3.2),
    groove_noise_cm_per_s=0.02,
    noise=1e-5,
    hum=((50.0, 4e-5, 4e-5), (100.0, 1e-5, 1e-5)),
    full_scale_cm_per_s=100.0,
)


def measured(folder: Path, bands: BandList, flaws: Flaws, seed: int = 0) -> Listening:
    path = folder / "made.wav"
    write_recording(path, record(bands, flaws, rate_hz=RATE_HZ, seed=seed), rate_hz=RATE_HZ)
    return assess(hear_recording(path, bands))


@pytest.fixture(scope="session")
def side(tmp_path_factory) -> tuple[Path, Listening]:
    folder = tmp_path_factory.mktemp("side")
    listening = measured(folder, SIDE, FLAWS)
    return folder / "made.wav", listening


@pytest.fixture
def sine():
    def make(hz=1000.0, amplitude=0.3, seconds=1.0, rate_hz=RATE_HZ):
        times = np.arange(round(seconds * rate_hz)) / rate_hz
        return amplitude * np.sin(2.0 * np.pi * hz * times)

    return make
