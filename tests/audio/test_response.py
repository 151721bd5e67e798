import numpy as np
import pytest

from groovewright.audio import Band, Channel, Kind, Law, Replay
from groovewright.audio.equaliser import replay_gain
from groovewright.audio.gather import BandGatherer
from groovewright.audio.response import response_of
from groovewright.audio.spectra import plan_for
from groovewright.quantities import Reading

RATE_HZ = 48_000


def heard(sound, band):
    gatherer = BandGatherer(band, plan_for(RATE_HZ))
    for place in range(0, len(sound), 90_000):
        gatherer.feed(sound[place : place + 90_000].astype(np.float32), place)
    return gatherer.finish()


def shaped(signal, gain):
    spectrum = np.fft.rfft(signal)
    return np.fft.irfft(
        spectrum * gain(np.maximum(np.fft.rfftfreq(signal.size, 1 / RATE_HZ), 1.0)), n=signal.size
    )


def coil(hz):
    """Moving magnet 0.5 H, 800 ohm, into 47 k and 200 pF: a textbook low-pass of second order."""
    s = 2j * np.pi * hz
    return 1 / (1 + (800 + s * 0.5) * (1 / 47e3 + s * 200e-12))


# dB re 1 kHz, computed from that circuit: 10 k +0.851, 12 k +0.767, 15 k -0.089.
LOAD = {10_000: 0.851, 12_000: 0.767, 15_000: -0.089}


def sweep(seconds=20.0):
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    rate = np.log(1000.0) / seconds
    return 0.2 * np.sin(2 * np.pi * 20.0 * np.expm1(rate * t) / rate)


def band(kind, channel=Channel.LATERAL, law=Law.EQUALISED):
    return Band("b", kind, 0.0, 20.0, channel, sweep_start_hz=20.0, sweep_end_hz=20_000.0, law=law)


@pytest.mark.parametrize("kind", [Kind.SWEEP, Kind.NOISE])
def test_a_coil_on_its_load_shows_its_computed_response(kind):
    source = sweep() if kind is Kind.SWEEP else 0.1 * np.random.default_rng(0).standard_normal(20 * RATE_HZ)
    sound = np.stack([shaped(source, coil), source], axis=1)
    found = response_of(heard(sound, band(kind)), Replay.EQUALISED)
    noisy = 4.0 if kind is Kind.NOISE else 0.0
    for hz, level_db in LOAD.items():
        at, sd = (
            np.interp(np.log(hz), np.log(found.frequency_hz), c) for c in (found.left_db, found.left_sd_db)
        )
        assert at == pytest.approx(level_db, abs=0.12 + noisy * sd)
    flat = (found.frequency_hz > 60) & (found.frequency_hz < 16_000)
    assert (np.abs(found.right_db[flat]) < 0.12 + noisy * found.right_sd_db[flat]).all()
    hz = np.geomspace(20, 20_000, 400)
    left = found.against(hz, 20 * np.log10(np.abs(coil(hz))))
    assert (np.abs(left.left_db[flat]) < 0.15 + noisy * found.left_sd_db[flat]).all()


def test_intervals_of_a_noise_response_hold_the_truth():
    source = 0.1 * np.random.default_rng(3).standard_normal((20 * RATE_HZ, 2))
    found = response_of(heard(source, band(Kind.NOISE)), Replay.EQUALISED)
    z = np.concatenate([found.left_db / found.left_sd_db, found.right_db / found.right_sd_db])
    assert 0.85 <= np.mean(np.abs(z) < 1.96) <= 1.0
    assert 0.6 < z.std() < 1.3


def test_a_constant_velocity_cut_is_judged_against_the_replay_curve():
    source = shaped(sweep(), replay_gain)
    sound = np.stack([source, source], axis=1)
    found = response_of(heard(sound, band(Kind.SWEEP, law=Law.CONSTANT_VELOCITY)), Replay.EQUALISED)
    flat = (found.frequency_hz > 60) & (found.frequency_hz < 16_000)
    assert np.abs(found.left_db[flat]).max() < 0.15


def test_crosstalk_over_frequency_has_size_and_phase_and_follows_exchanged_leads():
    """A capacitance between the channels: rising 6 dB an octave, a quarter turn ahead."""
    source = sweep()
    leak = shaped(source, lambda hz: 1j * hz / 100_000.0)
    sound = np.stack([source, leak], axis=1)
    for columns, swapped in ((sound, False), (sound[:, ::-1], True)):
        found = response_of(heard(columns, band(Kind.SWEEP, Channel.LEFT)), Replay.EQUALISED, swapped=swapped)
        assert found.right_db is None
        inside = (found.frequency_hz > 300) & (found.frequency_hz < 15_000)
        expected = 20 * np.log10(found.frequency_hz / 100_000.0)
        assert np.abs(found.crosstalk_db - expected)[inside].max() < 0.2
        assert np.abs(found.crosstalk_deg[inside] - 90.0).max() < 2.0


def test_the_response_of_a_fast_and_off_centre_record_is_flat_within_its_intervals():
    """A sweep cut for the equaliser, 0.5 % fast and 0.3 % of swing: a groove that passes faster gives more."""
    t = np.arange(20 * RATE_HZ) / RATE_HZ
    turn = 2 * np.pi * 0.5556
    pace = 1.005 * (1 + 0.003 * np.cos(turn * t))
    groove_s = 1.005 * (t + 0.003 / turn * np.sin(turn * t))
    rate = np.log(1000.0) / 20.0
    cut_hz = 20.0 * np.exp(rate * groove_s)
    loud = pace * np.abs(replay_gain(cut_hz * pace)) / np.abs(replay_gain(cut_hz))
    sound = 0.2 * loud * np.sin(2 * np.pi * 20.0 * np.expm1(rate * groove_s) / rate)
    found = response_of(
        heard(np.stack([sound, sound], axis=1), band(Kind.SWEEP)),
        Replay.EQUALISED,
        pace=Reading(1.005, 0.003 * np.sqrt(0.5)),
    )
    inside = (found.frequency_hz > 60) & (found.frequency_hz < 16_000)
    assert np.abs(found.left_db[inside]).max() < 0.03
    assert np.mean(np.abs(found.left_db[inside]) < 1.96 * found.left_sd_db[inside]) > 0.93
    assert found.left_sd_db[inside].max() < 0.03
