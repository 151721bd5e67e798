"""The recordings of the demo job: test tones as the invented player would give them, as found and as set."""

from __future__ import annotations

import numpy as np

from groovewright.audio import Band, BandList, Channel, Kind, Law
from groovewright.electrics import Chain, nominal
from groovewright.electrics.chain import transfer
from groovewright.quantities import FloatArray, Reading
from groovewright.simulate.recording import Flaws, record

RATE_HZ = 48_000
SEED = 20

_COURSE: tuple[tuple[str, Kind, Channel, float, float], ...] = (
    ("left 1 kHz", Kind.TONE, Channel.LEFT, 5.0, 140.0),
    ("right 1 kHz", Kind.TONE, Channel.RIGHT, 5.0, 137.0),
    ("lateral 1 kHz", Kind.TONE, Channel.LATERAL, 5.0, 120.9),
    ("vertical 1 kHz", Kind.TONE, Channel.VERTICAL, 4.0, 118.0),
    ("speed", Kind.TONE, Channel.LATERAL, 14.0, 110.0),
    ("sideways sweep", Kind.SWEEP, Channel.LATERAL, 9.0, 104.0),
    ("up-and-down sweep", Kind.SWEEP, Channel.VERTICAL, 9.0, 101.0),
    ("left sweep", Kind.SWEEP, Channel.LEFT, 8.0, 97.0),
    ("right sweep", Kind.SWEEP, Channel.RIGHT, 8.0, 94.0),
    ("silent groove", Kind.SILENCE, Channel.UNKNOWN, 9.0, 90.0),
)
"""Each band of the invented test record: name, kind, channel, length in s, groove radius in mm."""

AS_FOUND = Flaws(
    azimuth_deg=1.8,
    yaw_deg=1.5,
    left_gain=1.06,
    right_reversed=True,
    left_to_right=0.012 + 0.004j,
    right_to_left=0.010 + 0.005j,
    speed_error_percent=-0.38,
    eccentricity_mm=0.07,
    flutter=((0.9, 0.05), (5.6, 0.03)),
    random_flutter_percent=0.03,
    lateral_resonance=(7.1, 5.2),
    vertical_resonance=(7.6, 4.4),
    groove_noise_cm_per_s=0.02,
    noise=1e-5,
    hum=((50.0, 6e-5, 4e-5), (100.0, 2e-5, 2e-5)),
    full_scale_cm_per_s=60.0,
)
"""The player as it came in, with the Oakmoss P1: a lean, a coil the wrong way round, a slow platter."""

AS_SET = Flaws(
    azimuth_deg=0.25,
    yaw_deg=0.3,
    left_gain=1.03,
    left_to_right=0.009 + 0.003j,
    right_to_left=0.008 + 0.004j,
    speed_error_percent=0.03,
    eccentricity_mm=0.07,
    flutter=((0.9, 0.03), (5.6, 0.02)),
    random_flutter_percent=0.02,
    lateral_resonance=(9.3, 3.6),
    vertical_resonance=(9.0, 3.1),
    groove_noise_cm_per_s=0.015,
    noise=1e-5,
    hum=((50.0, 1.5e-5, 1.5e-5),),
    full_scale_cm_per_s=60.0,
)
"""The player with the Brightwater 5, as it was set."""

CHAIN = Chain(Reading(800.0, 0.0), Reading(500.0, 0.0), cable_pF=Reading(120.0, 0.0))
LOAD_OHM, LOAD_PF = 47_000.0, 50.0
"""The Brightwater's coil, the leads and the phono input of the demo job."""


def demo_bands() -> BandList:
    """Return the band list of the invented test record."""
    bands, start = [], 0.5
    for name, kind, channel, seconds, radius in _COURSE:
        low = kind is Kind.SWEEP and seconds > 8.5
        sweep = (25.0, 4.0) if low else (20.0, 20_000.0)
        bands.append(
            Band(
                name,
                kind,
                start,
                start + seconds,
                channel,
                frequency_hz=(3150.0 if name == "speed" else 1000.0) if kind is Kind.TONE else None,
                sweep_start_hz=sweep[0] if kind is Kind.SWEEP else None,
                sweep_end_hz=sweep[1] if kind is Kind.SWEEP else None,
                level_cm_per_s={Kind.TONE: 5.0, Kind.SWEEP: 1.0}.get(kind),
                groove_radius_mm=radius,
                law=Law.CONSTANT_VELOCITY if low else Law.EQUALISED,
            )
        )
        start += seconds + 0.5
    return BandList(tuple(bands), name="demo tones, side A")


def demo_recording(*, as_found: bool) -> FloatArray:
    """Return the sound of the demo's player as found or as set. [shape=(n, 2), full scale, at `RATE_HZ`]"""
    sound = record(demo_bands(), AS_FOUND if as_found else AS_SET, rate_hz=RATE_HZ, seed=SEED + as_found)
    return sound if as_found else _loaded(sound)


def _loaded(sound: FloatArray) -> FloatArray:
    """Return the sound after the cartridge's coil and its load, 0 dB at 1 kHz."""
    from scipy import fft

    size = fft.next_fast_len(len(sound) + RATE_HZ, real=True)
    paper = nominal(CHAIN)
    load = paper.load(LOAD_OHM, LOAD_PF)
    hz = np.maximum(np.fft.rfftfreq(size, 1.0 / RATE_HZ), 1.0)
    gain = transfer(paper, load, hz)[0] / abs(transfer(paper, load, np.array([1000.0]))[0, 0])
    spectrum = fft.rfft(sound, n=size, axis=0) * gain[:, None]
    return np.asarray(fft.irfft(spectrum, n=size, axis=0)[: len(sound)])
