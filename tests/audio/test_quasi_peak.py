import numpy as np
import pytest

from groovewright.audio import Band, Kind
from groovewright.audio.gather import BandGatherer
from groovewright.audio.quasi_peak import shown
from groovewright.audio.spectra import plan_for

RATE_HZ = 48_000
# ITU-R BS.468-4, bursts of 5 kHz against the steady tone, percent: lower limit, upper limit (from memory)
SINGLE = [(1, 13.5, 21.4), (2, 22.4, 31.6), (5, 34, 46), (10, 41, 55), (20, 44, 60), (50, 50, 68), (100, 58, 78),
          (200, 68, 92)]  # fmt: skip
# bursts of 5 ms, so many a second
REPEATED = [(2, 43, 53), (10, 72, 82), (100, 94, 100)]


def tone(seconds):
    times = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return times, np.abs(np.sin(2 * np.pi * 5000.0 * times))


def steady():
    return shown(tone(2.0)[1], RATE_HZ)[-1]


def test_a_steady_sine_reads_its_rms():
    assert steady() == pytest.approx(np.sqrt(0.5), rel=0.005)


@pytest.mark.parametrize(("ms", "low", "high"), SINGLE)
def test_single_bursts_read_as_the_recommendation_wants(ms, low, high):
    times, wave = tone(0.3 + ms / 1000.0)
    assert low < 100.0 * shown(wave * (times < ms / 1000.0), RATE_HZ).max() / steady() < high


@pytest.mark.parametrize(("each_s", "low", "high"), REPEATED)
def test_repeated_bursts_read_as_the_recommendation_wants(each_s, low, high):
    times, wave = tone(4.0)
    needle = shown(wave * (times % (1.0 / each_s) < 0.005), RATE_HZ)
    assert low < 100.0 * needle[needle.size // 2 :].max() / steady() < high


def test_a_silent_groove_with_a_6_3_khz_tone_reads_12_2_db_more_and_clicks_stay_out():
    """The weighting is +12.2 dB at 6.3 kHz (ITU-R BS.468-4, table 1)."""
    band = Band("quiet", Kind.SILENCE, 0.0, 8.0)
    gatherer = BandGatherer(band, plan_for(RATE_HZ))
    times = np.arange(8 * RATE_HZ) / RATE_HZ
    sound = 1e-3 * np.sin(2 * np.pi * 6300.0 * times)
    sound[5 * RATE_HZ : 5 * RATE_HZ + 4] += np.array([0.1, -0.2, 0.2, -0.1])
    gatherer.feed(np.stack([sound, 0.5 * sound], axis=1).astype(np.float32), 0)
    left, right = gatherer.finish().quasi_peak
    assert 20 * np.log10(left.value / (1e-3 * np.sqrt(0.5))) == pytest.approx(12.2, abs=0.4)
    assert right.value == pytest.approx(0.5 * left.value, rel=1e-3)
