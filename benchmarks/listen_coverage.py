"""How often the stated 95 % intervals hold the truth, over many recordings with known truth.

Run: nice .venv/bin/python benchmarks/listen_coverage.py [--trials 200] [--first 0] [--csv FILE] [--rare]
With --csv every trial is added to a file, and trials that are in it already are not made again: runs add up.
With --rare only what few of the trials have is recorded: sweeps over the whole range, and clicks (give it a file of its
own).
Each trial records, writes, reads and measures 116 s at 48 kHz with its own random flaws. The truth comes from the
flaws by formulas, by integration of densities, or, for quasi-peak flutter, from a long series of such speed noise:
flutter is a property of the player, of which a band is a sample.
"""

from __future__ import annotations

import argparse
import cmath
import csv
import math
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.optimize import brentq
from scipy.special import jv, ndtr

from groovewright.audio import Band, BandList, Channel, Kind, Law, assess, hear_recording
from groovewright.audio.flutter import meter, weighted, weighting_db
from groovewright.audio.listen import Heard
from groovewright.audio.noise_weighting import (
    a_weighting_db,
    itu_weighting_db,
    rumble_plain_db,
    rumble_weighted_db,
)
from groovewright.quantities import Reading
from groovewright.simulate.curves import equaliser_curve
from groovewright.simulate.groove import Groove, groove_speed_mm_per_s, output_of, sine_wall, sum_of
from groovewright.simulate.recording import Flaws, record, write_recording

RATE_HZ = 48_000
LEFT, RIGHT, LATERAL, VERTICAL = Channel.LEFT, Channel.RIGHT, Channel.LATERAL, Channel.VERTICAL
GROOVE_NOISE = 0.02
FULL_SCALE = 100.0


def tone(start_s: float, end_s: float, channel: Channel, hz: float, radius_mm: float) -> Band:
    """Return a tone band of 5 cm/s."""
    return Band(
        f"{channel.value} {hz:g}",
        Kind.TONE,
        start_s,
        end_s,
        channel,
        frequency_hz=hz,
        level_cm_per_s=5.0,
        groove_radius_mm=radius_mm,
    )


def sweep(start_s: float, end_s: float, channel: Channel) -> Band:
    """Return a low sweep."""
    return Band(
        f"sweep {channel.value}", Kind.SWEEP, start_s, end_s, channel, sweep_start_hz=25.0, sweep_end_hz=4.0,
        level_cm_per_s=1.0, law=Law.CONSTANT_VELOCITY,
    )  # fmt: skip


TWO = Band(
    "two tones", Kind.TWO_TONES, 108.0, 116.0, LATERAL, frequency_hz=60.0, second_frequency_hz=4000.0,
    level_cm_per_s=5.0, second_level_cm_per_s=2.0, groove_radius_mm=100.0,
)  # fmt: skip
HIGH = Band(
    "response", Kind.SWEEP, 117.0, 132.0, LEFT, sweep_start_hz=20.0, sweep_end_hz=20_000.0, level_cm_per_s=1.0,
    law=Law.EQUALISED,
)  # fmt: skip
HIGH_RIGHT = Band(
    "response right", Kind.SWEEP, 133.0, 148.0, RIGHT, sweep_start_hz=20.0, sweep_end_hz=20_000.0,
    level_cm_per_s=1.0, law=Law.EQUALISED,
)  # fmt: skip
BANDS = BandList(
    (
        tone(0.5, 8.5, LEFT, 1000.0, 140.0),
        tone(9.0, 17.0, RIGHT, 1000.0, 138.0),
        tone(17.5, 25.5, LATERAL, 1000.0, 90.0),
        tone(26.0, 46.0, LATERAL, 3150.0, 100.0),
        sweep(46.5, 61.5, LATERAL),
        sweep(62.0, 77.0, VERTICAL),
        Band("silence", Kind.SILENCE, 77.5, 107.5),
        TWO,
    )
)
WITH_RESPONSE = BandList((*BANDS.bands, HIGH, HIGH_RIGHT))
"""Sweeps over the whole range take long to make: every fourth trial has them."""
RARE = BandList(
    (
        tone(0.5, 12.5, LATERAL, 3150.0, 100.0),
        replace(HIGH, start_s=13.0, end_s=28.0),
        replace(HIGH_RIGHT, start_s=29.0, end_s=44.0),
    )
)
RARE_KEYS = ("response_left_db", "response_right_db", "clicks_per_minute")


def flaws_of(seed: int) -> Flaws:
    """Return the random flaws of one trial."""
    random = np.random.default_rng(seed)
    return Flaws(
        azimuth_deg=float(random.uniform(-3, 3)),
        yaw_deg=float(random.uniform(0.3, 3)),
        left_gain=float(10 ** (random.uniform(-1, 1) / 20)),
        left_to_right=float(random.uniform(-0.01, 0.01)),
        right_to_left=float(random.uniform(-0.01, 0.01)),
        speed_error_percent=float(random.uniform(-0.5, 0.5)),
        eccentricity_mm=float(random.uniform(0.03, 0.4)),
        eccentricity_phase_deg=float(random.uniform(0, 360)),
        random_flutter_percent=float(random.uniform(0.01, 0.06)),
        flutter=((float(random.uniform(2, 9)), float(random.uniform(0.0, 0.05))),),
        pilot_resonance=(float(random.uniform(8, 12)), float(random.uniform(3, 6)), 0.1)
        if seed % 2
        else None,
        lateral_resonance=(float(random.uniform(7, 13)), float(random.uniform(2, 6))),
        vertical_resonance=(float(random.uniform(7, 13)), float(random.uniform(2, 6))),
        bass_error_percent=float(random.uniform(-10, 10)) if seed % 8 == 5 else 0.0,
        treble_error_percent=float(random.uniform(-10, 10)) if seed % 8 == 5 else 0.0,
        groove_noise_cm_per_s=GROOVE_NOISE,
        noise=1e-5,
        hum=((50.0, float(random.uniform(2e-5, 2e-4)), 2e-5),),
        clicks_per_s=float(random.uniform(0.0, 0.3)) if seed % 3 == 0 else 0.0,
        full_scale_cm_per_s=FULL_SCALE,
    )


def trial(seed: int) -> tuple[dict[str, float], dict[str, Reading]]:
    """Return the truth and what was measured."""
    flaws = flaws_of(seed)
    return judged(flaws, heard_in(flaws, WITH_RESPONSE if seed % 4 == 1 else BANDS, seed))


def rare_trial(seed: int) -> tuple[dict[str, float], dict[str, Reading]]:
    """Return the truth and what was measured of a recording of what is rare."""
    clicks_per_s = float(np.random.default_rng((seed, 1)).uniform(0.02, 0.3))
    flaws = replace(flaws_of(seed), clicks_per_s=clicks_per_s)
    truth, measured = judged(flaws, heard_in(flaws, RARE, seed))
    return {key: truth[key] for key in RARE_KEYS if key in truth}, measured


def heard_in(flaws: Flaws, bands: BandList, seed: int) -> Heard:
    """Return what is heard in a recording of these bands."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trial.wav"
        write_recording(path, record(bands, flaws, rate_hz=RATE_HZ, seed=seed), rate_hz=RATE_HZ)
        return hear_recording(path, bands)


def judged(flaws: Flaws, heard: Heard) -> tuple[dict[str, float], dict[str, Reading]]:
    """Return the truth and what was measured."""
    listening = assess(heard)
    measured = {key: m.value for key, m in listening.measures.items() if isinstance(m.value, Reading)}
    for name, one in listening.resonances.items():
        if "noise of" in name:
            motion = name.split(":")[0]
            measured[f"noise {motion} hz"], measured[f"noise {motion} q"] = one.frequency_hz, one.q
    responses = {
        side: listening.responses.get(band.name) for side, band in (("left", HIGH), ("right", HIGH_RIGHT))
    }
    at = {
        side: float(response.frequency_hz[np.argmax(_inside(response.frequency_hz) * np.abs(curve))])
        for side, response in responses.items()
        if response is not None
        and (curve := response.left_db if side == "left" else response.right_db) is not None
    }
    return truth_of(flaws, at), measured


def _inside(hz: np.ndarray) -> np.ndarray:
    return (hz >= 30.0) & (hz <= 18_000.0)


def truth_of(flaws: Flaws, response_at_hz: dict[str, float]) -> dict[str, float]:
    """Return what the measures should be."""
    assert flaws.lateral_resonance is not None
    assert flaws.vertical_resonance is not None
    truth = {
        "azimuth_deg": _as_lean(flaws),
        "balance_db": 20.0 * math.log10(flaws.left_gain * abs(_own(flaws)[0] / _own(flaws)[1])),
        "speed_error_percent": flaws.speed_error_percent,
        "eccentricity_mm": flaws.eccentricity_mm,
        "tracking_error_deg": flaws.yaw_deg,
        "hum_frequency_hz": 50.0,
    }
    if flaws.clicks_per_s:
        truth["clicks_per_minute"] = 60.0 * flaws.clicks_per_s
    for motion, (hz, q) in (("lateral", flaws.lateral_resonance), ("vertical", flaws.vertical_resonance)):
        truth |= {f"resonance_{motion}_hz": hz, f"resonance_{motion}_q": q}
        truth |= {f"noise {motion} hz": hz, f"noise {motion} q": q}
    if flaws.pilot_resonance is not None:
        truth |= {
            "resonance_pilot_hz": flaws.pilot_resonance[0],
            "resonance_pilot_q": flaws.pilot_resonance[1],
        }
    return truth | _crosstalk(flaws) | _flutter(flaws) | _harmonics(flaws) | _noise(flaws) | {
        f"response_{side}_db": _strays(flaws, side, hz) for side, hz in response_at_hz.items()
    }  # fmt: skip


def _arm(flaws: Flaws, hz: float) -> tuple[complex, complex]:
    """Return what the arm leaves of lateral and vertical motion at a frequency."""
    gains = []
    for resonance in (flaws.lateral_resonance, flaws.vertical_resonance):
        assert resonance is not None
        u = hz / resonance[0]
        gains.append(-(u**2) / (1.0 - u**2 + 1j * u / resonance[1]))
    return gains[0], gains[1]


def _columns(flaws: Flaws, left: float, right: float, hz: float = 1000.0) -> tuple[complex, complex]:
    """Return both columns, before gains, for velocities of the two walls."""
    x, y = (left + right) * _arm(flaws, hz)[0], (left - right) * _arm(flaws, hz)[1]
    a = math.radians(flaws.azimuth_deg)
    one, other = (x + y) / 2.0, (x - y) / 2.0
    coils = one * math.cos(a) + other * math.sin(a), other * math.cos(a) - one * math.sin(a)
    return coils[0] + flaws.right_to_left * coils[1], coils[1] + flaws.left_to_right * coils[0]


def _own(flaws: Flaws) -> tuple[float, float]:
    return abs(_columns(flaws, 1.0, 0.0)[0]), abs(_columns(flaws, 0.0, 1.0)[1])


def _ways(flaws: Flaws) -> tuple[complex, complex]:
    """Return crosstalk left to right and right to left, gains taken out."""
    one, other = _columns(flaws, 1.0, 0.0), _columns(flaws, 0.0, 1.0)
    own_left, own_right = _own(flaws)
    return one[1] / one[0] * own_left / own_right, other[0] / other[1] * own_right / own_left


def _as_lean(flaws: Flaws) -> float:
    """Return the lean that a recording shows: electrical crosstalk of opposite signs looks like it."""
    to_right, to_left = _ways(flaws)
    return math.degrees(0.5 * (math.atan(to_left.real) - math.atan(to_right.real)))


def _crosstalk(flaws: Flaws) -> dict[str, float]:
    to_right, to_left = _ways(flaws)
    return {
        "crosstalk_l_to_r_db": 20.0 * math.log10(abs(to_right)),
        "crosstalk_r_to_l_db": 20.0 * math.log10(abs(to_left)),
        "crosstalk_l_to_r_deg": math.degrees(cmath.phase(to_right)),
        "crosstalk_r_to_l_deg": math.degrees(cmath.phase(to_left)),
    }


def _flutter(flaws: Flaws) -> dict[str, float]:
    """Integrate the densities of the speed's random parts, and average over the phases of its steady ones; only the
    meter wants a long series.
    """
    turns_per_s = (1.0 + flaws.speed_error_percent / 100.0) / 1.8
    lines = [(turns_per_s, 100.0 * flaws.eccentricity_mm / 100.0), *flaws.flutter]
    step = 0.001
    hz = np.arange(0.2, 50.0, step)
    density = _speed_density(flaws, hz)
    gains = 10.0 ** (weighting_db([line for line, _ in lines]) / 20.0)
    heavy = [size * float(gain) for (_, size), gain in zip(lines, gains, strict=True)]
    sigma = math.sqrt(float(np.sum(density * 10.0 ** (weighting_db(hz) / 10.0))) * step)
    plain = 0.5 * sum(size**2 for _, size in lines) + float(density.sum()) * step
    return {
        "flutter_weighted_two_sigma_percent": _two_sigma(heavy, sigma),
        "flutter_weighted_quasi_peak_percent": _shown(flaws, lines),
        "flutter_weighted_rms_percent": math.sqrt(0.5 * sum(size**2 for size in heavy) + sigma**2),
        "wow_flutter_unweighted_rms_percent": math.sqrt(plain),
    }


def _speed_density(flaws: Flaws, hz: np.ndarray) -> np.ndarray:
    """Return the one-sided density of the random parts of the speed, in percent squared per Hz."""
    density = np.full(hz.size, flaws.random_flutter_percent**2 / flaws.random_flutter_hz)
    if flaws.pilot_resonance is not None:
        f0, q, rms = flaws.pilot_resonance
        u = hz / f0
        density += rms**2 / flaws.random_flutter_hz * np.abs(u**2 / (1.0 - u**2 + 1j * u / q)) ** 2
    return density


def _two_sigma(sizes: list[float], sigma: float) -> float:
    """Return the level that sines of unrelated frequencies and a Gaussian part stay below for 95 % of the time."""
    phases = 2.0 * np.pi * (np.arange(200) + 0.5) / 200.0
    steady = (sizes[0] * np.cos(phases)[:, None] + sizes[1] * np.cos(phases)).ravel()

    def above(level: float) -> float:
        return float(np.mean(ndtr((steady - level) / sigma) + ndtr((-steady - level) / sigma))) - 0.05

    return float(brentq(above, 0.0, sum(sizes) + 5.0 * sigma))


def _shown(flaws: Flaws, lines: list[tuple[float, float]]) -> float:
    """Return what the quasi-peak meter shows on average, over a long time."""
    rate_hz, seconds = 500.0, 600.0
    times = np.arange(round(rate_hz * seconds)) / rate_hz
    percent = np.sum([size * np.cos(2 * np.pi * hz * times) for hz, size in lines], axis=0)
    hz = np.fft.rfftfreq(times.size, 1.0 / rate_hz)
    noise = np.fft.rfft(
        np.random.default_rng(round(1e9 * flaws.azimuth_deg**2)).standard_normal(times.size)
    ) * (hz <= 50.0)
    percent += np.fft.irfft(noise * np.sqrt(_speed_density(flaws, hz) * rate_hz / 2.0), n=times.size)
    course = meter(weighted(percent, rate_hz, [line for line, _ in lines]), rate_hz)
    return float(course[round(5.0 * rate_hz) :].mean())


def _harmonics(flaws: Flaws) -> dict[str, float]:
    k = 50.0 * math.tan(math.radians(flaws.yaw_deg)) / float(groove_speed_mm_per_s(100.0 / 3.0, 90.0))
    sizes = {n: 100.0 * float(jv(n, n * k) / jv(1, k)) for n in range(2, 8)}
    higher = math.sqrt(sum(size**2 for n, size in sizes.items() if n > 2))
    return {
        "second_harmonic_percent": sizes[2],
        "third_harmonic_percent": sizes[3],
        "thd_percent": math.hypot(sizes[2], higher),
        "not_from_tracking_percent": higher,
    } | _mixing(flaws)  # fmt: skip


def _mixing(flaws: Flaws) -> dict[str, float]:
    share = math.sqrt(0.5)
    wall = sum_of((sine_wall(60.0, 50.0 * share), sine_wall(4000.0, 20.0 * share)))
    speed = groove_speed_mm_per_s(100.0 / 3.0, 100.0).item()
    times = np.arange(48_000) / 48_000.0
    left, right = output_of(
        Groove(wall, wall, speed), times, np.ones(48_000), yaw_deg=flaws.yaw_deg, tilt_deg=0.0
    )
    spectrum = np.abs(np.fft.rfft(left + right))
    products = {(m, n): 100.0 * float(spectrum[m * 60 + n * 4000] / spectrum[4000]) for m, n in
                ((-1, 1), (1, 1), (-2, 1), (2, 1), (-1, 2))}  # fmt: skip
    return {
        "difference_tone_percent": products[(-1, 1)],
        "intermodulation_percent": math.sqrt(sum(size**2 for size in products.values())),
    }


def _noise(flaws: Flaws) -> dict[str, float]:
    """Integrate the densities of groove noise, electronics and hum in each column."""
    hz = np.arange(1.0, RATE_HZ / 2.0, 0.25)
    reference = 5.0 * math.sqrt(0.5) / FULL_SCALE * math.sqrt(0.5)
    curve = equaliser_curve(
        hz, bass=1.0 + flaws.bass_error_percent / 100.0, treble=1.0 + flaws.treble_error_percent / 100.0
    )
    gains = []
    for resonance in (flaws.lateral_resonance, flaws.vertical_resonance):
        assert resonance is not None
        u = hz / resonance[0]
        gains.append(np.abs(u**2 / (1.0 - u**2 + 1j * u / resonance[1])) ** 2)
    density = 2.0 * (GROOVE_NOISE / FULL_SCALE) ** 2 / RATE_HZ
    leftover = 2.0 * flaws.noise**2 / RATE_HZ
    out: dict[str, float] = {}
    scales = {
        "rumble_db": rumble_plain_db,
        "rumble_weighted_db": rumble_weighted_db,
        "noise_a_weighted_db": a_weighting_db,
        "noise_itu_weighted_db": itu_weighting_db,
    }
    for key, weighting in scales.items():
        heard = 10.0 ** (weighting(hz) / 10.0) * (
            (hz >= 20.0) & (hz <= 20_000.0) if key[0] == "n" else hz >= 2.0
        )
        levels = []
        for gain, lines in ((flaws.left_gain, flaws.hum[0][1]), (1.0, flaws.hum[0][2])):
            both = density * 0.5 * (gains[0] + gains[1]) * np.abs(curve) ** 2 * gain**2 + leftover
            line = 0.5 * lines**2 * 10.0 ** (float(weighting(50.0)) / 10.0)
            levels.append(10.0 * math.log10((float(np.sum(both * heard)) * 0.25 + line) / reference**2))
        out[key] = max(levels)
    size = max(flaws.hum[0][1:])
    out["hum_db"] = 20.0 * math.log10(size * math.sqrt(0.5) / reference)
    # the reference is read from the lateral tone, with its mean gain and crosstalk
    shift = 20.0 * math.log10(_reference_gain(flaws))
    return {key: level - shift for key, level in out.items()}


def _reference_gain(flaws: Flaws) -> float:
    left, right = _columns(flaws, 1.0, 1.0)
    return math.sqrt((abs(flaws.left_gain * left) ** 2 + abs(right) ** 2) / 2.0)


def _strays(flaws: Flaws, side: str, hz: float) -> float:
    frequencies = np.array([hz, 1000.0])
    wrong = equaliser_curve(
        frequencies,
        bass=1.0 + flaws.bass_error_percent / 100.0,
        treble=1.0 + flaws.treble_error_percent / 100.0,
    )
    own = [
        abs(_columns(flaws, 1.0, 0.0, f)[0] if side == "left" else _columns(flaws, 0.0, 1.0, f)[1])
        for f in frequencies
    ]
    level = 20.0 * np.log10(np.abs(wrong / equaliser_curve(frequencies)) * own)
    return float(level[0] - level[1])


TAKEN_AS_RIGHT = (
    "second_harmonic_percent", "third_harmonic_percent", "thd_percent", "not_from_tracking_percent",
    "tracking_error_deg", "difference_tone_percent", "intermodulation_percent",
)  # fmt: skip
"""What is undone by the equaliser of the standard, and is off where the player's own is."""


Trial = Callable[[int], tuple[dict[str, float], dict[str, Reading]]]
"""From a seed to the truth and what was measured."""


@dataclass(frozen=True)
class Score:
    """How one measure did over all trials."""

    key: str
    found: int
    covered: float
    rms_error: float
    mean_sd: float
    mean_z: float
    rms_z: float


@dataclass(frozen=True)
class Row:
    """One measure of one trial."""

    seed: int
    key: str
    truth: float
    value: float
    sd: float


def rows_of(seed: int, made: Trial) -> list[Row]:
    """Return what one trial gives, less what the player's own equaliser spoils."""
    truth, measured = made(seed)
    spoilt = TAKEN_AS_RIGHT if seed % 8 == 5 else ()
    return [
        Row(seed, key, value, measured[key].value, measured[key].sd)
        for key, value in truth.items()
        if key in measured and key not in spoilt
    ]


def kept_in(path: Path | None) -> list[Row]:
    """Return the trials that a file holds."""
    if path is None or not path.exists():
        return []
    with path.open(newline="") as file:
        return [
            Row(int(seed), key, float(truth), float(value), float(sd))
            for seed, key, truth, value, sd in csv.reader(file)
        ]


def run(seeds: range, path: Path | None, made_by: Trial) -> list[Row]:
    """Make the trials that the file does not hold, add them to it, and return those of these seeds."""
    rows = kept_in(path)
    made = {row.seed for row in rows}
    for seed in seeds:
        if seed in made:
            continue
        new = rows_of(seed, made_by)
        rows += new
        if path is not None:
            with path.open("a", newline="") as file:
                csv.writer(file).writerows((r.seed, r.key, r.truth, r.value, r.sd) for r in new)
        print(f"trial {seed - seeds.start + 1} of {len(seeds)}", file=sys.stderr, flush=True)
    return [row for row in rows if row.seed in seeds]


def scores(rows: list[Row]) -> list[Score]:
    """Return one score for each measure that has a truth."""
    kept: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for row in rows:
        error = row.value - row.truth
        if row.key.startswith("crosstalk") and row.key.endswith("_deg"):
            error = (error + 180.0) % 360.0 - 180.0
        kept[row.key].append((error, row.sd))
    out = []
    for key, pairs in kept.items():
        error, sd = np.array(pairs).T
        z = error / np.maximum(sd, 1e-12)
        out.append(
            Score(
                key, len(pairs), float(np.mean(np.abs(z) < 1.959964)), math.sqrt(float(np.mean(error**2))),
                float(sd.mean()), float(z.mean()), math.sqrt(float(np.mean(z**2))),
            )
        )  # fmt: skip
    return out


def main() -> None:
    """Print coverage, and the error against the stated uncertainty."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--trials", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--csv", type=Path, help="file that trials are added to")
    parser.add_argument("--rare", action="store_true", help="only sweeps over the whole range, and clicks")
    wanted = parser.parse_args()
    seeds = range(wanted.first, wanted.first + wanted.trials)
    rows = run(seeds, wanted.csv, rare_trial if wanted.rare else trial)
    print(
        f"| measure ({len({row.seed for row in rows})} trials) | found | covered | mean z | rms z | mean sd |"
    )
    print("| --- | --- | --- | --- | --- | --- |")
    for one in scores(rows):
        # what chance alone leaves of 95 %, two sigma to either side
        chance = 200.0 * math.sqrt(0.95 * 0.05 / one.found)
        off = "" if abs(100.0 * one.covered - 95.0) <= 2.0 + chance else " (!)"
        print(
            f"| `{one.key}` | {one.found} | {100.0 * one.covered:.1f} %{off} | {one.mean_z:+.2f} | "
            f"{one.rms_z:.2f} | {one.mean_sd:.5f} |"
        )


if __name__ == "__main__":
    main()
