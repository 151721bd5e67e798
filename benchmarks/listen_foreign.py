"""Listening judged by recordings that the project's own forward model had no part in.

Run: .venv/bin/python benchmarks/listen_foreign.py [word of a case ...]
Signals are made by NumPy and SciPy alone, with the conventions of someone else: frequency modulation of a tone of
constant amplitude, crosstalk as a complex leak, the second harmonic as a term of its own, resonance and equaliser as
digital filters, dither, offset, bands that the list puts up to 0.3 s away, no silence between them. Prints the error of
each measure over what is allowed; more than 1 is a miss.
"""

from __future__ import annotations

import math
import sys
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy import fft, signal
from scipy.interpolate import PchipInterpolator

from flutter_table import WEIGHTING_DB, WEIGHTING_HZ
from groovewright.audio import Band, BandList, Channel, Kind, Law, Listening, Replay, assess, hear_recording
from groovewright.quantities import Reading

Array = NDArray[np.float64]
CHANNELS = {
    "left": Channel.LEFT, "right": Channel.RIGHT, "lateral": Channel.LATERAL, "vertical": Channel.VERTICAL,
    "none": Channel.UNKNOWN,
}  # fmt: skip


@dataclass(frozen=True)
class Part:
    """One stretch of a recording, in the order of the record; a sweep runs from `hz` to `to_hz`."""

    kind: str
    where: str = "none"
    hz: float = 0.0
    to_hz: float = 0.0
    seconds: float = 8.0
    radius_mm: float = 100.0
    gap_s: float = 1.0


TONES = (
    Part("tone", "left", 1000.0, radius_mm=140.0),
    Part("tone", "right", 1000.0, radius_mm=137.0),
    Part("tone", "lateral", 1000.0, seconds=10.0, radius_mm=95.0),
    Part("tone", "lateral", 3150.0, seconds=24.0, radius_mm=115.0),
)
SWEEPS = (
    Part("sweep", "lateral", 30.0, 3.0, seconds=20.0),
    Part("sweep", "vertical", 30.0, 3.0, seconds=20.0),
)
SILENCE = (Part("silence", seconds=30.0),)


@dataclass(frozen=True)
class Case:
    """A player and a recorder, and how they are put into samples."""

    name: str
    parts: tuple[Part, ...] = TONES + SWEEPS + SILENCE
    rate_hz: int = 48_000
    bits: int = 24
    level_db: float = -12.0
    rpm: float = 100.0 / 3.0
    speed_percent: float = -0.37
    off_centre_mm: float = 0.22
    lines: tuple[tuple[float, float], ...] = ((5.1, 0.04),)
    white_percent: float = 0.0
    pink_percent: float = 0.0
    balance_db: float = 0.63
    lean_deg: float = -1.3
    leak: complex = 0.0
    tracking_deg: float = 1.7
    velocity_cm_per_s: float = 5.0
    second_phase_deg: float = 0.0
    lateral: tuple[float, float] = (8.7, 4.4)
    vertical: tuple[float, float] = (10.6, 3.3)
    linear_sweep: bool = False
    peak_filter: bool = False
    replay: str = "replay"
    offset: float = 0.0
    hiss_db: float = -80.0
    swapped: bool = False
    reversed_coil: str = ""
    listed: bool = True
    list_off_s: tuple[float, ...] = (0.0,)
    hum_db: float = -200.0
    clicks_per_s: float = 0.0
    equalised_sweep: bool = False
    dead: str = ""
    mono: bool = False
    only: tuple[str, ...] = ()


CASES = (
    Case("plain"),
    Case("44.1 kHz, 16 bit, dither, offset, -20 dB", rate_hz=44_100, bits=16, offset=0.004, level_db=-20.0),
    Case("-40 dB, 24 bit", level_db=-40.0, hiss_db=-105.0),
    Case("-6 dB, 96 kHz", level_db=-6.0, rate_hz=96_000, lean_deg=2.4, balance_db=-1.1),
    Case("white flutter", white_percent=0.05, off_centre_mm=0.35),
    Case("pink flutter", pink_percent=0.06, off_centre_mm=0.08),
    Case("edges off by 0.3 s", list_off_s=(0.3, -0.3, 0.2, -0.2)),
    Case("no silence between bands", parts=tuple(replace(p, gap_s=0.0) for p in TONES + SWEEPS + SILENCE)),
    Case("no silence, edges off by 0.2 s", list_off_s=(0.2, -0.2),
         parts=tuple(replace(p, gap_s=0.0) for p in TONES + SWEEPS + SILENCE)),
    Case("no silence, edges off by 0.3 s", list_off_s=(0.3, -0.3),
         parts=tuple(replace(p, gap_s=0.0) for p in TONES + SWEEPS + SILENCE)),
    Case("list all 0.3 s late", list_off_s=(0.3,)),
    Case("hum and clicks", hum_db=-60.0, clicks_per_s=0.5),
    Case("rough groove, small lean", hiss_db=-62.0, lean_deg=0.57),
    Case("sweeps cut to be flat after replay", equalised_sweep=True),
    Case("left tone alone", parts=(TONES[0], TONES[3]), only=("speed", "eccentricity")),
    Case("left tone alone, leads exchanged", parts=TONES[:1], swapped=True, only=("speed",)),
    Case("right channel dead", dead="right", only=("speed", "eccentricity")),
    Case("right channel dead, one tone", dead="right", parts=TONES[1:2], only=("speed",)),
    Case("mono switch", mono=True, only=("speed", "eccentricity")),
    Case("6 dB between channels, leaning much", balance_db=6.0, lean_deg=5.0),
    Case("vertical tone, reversed", reversed_coil="right", parts=(
        *TONES[:2], Part("tone", "vertical", 1000.0, radius_mm=90.0), TONES[3])),
    Case("electrical leak", lean_deg=0.0, leak=0.012 + 0.006j, only=("crosstalk", "balance", "leads", "polarity")),
    Case("leads exchanged", swapped=True),
    Case("left coil reversed", reversed_coil="left", lean_deg=2.0),
    Case("exchanged and reversed", swapped=True, reversed_coil="right"),
    Case("second harmonic as a term at 90 degrees", second_phase_deg=90.0),
    Case("linear sweeps upwards", linear_sweep=True,
         parts=(*TONES, *(replace(p, hz=3.0, to_hz=30.0) for p in SWEEPS), *SILENCE)),
    Case("resonance as a peak", peak_filter=True),
    Case("resonance from noise alone", parts=(*TONES, Part("silence", seconds=120.0)), hiss_db=-70.0),
    Case("flat, 45 rpm, 315 Hz", replay="none", rpm=45.0,
         parts=(*(replace(p, hz=315.0 if p.hz == 1000.0 else 3000.0) for p in TONES), *SWEEPS, *SILENCE)),
    Case("1976 equaliser, fast platter", replay="replay-1976", speed_percent=1.9),
    Case("no list", listed=False),
    Case("no list, no silence, 44.1 kHz", listed=False, rate_hz=44_100, speed_percent=0.8,
         parts=tuple(replace(p, gap_s=0.0) for p in TONES + SWEEPS + SILENCE)),
    Case("only lateral tones", parts=TONES[2:], only=("speed", "flutter", "eccentricity", "leads", "polarity")),
    Case("short tones", parts=(*(replace(p, seconds=5.0) for p in TONES[:3]), replace(TONES[3], seconds=12.0))),
)  # fmt: skip


def equalised(case: Case, hz: Array) -> NDArray[np.complex128]:
    """Return the replay curve of IEC 60098 from its time constants, 0 dB at 1 kHz."""
    if case.replay == "none":
        return np.ones(hz.shape, dtype=complex)

    def curve(f: Array) -> NDArray[np.complex128]:
        s = 2j * np.pi * np.maximum(f, 1e-9)
        h = (s * 318e-6 + 1.0) / (s * 3180e-6 + 1.0) / (s * 75e-6 + 1.0)
        return h * (s * 7950e-6 / (s * 7950e-6 + 1.0)) if case.replay == "replay-1976" else h

    return np.asarray(curve(hz) / np.abs(curve(np.array([1000.0]))))


def wander(case: Case, part: Part, times: Array, random: np.random.Generator) -> Array:
    """Return the relative deviation of speed at each time."""
    turns = case.rpm / 60.0 * (1.0 + case.speed_percent / 100.0)
    total: Array = case.off_centre_mm / part.radius_mm * np.sin(2.0 * np.pi * turns * times + 0.7)
    for line_hz, percent in case.lines:
        total = total + percent / 100.0 * np.sin(2.0 * np.pi * line_hz * times)
    for rms, slope in ((case.white_percent, 0.0), (case.pink_percent, 0.5)):
        if rms:
            # long enough to hold a slow part that is not periodic in the band
            size = fft.next_fast_len(3 * times.size, real=True)
            hz = fft.rfftfreq(size, 1.0 / case.rate_hz)
            shape = np.where((hz > 0.05) & (hz < 60.0), np.maximum(hz, 0.05) ** -slope, 0.0)
            spectrum = shape * (random.standard_normal(hz.size) + 1j * random.standard_normal(hz.size))
            random_part = np.asarray(fft.irfft(spectrum, n=size))
            total = total + rms / 100.0 * random_part[: times.size] / random_part.std()
    return np.asarray(total)


def arm(case: Case, sound: Array, motion: tuple[float, float]) -> Array:
    """Return a signal behind the arm: a second-order high-pass, or a peak, by the bilinear transform."""
    w, q = 2.0 * np.pi * motion[0], motion[1]
    top = [0.0, w / q, 0.0] if case.peak_filter else [1.0, 0.0, 0.0]
    b, a = signal.bilinear(top, [1.0, w / q, w**2], case.rate_hz)
    return np.asarray(signal.lfilter(b, a, sound))


def wave(case: Case, part: Part, phase: Array) -> Array:
    """Return a tone and its second harmonic behind the equaliser, each with the curve's own gain and phase."""
    groove = 2.0 * np.pi * case.rpm / 60.0 * part.radius_mm / 10.0
    second = case.velocity_cm_per_s / groove * math.tan(math.radians(case.tracking_deg))
    if part.where != "lateral":
        second *= math.sqrt(0.5)
    gains = equalised(case, np.array([part.hz, 2.0 * part.hz]))
    turn = math.radians(case.second_phase_deg)
    first = (gains[0] * np.exp(1j * phase)).imag
    return np.asarray(first + second * (gains[1] * np.exp(1j * (2.0 * phase + turn))).imag)


def low_sweep(case: Case, part: Part, times: Array) -> Array:
    """Return a sweep of constant velocity behind arm and equaliser."""
    if case.linear_sweep:
        turns = part.hz * times + (part.to_hz - part.hz) / part.seconds * times**2 / 2.0
    else:
        rate = math.log(part.to_hz / part.hz) / part.seconds
        turns = part.hz * np.expm1(rate * times) / rate
    sweep = arm(
        case, 0.3 * np.cos(2.0 * np.pi * turns), case.lateral if part.where == "lateral" else case.vertical
    )
    size = fft.next_fast_len(times.size + case.rate_hz, real=True)
    hz = np.asarray(fft.rfftfreq(size, 1.0 / case.rate_hz))
    return np.asarray(fft.irfft(fft.rfft(sweep, n=size) * equalised(case, hz), n=size)[: times.size]) / 8.0


def noise(case: Case, count: int, random: np.random.Generator) -> Array:
    """Return white groove noise of both walls behind arm and equaliser. [shape=(2, n)]"""
    x, y = random.standard_normal((2, count + 4 * case.rate_hz))
    x, y = arm(case, x, case.lateral), arm(case, y, case.vertical)
    size = fft.next_fast_len(x.size, real=True)
    curve = equalised(case, np.asarray(fft.rfftfreq(size, 1.0 / case.rate_hz)))
    both = np.stack([x + y, x - y]) / math.sqrt(2.0)
    return np.asarray(fft.irfft(fft.rfft(both, n=size) * curve, n=size)[:, 4 * case.rate_hz :][:, :count])


def sound_of(case: Case) -> tuple[Array, BandList, dict[str, Array]]:
    """Return the recording [shape=(n, 2)], its list, and the deviation of speed of each tone, in percent."""
    random = np.random.default_rng(11)
    pieces, bands, deviations, start_s = [], [], {}, 1.5
    for number, part in enumerate(case.parts):
        times = start_s + np.arange(round(part.seconds * case.rate_hz)) / case.rate_hz
        own, other = np.zeros(times.size), np.zeros(times.size)
        name = f"{number} {part.kind} {part.where}"
        if part.kind == "tone":
            deviation = wander(case, part, times, random)
            pace = (1.0 + case.speed_percent / 100.0) * (1.0 + deviation)
            phase = 2.0 * np.pi * part.hz * np.cumsum(pace) / case.rate_hz
            own = wave(case, part, phase)
            # a leak that stands at an angle: the same tone, turned
            other = np.asarray(wave(case, part, phase + np.angle(case.leak)) * abs(case.leak))
            deviations[name] = 100.0 * deviation
        elif part.kind == "sweep":
            own = low_sweep(case, part, times - start_s)
        gap = np.zeros((2, round(part.gap_s * case.rate_hz)))
        pieces += [columns_of(case, part, own, other), gap]
        off = case.list_off_s[number % len(case.list_off_s)]
        bands.append(listed(case, part, name, start_s + off, start_s + part.seconds + off))
        start_s += part.seconds + part.gap_s
    lead = np.zeros((2, round(1.5 * case.rate_hz)))
    sound = np.concatenate([lead, *pieces], axis=1) * 10.0 ** (case.level_db / 20.0)
    sound += noise(case, sound.shape[1], random) * 10.0 ** (case.hiss_db / 20.0)
    sound += case.offset
    sound += 10.0 ** (case.hum_db / 20.0) * np.sin(
        2.0 * np.pi * 50.02 * np.arange(sound.shape[1]) / case.rate_hz
    )
    for place in random.integers(0, sound.shape[1] - 40, random.poisson(case.clicks_per_s * start_s)):
        sound[:, place : place + 30] += 0.1 * random.standard_normal() * np.exp(-np.arange(30) / 4.0)
    if case.dead:
        sound[0 if case.dead == "left" else 1] *= 1e-4
    if case.mono:
        sound[:] = sound.mean(axis=0)
    if case.reversed_coil:
        sound[0 if case.reversed_coil == "left" else 1] *= -1.0
    if case.swapped:
        sound = sound[::-1]
    return sound.T, BandList(tuple(bands), speed_rpm=case.rpm, replay=Replay(case.replay)), deviations


def columns_of(case: Case, part: Part, own: Array, other: Array) -> Array:
    """Return left and right: what the part's channel does in coils turned by the lean. [shape=(2, n)]"""
    lean = math.radians(case.lean_deg)
    half = math.sqrt(0.5)
    left, right = {
        "left": (1.0, 0.0), "right": (0.0, 1.0), "lateral": (half, half), "vertical": (half, -half),
        "none": (0.0, 0.0),
    }[part.where]  # fmt: skip
    coils = (left * math.cos(lean) + right * math.sin(lean), right * math.cos(lean) - left * math.sin(lean))
    gain = 10.0 ** (case.balance_db / 20.0)
    return np.stack([gain * (coils[0] * own + coils[1] * other), coils[1] * own + coils[0] * other])


def listed(case: Case, part: Part, name: str, start_s: float, end_s: float) -> Band:
    """Return the list's entry for a part."""
    tone, sweep = part.kind == "tone", part.kind == "sweep"
    return Band(
        name, Kind(part.kind), start_s, end_s, CHANNELS[part.where],
        frequency_hz=part.hz if tone else None,
        sweep_start_hz=part.hz if sweep else None, sweep_end_hz=part.to_hz if sweep else None,
        level_cm_per_s=case.velocity_cm_per_s if tone else None, groove_radius_mm=part.radius_mm,
        law=Law.CONSTANT_VELOCITY if sweep and not case.equalised_sweep else Law.EQUALISED,
    )  # fmt: skip


def two_sigma(percent: Array, rate_hz: float) -> float:
    """Return the 95 % quantile of the weighted deviation, from the table alone, its ends left out."""
    slow = percent[: percent.size // 48 * 48].reshape(-1, 48).mean(axis=1)
    rate = rate_hz / 48.0
    table = PchipInterpolator(np.log(WEIGHTING_HZ), WEIGHTING_DB)
    window = signal.windows.tukey(slow.size, 0.0)
    hz = fft.rfftfreq(4 * slow.size, 1.0 / rate)
    db = np.where(hz > 0.1, table(np.log(np.clip(hz, 0.1, 200.0))), -200.0)
    padded = np.pad(
        (slow - slow.mean()) * window, (slow.size, 2 * slow.size), mode="reflect", reflect_type="odd"
    )
    heavy = fft.irfft(fft.rfft(padded) * 10.0 ** (db / 20.0), n=padded.size)[slow.size : 2 * slow.size]
    edge = int(rate)
    return float(np.quantile(np.abs(heavy[edge:-edge]), 0.95))


def limits_of(case: Case, deviations: dict[str, Array], read_at_mm: float) -> dict[str, tuple[float, float]]:
    """Return truth and allowed error of each measure."""
    kinds = {(part.kind, part.where) for part in case.parts}
    pilot = max(deviations, key=lambda name: deviations[name].size)
    weighted = two_sigma(deviations[pilot], case.rate_hz)
    random_rms = math.hypot(case.white_percent, case.pink_percent) / 100.0
    seconds = max(part.seconds for part in case.parts if part.kind == "tone")
    # what random flutter leaves at three sigma, at the smallest radius (docs/listen.md)
    blur_mm = 3.0 * random_rms * math.sqrt(0.68 / seconds) * 115.0
    blur_percent = 100.0 * 3.0 * random_rms * math.sqrt(0.68 / seconds)
    out = {
        "speed_error_percent": (case.speed_percent, max(0.002, blur_percent)),
        "flutter_weighted_two_sigma_percent": (weighted, 0.02 * weighted),
    }
    if {("tone", "left"), ("tone", "right")} <= kinds:
        ways = ways_of(case)
        out |= {
            "balance_db": (case.balance_db + ways[2], 0.02),
            "crosstalk_l_to_r_db": (ways[0], 0.3),
            "crosstalk_r_to_l_db": (ways[1], 0.3),
            "azimuth_deg": (case.lean_deg, 0.1),
        }
    for motion, (hz, q) in (("lateral", case.lateral), ("vertical", case.vertical)):
        if ("sweep", motion) in kinds or ("silence", "none") in kinds:
            out |= {f"resonance_{motion}_hz": (hz, 0.02 * hz), f"resonance_{motion}_q": (q, 0.1 * q)}
    if case.listed:
        groove = 2.0 * np.pi * case.rpm / 60.0 * read_at_mm / 10.0
        second = 100.0 * case.velocity_cm_per_s / groove * math.tan(math.radians(case.tracking_deg))
        out |= {
            "eccentricity_mm": (case.off_centre_mm, max(0.01, 0.03 * case.off_centre_mm, blur_mm)),
            "tracking_error_deg": (case.tracking_deg, 0.15),
            "second_harmonic_percent": (second, 0.03 * second),
        }
    if case.only:
        out = {key: value for key, value in out.items() if key.startswith(case.only)}
    return out


def ways_of(case: Case) -> tuple[float, float, float]:
    """Return crosstalk both ways, gains taken out, and what the leak does to the balance, in dB."""
    lean = math.radians(case.lean_deg)
    left = (math.cos(lean) - case.leak * math.sin(lean), -math.sin(lean) + case.leak * math.cos(lean))
    right = (math.sin(lean) + case.leak * math.cos(lean), math.cos(lean) + case.leak * math.sin(lean))
    own = abs(left[0]) / abs(right[1])
    sizes = abs(left[1] / left[0]) * own, abs(right[0] / right[1]) / own
    return 20.0 * math.log10(sizes[0]), 20.0 * math.log10(sizes[1]), 20.0 * math.log10(own)


def heard(case: Case) -> tuple[Listening, dict[str, Array]]:
    """Write a case to a file and listen to it."""
    sound, bands, deviations = sound_of(case)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "foreign.wav"
        if case.bits == 16:
            random = np.random.default_rng(1)
            # triangular dither of two steps
            sound = sound + (random.random(sound.shape) - random.random(sound.shape)) / 32768.0
        soundfile.write(path, sound, case.rate_hz, subtype=f"PCM_{case.bits}")
        found = hear_recording(path, bands if case.listed else None, assumed_replay=bands.replay)
        return assess(found), deviations


def misses_of(case: Case) -> tuple[dict[str, float], list[str], dict[str, float]]:
    """Return error over allowed error of each measure (infinite where it is missing), what is wrong about the
    wires, and error over standard uncertainty.
    """
    listening, deviations = heard(case)
    shares, sigmas = {}, {}
    second = listening.measures.get("second_harmonic_percent")
    places = [
        band.groove_radius_mm or 0.0
        for band in listening.heard.bands.bands
        if second and band.name in second.bands
    ]
    for key, (truth, allowed) in limits_of(case, deviations, places[0] if places else 95.0).items():
        value = listening.measures[key].value if key in listening.measures else None
        if isinstance(value, Reading):
            shares[key] = abs(value.value - truth) / allowed
            sigmas[key] = (value.value - truth) / value.sd
        else:
            shares[key] = math.inf
    told = [str(listening.measures[key].value) for key in ("leads", "polarity")]
    should = ["swapped" if case.swapped else "correct", "one reversed" if case.reversed_coil else "correct"]
    wrong = [a for a, b in zip(told, should, strict=True) if a not in (b, "can't tell")]
    return shares, wrong, sigmas


def main() -> None:
    """Print one line for each case."""
    print("| recording | nearest to its limit | missed | wires |")
    print("| --- | --- | --- | --- |")
    for case in CASES:
        if sys.argv[1:] and not any(word in case.name for word in sys.argv[1:]):
            continue
        shares, wrong, sigmas = misses_of(case)
        worst = max(shares, key=lambda key: shares[key])
        missed = ", ".join(f"`{key}` {share:.2f}" for key, share in shares.items() if share > 1.0)
        far = ", ".join(f"{key} {z:+.1f}" for key, z in sigmas.items() if abs(z) > 3.0)
        print(
            f"| {case.name} | `{worst}` {shares[worst]:.2f} | {missed or 'none'} | {wrong or 'right'} |",
            flush=True,
        )
        if far:
            print(f"  further off than three sigma: {far}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
