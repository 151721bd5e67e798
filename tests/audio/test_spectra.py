import numpy as np
import pytest

from groovewright.audio.spectra import (
    hann,
    low_stream,
    plan_for,
    power_density,
    shape,
    spectra_of,
    stream_around,
)

PLAN = plan_for(48_000)


def columns(function, seconds=3.0):
    times = np.arange(round(seconds * PLAN.rate_hz)) / PLAN.rate_hz
    return np.stack([function(times), 0.5 * function(times)]).astype(np.float32)


def stream(signal, centre_bin, width=128):
    spectra = spectra_of(signal, PLAN)
    return stream_around(spectra, PLAN, centre_bin=centre_bin, width=width, first_frame=0)


@pytest.mark.parametrize("offset_hz", [-200.0, -31.7, 0.0, 4.0, 200.0])
def test_a_stream_is_the_tone_turned_down_with_its_amplitude_and_phase(offset_hz):
    centre = 500
    hz = centre * PLAN.bin_hz + offset_hz
    out = stream(columns(lambda t: 0.3 * np.cos(2 * np.pi * hz * t + 0.7)), centre)
    rate = PLAN.stream_rate_hz(128)
    times = PLAN.overlap / 2 / PLAN.rate_hz + np.arange(out.shape[1]) / rate
    expected = 0.3 * np.exp(1j * (2 * np.pi * offset_hz * times + 0.7))
    np.testing.assert_allclose(out[0], expected, atol=5e-6)
    np.testing.assert_allclose(out[1], 0.5 * expected, atol=5e-6)


def test_a_tone_outside_the_stream_is_100_db_down():
    out = stream(columns(lambda t: np.cos(2 * np.pi * (500 * PLAN.bin_hz + 420.0) * t)), 500)
    assert np.abs(out[0]).max() < 1.5e-5


def test_the_low_stream_is_the_signal_itself_below_its_edge():
    out = low_stream(spectra_of(columns(lambda t: 0.2 * np.sin(2 * np.pi * 11.3 * t)), PLAN), PLAN, width=512)
    times = PLAN.overlap / 2 / PLAN.rate_hz + np.arange(out.shape[1]) / PLAN.stream_rate_hz(512)
    np.testing.assert_allclose(out[0], 0.2 * np.sin(2 * np.pi * 11.3 * times), atol=2e-6)


def test_the_filter_agrees_with_the_window_design_of_scipy():
    signal = pytest.importorskip("scipy.signal")
    taps = PLAN.frame // 4 - 1
    reference = signal.firwin(taps, (64 - 13) * 2 / PLAN.frame, window=("kaiser", 10.0))
    response = np.abs(np.fft.fft(reference, PLAN.frame))
    np.testing.assert_allclose(shape(PLAN.frame, 128)[64:], response[:64], atol=1e-5)


def test_hann_in_the_frequency_domain_is_scipys_window():
    signal = pytest.importorskip("scipy.signal")
    noise = np.random.default_rng(1).standard_normal((2, PLAN.frame)).astype(np.float32)
    mixed = hann(spectra_of(noise, PLAN))[:, 0]
    windowed = np.fft.rfft(noise * signal.get_window("hann", PLAN.frame), axis=1)
    np.testing.assert_allclose(mixed[:, 1:-1], windowed[:, 1:-1], atol=2e-3)


def test_power_density_agrees_with_scipys_welch_average():
    signal = pytest.importorskip("scipy.signal")
    noise = np.random.default_rng(2).standard_normal((2, PLAN.hop * 20 + PLAN.overlap)).astype(np.float32)
    ours = power_density(hann(spectra_of(noise, PLAN)), PLAN)
    _, theirs = signal.welch(noise, PLAN.rate_hz, "hann", PLAN.frame, PLAN.overlap, detrend=False, axis=-1)
    np.testing.assert_allclose(ours[:, 2:-2], theirs[:, 2:-2], rtol=2e-3)
