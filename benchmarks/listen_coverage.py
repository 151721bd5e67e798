"""How often the stated 95 % intervals hold the truth, over many recordings with known truth.

Run: .venv/bin/python benchmarks/listen_coverage.py [trials]
Each trial records, writes, reads and measures 110 s at 48 kHz with its own random flaws.
"""

from __future__ import annotations

import math
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import numpy as np

from groovewright.audio import Band, BandList, Channel, Kind, Law, assess, hear_recording
from groovewright.quantities import Reading
from groovewright.simulate.recording import Flaws, record, write_recording

RATE_HZ = 48_000
LEFT, RIGHT, LATERAL, VERTICAL = Channel.LEFT, Channel.RIGHT, Channel.LATERAL, Channel.VERTICAL


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


BANDS = BandList(
    (
        tone(0.5, 8.5, LEFT, 1000.0, 140.0),
        tone(9.0, 17.0, RIGHT, 1000.0, 138.0),
        tone(17.5, 25.5, LATERAL, 1000.0, 90.0),
        tone(26.0, 46.0, LATERAL, 3150.0, 100.0),
        sweep(46.5, 61.5, LATERAL),
        sweep(62.0, 77.0, VERTICAL),
        Band("silence", Kind.SILENCE, 77.5, 107.5),
    )
)


def trial(seed: int) -> tuple[dict[str, float], dict[str, Reading]]:
    """Return the truth and what was measured."""
    random = np.random.default_rng(seed)
    flaws = Flaws(
        azimuth_deg=float(random.uniform(-3, 3)),
        yaw_deg=float(random.uniform(0.3, 3)),
        left_gain=float(10 ** (random.uniform(-1, 1) / 20)),
        speed_error_percent=float(random.uniform(-0.5, 0.5)),
        eccentricity_mm=float(random.uniform(0.03, 0.4)),
        eccentricity_phase_deg=float(random.uniform(0, 360)),
        random_flutter_percent=float(random.uniform(0.01, 0.06)),
        flutter=((float(random.uniform(2, 9)), float(random.uniform(0.0, 0.05))),),
        lateral_resonance=(float(random.uniform(7, 13)), float(random.uniform(2, 6))),
        vertical_resonance=(float(random.uniform(7, 13)), float(random.uniform(2, 6))),
        groove_noise_cm_per_s=0.02,
        noise=1e-5,
        hum=((50.0, 3e-5, 2e-5),),
        full_scale_cm_per_s=100.0,
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trial.wav"
        write_recording(path, record(BANDS, flaws, rate_hz=RATE_HZ, seed=seed), rate_hz=RATE_HZ)
        listening = assess(hear_recording(path, BANDS))
    measured = {key: m.value for key, m in listening.measures.items() if isinstance(m.value, Reading)}
    for name, one in listening.resonances.items():
        if name.endswith("silence"):
            measured[f"noise {name.split(':')[0]} hz"], measured[f"noise {name.split(':')[0]} q"] = (
                one.frequency_hz,
                one.q,
            )
    assert flaws.lateral_resonance is not None
    assert flaws.vertical_resonance is not None
    truth = {
        "azimuth_deg": flaws.azimuth_deg,
        "balance_db": 20.0 * math.log10(flaws.left_gain),
        "speed_error_percent": flaws.speed_error_percent,
        "eccentricity_mm": flaws.eccentricity_mm,
        "tracking_error_deg": flaws.yaw_deg,
        "resonance_lateral_hz": flaws.lateral_resonance[0],
        "resonance_lateral_q": flaws.lateral_resonance[1],
        "resonance_vertical_hz": flaws.vertical_resonance[0],
        "resonance_vertical_q": flaws.vertical_resonance[1],
        "noise lateral hz": flaws.lateral_resonance[0],
        "noise lateral q": flaws.lateral_resonance[1],
        "noise vertical hz": flaws.vertical_resonance[0],
        "noise vertical q": flaws.vertical_resonance[1],
        "hum_frequency_hz": 50.0,
    }
    return truth, measured


def main() -> None:
    """Print coverage, and the error against the stated uncertainty."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    scores: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for seed in range(trials):
        truth, measured = trial(seed)
        for key, value in truth.items():
            if key in measured:
                scores[key].append((measured[key].value - value, measured[key].sd))
    print(
        f"{trials} trials\n{'measure':24} {'found':>6} {'covered':>8} "
        f"{'rms error':>10} {'mean sd':>10} {'rms z':>7}"
    )
    for key, pairs in scores.items():
        error, sd = np.array(pairs).T
        z = error / np.maximum(sd, 1e-12)
        covered = float(np.mean(np.abs(z) < 1.959964))
        print(
            f"{key:24} {len(pairs):6d} {covered:8.3f} {math.sqrt(float(np.mean(error**2))):10.5f} "
            f"{float(sd.mean()):10.5f} {math.sqrt(float(np.mean(z**2))):7.2f}"
        )


if __name__ == "__main__":
    main()
