"""Whether every accuracy that is asked of listening holds, over natural variants of a recording.

Run: .venv/bin/python benchmarks/listen_accuracy.py [variant ...]
Prints the worst error of each variant over its limit; more than 1 is a miss. Truth is the forward model's.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator

from flutter_table import WEIGHTING_DB, WEIGHTING_HZ
from groovewright.audio import Band, BandList, Channel, Kind, Law, Listening, Replay, assess, hear_recording
from groovewright.quantities import Reading
from groovewright.simulate.recording import Flaws, record, write_recording

LEFT, RIGHT, LATERAL, VERTICAL = Channel.LEFT, Channel.RIGHT, Channel.LATERAL, Channel.VERTICAL
FLAWS = Flaws(
    azimuth_deg=1.7, yaw_deg=2.2, left_gain=1.07, speed_error_percent=0.21, eccentricity_mm=0.15,
    eccentricity_phase_deg=77.0, flutter=((4.3, 0.05), (9.1, 0.02)), lateral_resonance=(9.3, 4.2),
    vertical_resonance=(11.1, 3.1), groove_noise_cm_per_s=0.01, noise=1e-5, full_scale_cm_per_s=60.0,
)  # fmt: skip


PILOT_RADIUS_MM = 115.0


@dataclass(frozen=True)
class Variant:
    """One way to make the recording."""

    name: str
    flaws: Flaws = FLAWS
    rate_hz: int = 48_000
    encoding: str = "PCM_24"
    ending: str = "wav"
    replay: Replay = Replay.EQUALISED
    speed_rpm: float = 100.0 / 3.0
    tone_hz: float = 1000.0
    pilot_hz: float = 3150.0
    level_cm_per_s: float = 5.0
    gap_s: float = 1.0
    seconds: float = 8.0
    backwards: bool = False
    listed: bool = True


VARIANTS = (
    Variant("plain"),
    Variant("44.1 kHz 16 bit FLAC", rate_hz=44_100, encoding="PCM_16", ending="flac"),
    Variant("192 kHz float", rate_hz=192_000, encoding="FLOAT", seconds=5.0),
    Variant("flat, 45 rpm, 400 Hz", replay=Replay.NONE, speed_rpm=45.0, tone_hz=400.0, pilot_hz=3000.0),
    Variant("78 rpm, loud, 96 kHz AIFF", rate_hz=96_000, ending="aiff", speed_rpm=78.26, level_cm_per_s=10.0),
    Variant("1976 equaliser, quiet, 315 Hz", replay=Replay.EQUALISED_1976, tone_hz=315.0, level_cm_per_s=2.0),
    Variant("leads swapped, coil reversed", flaws=replace(FLAWS, leads_swapped=True, right_reversed=True)),
    Variant("short bands, no gaps, other order", seconds=4.0, gap_s=0.0, backwards=True),
    Variant("no list", listed=False),
    Variant("no list, flat, 300 Hz", listed=False, replay=Replay.NONE, tone_hz=300.0, pilot_hz=3000.0),
)


def bands_of(variant: Variant) -> BandList:
    """Return the band list of a variant."""
    wanted: list[tuple[Kind, Channel, float, float, float]] = [
        (Kind.TONE, LEFT, variant.tone_hz, variant.seconds, 140.0),
        (Kind.TONE, RIGHT, variant.tone_hz, variant.seconds, 137.0),
        (Kind.TONE, LATERAL, variant.tone_hz, variant.seconds, 95.0),
        (Kind.TONE, LATERAL, variant.pilot_hz, 20.0, PILOT_RADIUS_MM),
        (Kind.SWEEP, LATERAL, 0.0, 15.0, 100.0),
        (Kind.SWEEP, VERTICAL, 0.0, 15.0, 100.0),
        (Kind.SILENCE, Channel.UNKNOWN, 0.0, 10.0, 100.0),
    ]
    if variant.backwards:
        wanted.reverse()
    bands = []
    start = 1.0
    for kind, channel, hz, seconds, radius in wanted:
        tonal, sweeping = kind is Kind.TONE, kind is Kind.SWEEP
        bands.append(
            Band(
                f"{channel.value} {kind.value} {hz:g}",
                kind,
                start,
                start + seconds,
                channel,
                frequency_hz=hz if tonal else None,
                sweep_start_hz=25.0 if sweeping else None,
                sweep_end_hz=4.0 if sweeping else None,
                level_cm_per_s=None if kind is Kind.SILENCE else variant.level_cm_per_s if tonal else 1.5,
                groove_radius_mm=radius,
                law=Law.CONSTANT_VELOCITY if sweeping else Law.EQUALISED,
            )
        )
        start += seconds + variant.gap_s
    return BandList(tuple(bands), speed_rpm=variant.speed_rpm, replay=variant.replay)


def limits_of(variant: Variant, second_percent: float) -> dict[str, tuple[float, float]]:
    """Return truth and allowed error of each measure."""
    flaws = variant.flaws
    assert flaws.lateral_resonance is not None
    assert flaws.vertical_resonance is not None
    crosstalk = 20.0 * np.log10(np.tan(np.radians(abs(flaws.azimuth_deg))))
    limits = {"speed_error_percent": (flaws.speed_error_percent, 0.002)}
    for motion, (hz, q) in (("lateral", flaws.lateral_resonance), ("vertical", flaws.vertical_resonance)):
        limits |= {f"resonance_{motion}_hz": (hz, 0.02 * hz), f"resonance_{motion}_q": (q, 0.1 * q)}
    limits |= {
        "azimuth_deg": (flaws.azimuth_deg, 0.1),
        "balance_db": (float(20.0 * np.log10(flaws.left_gain)), 0.02),
        "crosstalk_l_to_r_db": (float(crosstalk), 0.3),
        "crosstalk_r_to_l_db": (float(crosstalk), 0.3),
    }
    two_sigma = two_sigma_percent(variant)
    limits["flutter_weighted_two_sigma_percent"] = (two_sigma, 0.02 * two_sigma)
    if variant.listed:
        limits |= {
            "eccentricity_mm": (flaws.eccentricity_mm, max(0.01, 0.03 * flaws.eccentricity_mm)),
            "tracking_error_deg": (flaws.yaw_deg, 0.15),
            "second_harmonic_percent": (second_percent, 0.03 * second_percent),
        }
    return limits


def second_harmonic_percent(variant: Variant, radius_mm: float) -> float:
    """Return what the tracking error makes at a radius, to first order (Baerwald 1941)."""
    groove_cm_per_s = 2.0 * np.pi * variant.speed_rpm / 60.0 * radius_mm / 10.0
    return float(100.0 * variant.level_cm_per_s / groove_cm_per_s * np.tan(np.radians(variant.flaws.yaw_deg)))


def read_at_mm(listening: Listening, key: str) -> float:
    """Return the groove radius of the band that a measure came from."""
    bands = listening.measures[key].bands if key in listening.measures else ()
    return next((b.groove_radius_mm or 0.0 for b in listening.heard.bands.bands if b.name in bands), 95.0)


def two_sigma_percent(variant: Variant) -> float:
    """Return the weighted two-sigma flutter of the pilot band, from the table of IEC 60386 alone: what is not exceeded
    for 95 % of an hour, phases of incommensurable lines falling as they will.
    """
    table = PchipInterpolator(np.log(WEIGHTING_HZ), WEIGHTING_DB)
    turns_per_s = variant.speed_rpm / 60.0 * (1.0 + variant.flaws.speed_error_percent / 100.0)
    lines = [(turns_per_s, 100.0 * variant.flaws.eccentricity_mm / PILOT_RADIUS_MM), *variant.flaws.flutter]
    times = np.arange(0.0, 3600.0, 0.005)
    total = np.zeros(times.size)
    for hz, size in lines:
        total += size * 10.0 ** (float(table(np.log(hz))) / 20.0) * np.cos(2.0 * np.pi * hz * times)
    return float(np.quantile(np.abs(total), 0.95))


def heard(variant: Variant) -> Listening:
    """Record a variant and listen to it."""
    bands = bands_of(variant)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"made.{variant.ending}"
        sound = record(bands, variant.flaws, rate_hz=variant.rate_hz, seed=5)
        write_recording(path, sound, rate_hz=variant.rate_hz, encoding=variant.encoding)
        return assess(hear_recording(path, bands if variant.listed else None, assumed_replay=variant.replay))


def main() -> None:
    """Print one line for each variant."""
    for variant in VARIANTS:
        if sys.argv[1:] and not any(word in variant.name for word in sys.argv[1:]):
            continue
        listening = heard(variant)
        flaws = variant.flaws
        shares = {}
        second = second_harmonic_percent(variant, read_at_mm(listening, "second_harmonic_percent") or 95.0)
        for key, (truth, limit) in limits_of(variant, second).items():
            value = listening.measures[key].value if key in listening.measures else None
            shares[key] = abs(value.value - truth) / limit if isinstance(value, Reading) else np.inf
        worst = max(shares, key=lambda key: shares[key])
        missed = ", ".join(f"{key} {share:.2f}" for key, share in shares.items() if share > 1.0) or "none"
        told = str(listening.measures["leads"].value), str(listening.measures["polarity"].value)
        should = (
            "swapped" if flaws.leads_swapped else "correct",
            "one reversed" if flaws.left_reversed != flaws.right_reversed else "correct",
        )
        wrong = [a for a, b in zip(told, should, strict=True) if a not in (b, "can't tell")]
        print(
            f"| {variant.name} | {worst} {shares[worst]:.2f} | missed: {missed} | wires wrong: {wrong or 'none'} |"
        )


if __name__ == "__main__":
    main()
