"""Test recordings with known truth: a band list played by a cartridge, arm and player with given flaws."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groovewright.audio import Band, BandList, Channel, Kind, Replay
from groovewright.quantities import FloatArray
from groovewright.simulate.curves import cut_gain, equaliser_curve
from groovewright.simulate.groove import (
    Groove,
    WallMotion,
    groove_speed_mm_per_s,
    leant,
    output_of,
    sine_wall,
    still,
    sum_of,
    sweep_wall,
    traced,
)
from groovewright.simulate.stylus import followed, tracing_radius_um

SHARES = {
    Channel.LEFT: (1.0, 0.0),
    Channel.RIGHT: (0.0, 1.0),
    Channel.LATERAL: (np.sqrt(0.5), np.sqrt(0.5)),
    Channel.VERTICAL: (np.sqrt(0.5), -np.sqrt(0.5)),
    Channel.UNKNOWN: (np.sqrt(0.5), np.sqrt(0.5)),
}
"""Velocities of the left and the right wall for one unit of the motion that a channel names."""


@dataclass(frozen=True)
class Flaws:
    """What is wrong with the player; the defaults are perfect.

    Parameters
    ----------
    azimuth_deg, yaw_deg, tilt_deg : float
        Lean, tracking error, error of the vertical tracking angle.
    stylus_radius_um, edge_radius_um : float, float or None
        Radius of the tip, 0 is infinitely sharp; radius of the edge that traces, in the level section at the
        contact, None for a round tip (see `tracing_radius_um`).
    left_gain, right_gain : float
    left_to_right, right_to_left : complex
        Electrical crosstalk, before the gains.
    flutter : tuple of (frequency_hz, amplitude_percent)
    random_flutter_percent : float
        Rms of white speed noise below `random_flutter_hz`.
    lateral_resonance, vertical_resonance : (frequency_hz, q) or None
    pilot_resonance : (frequency_hz, q, rms_percent) or None
        Of the stylus along the groove: colours white speed noise below `random_flutter_hz` of this rms before.
    bass_error_percent, treble_error_percent : float
        Of the replay equaliser's 318 and 75 us.
    left_limit_cm_per_s, right_limit_cm_per_s : float
        Wall velocity beyond which the stylus falls behind (see `followed`).
    groove_noise_cm_per_s, noise : float
        Rms of white noise of each wall's velocity, and of the electronics (full scale).
    hum : tuple of (frequency_hz, left_amplitude, right_amplitude)
        Full scale.
    clicks_per_s, click_height : float
    full_scale_cm_per_s : float
        Velocity of one wall that gives full scale at 1 kHz.
    """

    azimuth_deg: float = 0.0
    yaw_deg: float = 0.0
    tilt_deg: float = 0.0
    stylus_radius_um: float = 0.0
    edge_radius_um: float | None = None
    left_gain: float = 1.0
    right_gain: float = 1.0
    left_to_right: complex = 0.0
    right_to_left: complex = 0.0
    leads_swapped: bool = False
    left_reversed: bool = False
    right_reversed: bool = False
    speed_error_percent: float = 0.0
    eccentricity_mm: float = 0.0
    eccentricity_phase_deg: float = 0.0
    flutter: tuple[tuple[float, float], ...] = ()
    random_flutter_percent: float = 0.0
    random_flutter_hz: float = 50.0
    lateral_resonance: tuple[float, float] | None = None
    vertical_resonance: tuple[float, float] | None = None
    pilot_resonance: tuple[float, float, float] | None = None
    bass_error_percent: float = 0.0
    treble_error_percent: float = 0.0
    left_limit_cm_per_s: float = np.inf
    right_limit_cm_per_s: float = np.inf
    groove_noise_cm_per_s: float = 0.0
    noise: float = 1e-6
    hum: tuple[tuple[float, float, float], ...] = ()
    clicks_per_s: float = 0.0
    click_height: float = 0.3
    offset: float = 0.0
    full_scale_cm_per_s: float = 25.0


def record(bands: BandList, flaws: Flaws, *, rate_hz: int = 96_000, seed: int = 0) -> FloatArray:
    """Return what a player with these flaws gives for these bands. [shape=(n, 2), full scale]"""
    random = np.random.default_rng(seed)
    samples = round((max(band.end_s for band in bands.bands) + 0.5) * rate_hz)
    sound = random.standard_normal((samples, 2)) * flaws.noise + flaws.offset
    for band in bands.bands:
        start = round(band.start_s * rate_hz)
        played = _play(band, bands, flaws, rate_hz, random)[: samples - start]
        sound[start : start + len(played)] += played
    return _disturbed(sound, flaws, rate_hz, random)


def write_recording(
    path: Path, sound: FloatArray, *, rate_hz: int = 96_000, encoding: str = "PCM_24"
) -> None:
    """Write a recording; the file's ending chooses the container."""
    import soundfile

    soundfile.write(str(path), sound, rate_hz, subtype=encoding)


def _play(band: Band, bands: BandList, flaws: Flaws, rate_hz: int, random: np.random.Generator) -> FloatArray:
    samples = round(band.duration_s * rate_hz)
    left, right = np.zeros((2, samples))
    if band.kind not in (Kind.SILENCE, Kind.NOISE):
        real_s = band.start_s + np.arange(samples) / rate_hz
        radius_mm = band.groove_radius_mm or 100.0
        groove = _groove(band, flaws, groove_speed_mm_per_s(bands.speed_rpm, radius_mm).item())
        times_s, rates = _groove_times(real_s, radius_mm, bands.speed_rpm, flaws, random)
        left, right = output_of(groove, times_s, rates, yaw_deg=flaws.yaw_deg, tilt_deg=flaws.tilt_deg)
    hiss = random.standard_normal((2, samples)) * flaws.groove_noise_cm_per_s * 10.0
    if band.kind is Kind.NOISE:
        hiss = hiss + _noise_band(band, samples, rate_hz, random)
    left = followed(left, 10.0 * flaws.left_limit_cm_per_s) + hiss[0]
    right = followed(right, 10.0 * flaws.right_limit_cm_per_s) + hiss[1]
    return _through_player(left, right, bands.replay, flaws, rate_hz)


def _groove(band: Band, flaws: Flaws, speed_mm_per_s: float) -> Groove:
    radius_um = tracing_radius_um(flaws.stylus_radius_um, flaws.edge_radius_um)
    shares = SHARES[band.channel]
    left, right = (_wall(band, share) if share else still for share in shares)
    if shares[0] == shares[1] and not radius_um:
        return Groove(left, left, speed_mm_per_s)
    return Groove(
        traced(left, speed_mm_per_s, radius_um, 1.0),
        traced(right, speed_mm_per_s, radius_um, -1.0),
        speed_mm_per_s,
    )


def _wall(band: Band, share: float) -> WallMotion:
    velocity = share * 10.0 * (band.level_cm_per_s or 5.0)
    if band.kind is Kind.TONE:
        return sine_wall(band.frequency_hz or 1000.0, velocity)
    if band.kind is Kind.TWO_TONES:
        second = share * 10.0 * (band.second_level_cm_per_s or (band.level_cm_per_s or 5.0) / 4.0)
        low, high = band.frequency_hz or 60.0, band.second_frequency_hz or 4000.0
        return sum_of((sine_wall(low, velocity), sine_wall(high, second)))
    if band.kind is Kind.SWEEP:
        start, end = band.sweep_start_hz or 20.0, band.sweep_end_hz or 20_000.0
        return sweep_wall(start, end, band.duration_s, lambda f: velocity * cut_gain(f, band.law))
    return still


def _groove_times(
    real_s: FloatArray, radius_mm: float, speed_rpm: float, flaws: Flaws, random: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return groove time and its rate at each real time."""
    pace = 1.0 + flaws.speed_error_percent / 100.0
    turning = [(flaws.eccentricity_mm / radius_mm, pace * speed_rpm / 60.0, flaws.eccentricity_phase_deg)]
    turning += [(percent / 100.0, hz, 0.0) for hz, percent in flaws.flutter]
    times, rates = real_s - real_s[0], np.ones_like(real_s)
    for size, hz, phase_deg in turning:
        angle = 2.0 * np.pi * hz * real_s + np.radians(phase_deg)
        rates = rates + size * np.cos(angle)
        times = times + size / (2.0 * np.pi * hz) * (np.sin(angle) - np.sin(angle[0]))
    if flaws.random_flutter_percent or flaws.pilot_resonance is not None:
        wander, strayed = _wander(real_s, flaws, random)
        rates, times = rates + wander, times + strayed
    return times * pace, rates * pace


def _wander(real_s: FloatArray, flaws: Flaws, random: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return the random part of the speed, over its mean, and its integral. [shape=(n,) each]

    Made at 24 times its highest frequency; the cubic spline between is then 1e-5 off, and integrates exactly.
    """
    from scipy.interpolate import CubicSpline

    step_s = 1.0 / (24.0 * flaws.random_flutter_hz)
    coarse_s = np.arange(int((real_s[-1] - real_s[0]) / step_s) + 4) * step_s + real_s[0]
    wander = _low_noise(coarse_s.size, step_s, flaws.random_flutter_hz, random)
    wander *= flaws.random_flutter_percent / 100.0
    if flaws.pilot_resonance is not None:
        hz, q, percent = flaws.pilot_resonance
        shaken = _low_noise(coarse_s.size, step_s, flaws.random_flutter_hz, random) * percent / 100.0
        size = 2 * coarse_s.size
        frequency = np.asarray(np.fft.rfftfreq(size, step_s), dtype=np.float64)
        wander += _filtered(shaken, _arm_gain(frequency, (hz, q)), size)
    course = CubicSpline(coarse_s, wander)
    return np.asarray(course(real_s)), np.asarray(course.antiderivative()(real_s))


def _low_noise(count: int, step_s: float, highest_hz: float, random: np.random.Generator) -> FloatArray:
    """Return Gaussian noise that is white from 0, included, to `highest_hz`, with rms 1 on average. [shape=(count,)]"""
    from scipy import fft

    # twice as long as needed: a stretch of it has a mean and a trend like any noise
    size = fft.next_fast_len(2 * count, real=True)
    frequency = np.fft.rfftfreq(size, step_s)
    spectrum = np.zeros(frequency.size, dtype=complex)
    inside = frequency <= highest_hz
    bins = int(inside.sum())
    spectrum[inside] = random.standard_normal(bins) + 1j * random.standard_normal(bins)
    # the mean has one part where the others have two, and half a bin's width
    spectrum[0] = np.sqrt(2.0) * spectrum[0].real
    return np.asarray(fft.irfft(spectrum, n=size)[:count] * size / (2.0 * np.sqrt(bins - 0.5)))


def _noise_band(band: Band, samples: int, rate_hz: int, random: np.random.Generator) -> FloatArray:
    shares = np.array(SHARES[band.channel])[:, None]
    noise = random.standard_normal(samples) * 10.0 * (band.level_cm_per_s or 1.0)
    spectrum = np.fft.rfft(noise)
    frequency = np.fft.rfftfreq(samples, 1.0 / rate_hz)
    shaped = np.fft.irfft(spectrum * cut_gain(np.maximum(frequency, 1.0), band.law), n=samples)
    return np.asarray(shares * shaped)


def _filtered(signals: FloatArray, gain: NDArray[np.complex128], size: int) -> FloatArray:
    from scipy import fft

    spectrum = fft.rfft(signals, n=size, axis=-1) * gain
    return np.asarray(fft.irfft(spectrum, n=size, axis=-1)[..., : signals.shape[-1]])


def _equaliser_of(replay: Replay, frequency: FloatArray, flaws: Flaws) -> NDArray[np.complex128]:
    return equaliser_curve(
        frequency,
        replay is Replay.EQUALISED_1976,
        bass=1.0 + flaws.bass_error_percent / 100.0,
        treble=1.0 + flaws.treble_error_percent / 100.0,
    )


def _arm_gain(frequency: FloatArray, resonance: tuple[float, float] | None) -> NDArray[np.complex128]:
    """Return the motion of the stylus relative to a cartridge that sits on a spring-mounted mass.

    H(s) = s^2 / (s^2 + s w0 / Q + w0^2) for x and for y: textbook mass, spring and damper.
    """
    if resonance is None:
        return np.ones(frequency.size, dtype=np.complex128)
    s, w = 2j * np.pi * frequency, 2.0 * np.pi * resonance[0]
    return np.asarray(s**2 / (s**2 + s * w / resonance[1] + w**2), dtype=np.complex128)


def _through_player(
    left: FloatArray, right: FloatArray, replay: Replay, flaws: Flaws, rate_hz: int
) -> FloatArray:
    """Return both columns: arm, lean, crosstalk, gains, polarity, equaliser, leads. All of it is linear, so that
    one transform there and back does it.
    """
    from scipy import fft

    signs = (-1.0 if flaws.left_reversed else 1.0, -1.0 if flaws.right_reversed else 1.0)
    # nothing rings longer than the arm: 4 s are ten times the time constant of 8 Hz with a Q of 10
    size = fft.next_fast_len(left.size + 4 * rate_hz, real=True)
    frequency = np.asarray(np.fft.rfftfreq(size, 1.0 / rate_hz), dtype=np.float64)
    walls = fft.rfft(np.stack([left, right]) / (10.0 * flaws.full_scale_cm_per_s), n=size, axis=-1)
    lateral = _arm_gain(frequency, flaws.lateral_resonance) * (walls[0] + walls[1])
    vertical = _arm_gain(frequency, flaws.vertical_resonance) * (walls[0] - walls[1])
    coils = leant((lateral + vertical) / 2.0, (lateral - vertical) / 2.0, flaws.azimuth_deg)
    # a quarter turn of the phase at all frequencies is what a complex crosstalk means for a real signal
    mixed = np.stack([coils[0] + flaws.right_to_left * coils[1], coils[1] + flaws.left_to_right * coils[0]])
    curve = 1.0 if replay is Replay.NONE else _equaliser_of(replay, frequency, flaws)
    mixed[0] *= signs[0] * flaws.left_gain * curve
    mixed[1] *= signs[1] * flaws.right_gain * curve
    columns = np.asarray(fft.irfft(mixed, n=size, axis=-1)[:, : left.size]).T
    return np.asarray(columns[:, ::-1] if flaws.leads_swapped else columns)


def _disturbed(sound: FloatArray, flaws: Flaws, rate_hz: int, random: np.random.Generator) -> FloatArray:
    """Add hum and clicks, which come after everything else."""
    times_s = np.arange(len(sound)) / rate_hz
    for hz, left, right in flaws.hum:
        wave = np.sin(2.0 * np.pi * hz * times_s)
        sound[:, 0] += left * wave
        sound[:, 1] += right * wave
    width = max(4, round(0.0003 * rate_hz))
    pulse = np.hanning(width) * np.cos(np.arange(width) * 1.3)
    for _ in range(random.poisson(flaws.clicks_per_s * len(sound) / rate_hz) if flaws.clicks_per_s else 0):
        place = int(random.integers(0, len(sound) - width))
        sound[place : place + width] += flaws.click_height * pulse[:, None] * random.choice([-1.0, 1.0], 2)
    return sound
