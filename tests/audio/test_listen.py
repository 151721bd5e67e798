"""A whole side with known truth, heard and assessed; accuracy as docs/listen.md and the trade ask for."""

import math

import numpy as np
import pytest
from tests.audio.conftest import RATE_HZ, tone

from groovewright.audio import (
    NUMBER_KEYS,
    WORD_KEYS,
    Band,
    BandList,
    Channel,
    Kind,
    Replay,
    assess,
    hear_recording,
    next_move,
    verdicts,
)
from groovewright.quantities import Reading
from groovewright.simulate.recording import Flaws, record, write_recording

TRUTH = {
    "balance_db": (20 * math.log10(1.08), 0.02),
    "crosstalk_l_to_r_db": (20 * math.log10(math.tan(math.radians(1.4))), 0.3),
    "crosstalk_r_to_l_db": (20 * math.log10(math.tan(math.radians(1.4))), 0.3),
    "azimuth_deg": (-1.4, 0.1),
    "speed_error_percent": (-0.15, 0.002),
    "eccentricity_mm": (0.18, 0.01),
    "tracking_error_deg": (2.0, 0.15),
    "resonance_lateral_hz": (9.4, 0.02 * 9.4),
    "resonance_lateral_q": (4.5, 0.1 * 4.5),
    "resonance_vertical_hz": (11.3, 0.02 * 11.3),
    "resonance_vertical_q": (3.2, 0.1 * 3.2),
    "hum_frequency_hz": (50.0, 0.05),
}


@pytest.mark.parametrize(("key", "entry"), TRUTH.items())
def test_each_measure_is_as_near_to_the_truth_as_it_must_be(side, key, entry):
    truth, tolerance = entry
    assert side[1].measures[key].value.value == pytest.approx(truth, abs=tolerance)


def test_the_second_harmonic_is_that_of_the_groove_formula(side):
    """V/v tan(e): 5 cm/s at 90 mm, 33 1/3 rpm, 2 degrees (Baerwald 1941)."""
    truth = 100 * 5.0 / (2 * math.pi * (100 / 3) / 60 * 9.0) * math.tan(math.radians(2.0))
    assert side[1].measures["second_harmonic_percent"].value.value == pytest.approx(truth, rel=0.03)


def test_weighted_flutter_is_that_of_its_parts(side):
    """0.08 % at 4 Hz (0 dB), 0.15 % once a turn (0.5547 Hz, -10.1 dB by the table), and 0.02 % of noise:
    two-sigma
    by adding them up sample by sample over many turns."""
    rng = np.random.default_rng(0)
    n = 2_000_000
    swing = 100 * 0.18 / 120 * 10 ** (-10.1 / 20)
    noise = 0.02 * np.sqrt(0.21)
    total = (
        0.08 * np.cos(2 * np.pi * rng.uniform(size=n))
        + swing * np.cos(2 * np.pi * rng.uniform(size=n))
        + noise * rng.standard_normal(n)
    )
    truth = np.quantile(np.abs(total), 0.95)
    found = side[1].measures["flutter_weighted_two_sigma_percent"].value
    assert found.value == pytest.approx(truth, rel=0.04)


def test_every_number_has_an_uncertainty_and_nothing_is_both_measured_and_withheld(side):
    listening = side[1]
    for key in NUMBER_KEYS:
        assert (key in listening.measures) != (key in listening.withheld)
        if key in listening.measures:
            assert isinstance(listening.measures[key].value, Reading)
            assert listening.measures[key].bands
    for key in WORD_KEYS:
        assert isinstance(listening.measures[key].value, str)


def test_leads_polarity_and_the_next_move(side):
    listening = side[1]
    assert (listening.identity.leads, listening.identity.polarity) == ("correct", "correct")
    found = verdicts(listening)
    assert "clockwise" in next_move(found)
    assert "leans 1.40" in next(v.text for v in found if v.key == "azimuth_deg")


def test_the_response_is_flat_and_the_sweeps_crosstalk_is_the_tones(side):
    response = next(iter(side[1].responses.values()))
    middle = (response.frequency_hz > 100) & (response.frequency_hz < 15_000)
    assert np.abs(response.left_db[middle]).max() < 0.15
    assert response.right_db is None
    near = np.abs(np.log(response.frequency_hz / 1000)) < 0.5
    # gain of the left column is in the plain quotient
    expected = 20 * math.log10(math.tan(math.radians(1.4)) / 1.08)
    assert np.abs(response.crosstalk_db[near] - expected).max() < 0.3


def test_bands_are_found_without_a_list_and_leads_are_not_guessed(side):
    path, listening = side
    heard = hear_recording(path, None)
    found = [(band.kind, band.channel) for band in heard.bands.bands]
    tones = [band for band in heard.bands.bands if band.kind is Kind.TONE]
    assert [band.frequency_hz for band in tones] == [1000.0, 1000.0, 1000.0, 1000.0, 3150.0]
    assert [band.channel for band in tones][:4] == [
        Channel.LEFT,
        Channel.RIGHT,
        Channel.LATERAL,
        Channel.VERTICAL,
    ]
    for band, true in zip(tones, listening.heard.bands.bands[:5], strict=True):
        assert abs(band.start_s - true.start_s) < 0.5
        assert abs(band.end_s - true.end_s) < 0.5
    assert (Kind.SWEEP, Channel.LEFT) in found
    assert Kind.SILENCE in [kind for kind, _ in found]
    from groovewright.audio import assess

    guessed = assess(heard)
    assert guessed.measures["leads"].value == "can't tell"
    assert guessed.measures["speed_error_percent"].value.value == pytest.approx(-0.15, abs=0.002)


@pytest.mark.parametrize(
    ("low", "high", "ratio"), [(60.0, 4000.0, 0.25), (400.0, 4000.0, 0.25), (7000.0, 7400.0, 1.0)]
)
@pytest.mark.parametrize("replay", [Replay.EQUALISED, Replay.NONE])
def test_two_tones_are_found_without_a_list(tmp_path, low, high, ratio, replay):
    band = Band(
        "two", Kind.TWO_TONES, 7.0, 13.0, Channel.LATERAL, frequency_hz=low, second_frequency_hz=high,
        level_cm_per_s=5.0, second_level_cm_per_s=5.0 * ratio, groove_radius_mm=100.0,
    )  # fmt: skip
    bands = BandList((tone(1.0, 6.0, Channel.LATERAL), band), replay=replay)
    flaws = Flaws(
        yaw_deg=1.5, groove_noise_cm_per_s=0.02, full_scale_cm_per_s=100.0, hum=((50.0, 3e-5, 3e-5),)
    )
    path = tmp_path / "two.wav"
    write_recording(path, record(bands, flaws, rate_hz=RATE_HZ), rate_hz=RATE_HZ)
    heard = hear_recording(path, None, assumed_replay=replay)
    kinds = [entry.kind for entry in heard.bands.bands if entry.kind is not Kind.SILENCE]
    assert kinds == [Kind.TONE, Kind.TWO_TONES]
    found = next(entry for entry in heard.bands.bands if entry.kind is Kind.TWO_TONES)
    assert found.frequency_hz == pytest.approx(low, rel=0.025)
    assert found.second_frequency_hz == pytest.approx(high, rel=0.025)
    assert "intermodulation_percent" in assess(heard).measures
