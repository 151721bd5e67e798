"""Replay equalisation and A-weighting against published tables."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.electrics.equaliser import (
    COARSE_GROOVE,
    MICROGROOVE,
    ReplayCurve,
    a_weighting_db,
    replay_db,
    with_amendment,
)


@pytest.mark.parametrize(
    ("frequency_hz", "level_db"),
    [
        (20, 19.274), (50, 16.946), (100, 13.088), (500, 2.648),
        (2122, -2.866), (5000, -8.210), (10000, -13.734), (20000, -19.620),
    ],
)  # fmt: skip
def test_replay_curve_is_that_of_iec_60098(frequency_hz: float, level_db: float) -> None:
    # IEC 60098: 3180, 318 and 75 us; the values as the trade tabulates them, to 0.001 dB
    assert replay_db(frequency_hz) == pytest.approx(level_db, abs=0.0006)


def test_amendment_takes_3_db_more_at_its_corner_of_20_hz() -> None:
    # first-order cut of 7950 us: -3.01 dB at 1 / (2 pi 7950 us) = 20.02 Hz (1976 amendment of IEC 60098)
    corner_hz = 1.0 / (2.0 * np.pi * 7950e-6)
    assert corner_hz == pytest.approx(20.02, abs=0.01)
    extra = replay_db(corner_hz, with_amendment(MICROGROOVE)) - replay_db(corner_hz)
    assert extra == pytest.approx(-3.01, abs=0.005)


@pytest.mark.parametrize("curve", [MICROGROOVE, with_amendment(MICROGROOVE), COARSE_GROOVE])
def test_every_curve_is_zero_at_1_khz(curve: ReplayCurve) -> None:
    assert replay_db(1000.0, curve) == pytest.approx(0.0, abs=1e-12)


def test_the_curve_is_the_magnitude_of_its_complex_transfer() -> None:
    # the same time constants through scipy.signal's frequency response of a transfer function
    from scipy import signal

    hz = np.geomspace(10, 50000, 50)
    t1, t2, t3, t4 = 3180e-6, 318e-6, 75e-6, 7950e-6
    numerator = np.polymul([t2, 1.0], [t4, 0.0])
    denominator = np.polymul(np.polymul([t1, 1.0], [t3, 1.0]), [t4, 1.0])
    _, h = signal.freqs(numerator, denominator, 2.0 * np.pi * np.append(hz, 1000.0))
    expected = 20.0 * np.log10(np.abs(h[:-1] / h[-1]))
    assert np.abs(replay_db(hz, with_amendment(MICROGROOVE)) - expected).max() < 1e-9


@pytest.mark.parametrize(
    ("nominal_hz", "level_db"),
    [
        (31.5, -39.4), (63, -26.2), (125, -16.1), (250, -8.6), (500, -3.2),
        (1000, 0.0), (2000, 1.2), (4000, 1.0), (8000, -1.1), (16000, -6.6),
    ],
)  # fmt: skip
def test_a_weighting_is_that_of_iec_61672(nominal_hz: float, level_db: float) -> None:
    # IEC 61672-1, table of the current edition (16 kHz from memory); its rows belong to the exact frequencies
    # 1000 * 10^(n/10), of which 31.5 and so on are the nominal names; tabulated to 0.1 dB
    exact_hz = 1000.0 * 10.0 ** (round(10.0 * np.log10(nominal_hz / 1000.0)) / 10.0)
    assert a_weighting_db(exact_hz) == pytest.approx(level_db, abs=0.0501)


def test_a_weighting_at_31_5_hz_itself_is_that_of_the_older_table() -> None:
    # older table: -39.5 at 31.5 Hz, -16.2 at 125 Hz, -8.7 at 250 Hz
    assert np.round(a_weighting_db([31.5, 125.0, 250.0]), 1).tolist() == [-39.5, -16.2, -8.7]


def test_a_curve_without_a_treble_corner_stays_flat_there() -> None:
    flat_top = ReplayCurve(3180.0, 450.0, 0.0)
    assert replay_db(20000.0, flat_top) == pytest.approx(replay_db(10000.0, flat_top), abs=0.1)


def test_a_record_with_450_us_crosses_over_higher_in_time_and_lower_in_frequency() -> None:
    # turnover 1 / (2 pi 450 us) = 353.7 Hz; there the zero contributes 3.01 dB
    turnover_hz = 1.0 / (2.0 * np.pi * 450e-6)
    bare = ReplayCurve(0.0, 450.0, 0.0)
    rise = replay_db(turnover_hz, bare) - replay_db(1e-3, bare)
    assert rise == pytest.approx(3.0103, abs=1e-4)
