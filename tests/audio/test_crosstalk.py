import math
from dataclasses import replace

import numpy as np
import pytest

from groovewright.audio import Band, Channel, Kind
from groovewright.audio.crosstalk import Phasor, lean_from_lateral_and_vertical, separation
from groovewright.audio.tone_track import ToneData


def tone(start_s, end_s, channel):
    name = f"{channel.value} at {start_s:g} s"
    return Band(name, Kind.TONE, start_s, end_s, channel, frequency_hz=1000.0, level_cm_per_s=5.0)


def heard(left, right, rng=None, noise=0.0, segments=24):
    averages = np.tile(np.array([[[left, right]]], dtype=complex), (segments, 1, 1))
    if rng is not None:
        averages = averages + noise * (
            rng.standard_normal(averages.shape) + 1j * rng.standard_normal(averages.shape)
        )
    nothing = np.zeros(0)
    return ToneData(
        1000.0, 1000.0, 750.0, 0.0, nothing.astype(np.complex64), nothing.astype(bool), ((1, 0),), averages
    )


def coils(lean_deg, left, right):
    """Return both coils' outputs for wall motions: axes at 45 and -45 degrees turned by -lean, by
    trigonometry.
    """
    x, y = (left + right) / math.sqrt(2), (left - right) / math.sqrt(2)
    angles = [math.radians(45 - lean_deg), math.radians(-45 - lean_deg)]
    return [x * math.cos(a) + y * math.sin(a) for a in angles]


def measured(lean_deg, gains=(1.0, 1.0), sign=1.0, rng=None, noise=0.0):
    bands = []
    for channel, motion in ((Channel.LEFT, (1.0, 0.0)), (Channel.RIGHT, (0.0, 1.0))):
        left, right = coils(lean_deg, *motion)
        bands.append((tone(0.0, 12.0, channel), heard(gains[0] * left, sign * gains[1] * right, rng, noise)))
    return separation(bands[0], bands[1], reversed_coil=sign < 0)


# Pure azimuth error a: crosstalk tan(a) (derived; 1 deg -35.2 dB, 2 deg -29.1 dB, 3 deg -25.6 dB).
@pytest.mark.parametrize(("lean_deg", "level_db"), [(1.0, -35.2), (2.0, -29.1), (3.0, -25.6), (-2.0, -29.1)])
def test_pure_lean_gives_its_crosstalk_and_is_read_back(lean_deg, level_db):
    found = measured(lean_deg, gains=(1.2, 0.9))
    assert found.left_to_right.level_db.value == pytest.approx(level_db, abs=0.06)
    assert found.right_to_left.level_db.value == pytest.approx(level_db, abs=0.06)
    assert found.azimuth_deg.value == pytest.approx(lean_deg, abs=1e-6)
    assert found.balance_db.value == pytest.approx(20 * math.log10(1.2 / 0.9), abs=1e-6)
    assert max(found.upright_db) < -100


def test_a_reversed_coil_does_not_turn_the_lean_round():
    assert measured(1.5, sign=-1.0).azimuth_deg.value == pytest.approx(1.5, abs=1e-6)


def test_crosstalk_with_equal_signs_is_not_lean_and_stays_when_upright():
    left = (tone(0.0, 12.0, Channel.LEFT), heard(1.0, 0.03))
    right = (tone(13.0, 25.0, Channel.RIGHT), heard(0.03, 1.0))
    found = separation(left, right)
    assert found.azimuth_deg.value == pytest.approx(0.0, abs=1e-9)
    assert found.upright_db == pytest.approx((-30.46, -30.46), abs=0.01)


def test_a_phase_between_the_wires_is_found_in_a_lateral_tone_and_taken_out():
    wire = np.exp(0.3j)
    columns = [
        [c * w for c, w in zip(coils(2.0, *m), (1.0, wire), strict=True)]
        for m in ((1, 0), (0, 1), (0.7071, 0.7071))
    ]
    left = (tone(0.0, 12.0, Channel.LEFT), heard(*columns[0]))
    right = (tone(13.0, 25.0, Channel.RIGHT), heard(*columns[1]))
    found = separation(left, right, between=columns[2][1] / columns[2][0])
    assert found.azimuth_deg.value == pytest.approx(2.0, abs=1e-3)


@pytest.mark.parametrize("lean_deg", [-2.5, 0.4, 3.0])
def test_lateral_and_vertical_tones_give_lean_and_balance_without_gains(lean_deg):
    pair = []
    for motion in ((1.0, 1.0), (1.0, -1.0)):
        left, right = coils(lean_deg, *motion)
        pair.append(heard(1.1 * left, 0.95 * right))
    azimuth, balance = lean_from_lateral_and_vertical(*pair)
    assert azimuth.value == pytest.approx(lean_deg, abs=1e-9)
    assert balance.value == pytest.approx(20 * math.log10(1.1 / 0.95), abs=1e-9)


def test_intervals_hold_the_truth_95_times_in_100_down_to_minus_40_db():
    rng = np.random.default_rng(11)
    inside = np.zeros((1000, 3))
    for row in inside:
        found = measured(0.573, gains=(1.1, 1.0), rng=rng, noise=0.004)
        pairs = (
            (found.azimuth_deg, 0.573),
            (found.balance_db, 20 * math.log10(1.1)),
            (found.left_to_right.level_db, 20 * math.log10(math.tan(math.radians(0.573)))),
        )
        row[:] = [abs(reading.value - truth) < 1.96 * reading.sd for reading, truth in pairs]
    covered = inside.mean(axis=0)
    assert ((covered > 0.93) & (covered < 0.97)).all(), covered


def test_the_interval_of_crosstalk_holds_that_of_the_gains():
    """Levels of the two bands that are known to 1 % (0.09 dB) leave crosstalk, gains taken out, no better known."""
    rng = np.random.default_rng(8)
    bands = []
    for channel, motion in ((Channel.LEFT, (1.0, 0.0)), (Channel.RIGHT, (0.0, 1.0))):
        left, right = coils(1.5, *motion)
        still = heard(left, right)
        wobble = 1.0 + 0.05 * rng.standard_normal((24, 1, 1))
        bands.append((tone(0.0, 12.0, channel), replace(still, averages=still.averages * wobble)))
    found = separation(bands[0], bands[1])
    assert found.balance_db.sd == pytest.approx(0.13, abs=0.04)
    assert found.left_to_right.level_db.sd == pytest.approx(found.balance_db.sd, rel=0.01)


def test_the_phase_of_crosstalk_is_as_uncertain_as_what_lies_across_it():
    assert Phasor(0.01 + 0j, 5e-4, 1e-4).phase_deg.sd == pytest.approx(math.degrees(0.01))
    assert Phasor(0.01j, 5e-4, 1e-4).phase_deg.sd == pytest.approx(math.degrees(0.05))
    assert Phasor(0j, 5e-4, 1e-4).phase_deg.sd == 180.0
