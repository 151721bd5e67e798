"""The player: tilt by vectors, speed by counting simulated bars, wow and groove speed by arithmetic."""

import numpy as np
import pytest

from groovewright.geometry import groove_speed_m_per_s
from groovewright.mechanics.player import (
    BEARING_CHECKS,
    Drift,
    Tilt,
    bars_for_speed,
    force_change_from_tilt_mN,
    judge_speed,
    judge_tilt,
    once_per_turn_hz,
    side_force_from_tilt_mN,
    speed_from_count_percent,
    speed_from_drift_percent,
    standstill_speed_rpm,
    tilt_from_turned_readings,
    wow_from_eccentricity_percent,
)
from groovewright.quantities import RPM_33, RPM_45, RPM_78, InputError, Reading


def test_an_off_centre_record_wows_by_eccentricity_over_radius():
    # geometry: 0.2 mm at 100 mm is 0.2 %
    assert wow_from_eccentricity_percent(0.2, 100.0) == pytest.approx(0.2)
    angles = np.linspace(0, 2 * np.pi, 100_001)
    distance = np.abs(100.0 * np.exp(1j * angles) - 0.2)
    assert 100 * (distance.max() / 100 - 1) == pytest.approx(0.2, abs=1e-6)


def test_once_in_a_turn_is_the_speed_over_sixty():
    # arithmetic
    np.testing.assert_allclose(once_per_turn_hz([RPM_33, RPM_45]), [0.5556, 0.75], atol=5e-5)


def test_groove_speed_at_33_has_the_computed_values():
    # arithmetic: 146.05 mm 0.5098 m/s, 60.325 mm 0.2106 m/s
    np.testing.assert_allclose(groove_speed_m_per_s([146.05, 60.325], RPM_33), [0.5098, 0.2106], atol=5e-5)


@pytest.mark.parametrize(
    ("speed", "flashes", "bars", "standstill"),
    [
        (RPM_33, 100.0, 180, 100 / 3),
        (RPM_33, 120.0, 216, 100 / 3),
        (RPM_45, 120.0, 160, 45.0),
        (RPM_45, 100.0, 133, 6000 / 133),
        (RPM_78, 120.0, 92, 78.2609),
        (RPM_78, 100.0, 77, 77.9221),
    ],
)
def test_bars_on_a_ring_and_the_speed_at_which_they_really_stand_still(speed, flashes, bars, standstill):
    # arithmetic: a bar moves to its neighbour's place from one flash to the next
    count = int(bars_for_speed(speed, flashes))
    assert count == bars
    angle_between_flashes = 360.0 * standstill / 60.0 / flashes
    assert angle_between_flashes == pytest.approx(360.0 / count, rel=1e-6)
    assert float(standstill_speed_rpm(count, flashes)) == pytest.approx(standstill, rel=1e-6)


def test_a_counted_drift_gives_the_speed_of_a_simulated_platter():
    true_rpm, flashes, bars, seconds = 33.45, 100.0, 180, 60.0
    times = np.arange(0, seconds, 1 / flashes)
    phase = times * true_rpm / 60.0 * bars  # bars past the mark
    seen = np.unwrap(2 * np.pi * (phase % 1.0)) / (2 * np.pi)  # the eye joins the nearest
    passed = seen[-1] - seen[0]
    error = speed_from_drift_percent(
        Drift(abs(float(passed)), seconds, forwards=bool(passed > 0)),
        bars_on_ring=bars,
        flashes_per_second=flashes,
        nominal_rpm=RPM_33,
    )
    assert error.value == pytest.approx(100 * (true_rpm / RPM_33 - 1), abs=0.005)


def test_speed_intervals_cover_simulated_counts():
    rng = np.random.default_rng(3)
    hits, n = 0, 3000
    for _ in range(n):
        rpm = RPM_33 * (1 + rng.normal(0, 0.004))
        flashes = 100.0 * (1 + rng.normal(0, 0.0004))
        watched = 60.0
        drift = (rpm / 60 * 180 - flashes) * (watched + rng.normal(0, 0.3))
        counted = np.floor(abs(drift) + rng.uniform())
        error = speed_from_drift_percent(
            Drift(float(counted), watched, forwards=bool(drift > 0)),
            bars_on_ring=180,
            flashes_per_second=100.0,
            nominal_rpm=RPM_33,
        )
        low, high = error.interval()
        hits += low <= 100 * (rpm / RPM_33 - 1) <= high
    assert 0.93 <= hits / n <= 0.97


@pytest.mark.parametrize(
    ("drift", "message"),
    [
        (Drift(10, 0.0, True), "a minute is good"),
        (Drift(-3, 60.0, True), "count them from 0"),
        (Drift(2000, 60.0, True), "too fast to count"),
    ],
)
def test_counts_that_make_no_sense_are_refused(drift, message):
    with pytest.raises(InputError, match=message):
        speed_from_drift_percent(drift, bars_on_ring=180, flashes_per_second=100.0, nominal_rpm=RPM_33)


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (Reading(0.1, 0.05), "on-speed"),
        (Reading(0.9, 0.1), "too-fast"),
        (Reading(-0.9, 0.1), "too-slow"),
        (Reading(0.45, 0.1), "unsure"),
    ],
)
def test_speed_verdicts_follow_half_a_percent(error, code):
    assert judge_speed(error).code == code  # +-0.5 %, IEC 60098:2020, 5.6


def test_turning_the_level_round_removes_its_own_error():
    own_error, tilt = 0.8, -0.3
    reading = tilt_from_turned_readings(Reading(tilt + own_error, 0.1), Reading(-tilt + own_error, 0.1))
    assert reading.value == pytest.approx(tilt)
    assert reading.sd == pytest.approx(0.1 / np.sqrt(2))


def test_side_force_is_the_component_of_gravity_on_what_is_out_of_balance():
    tilt = np.radians(1.0)
    down = np.array([np.sin(tilt), 0.0, -np.cos(tilt)])  # gravity in the player's own axes
    assert float(side_force_from_tilt_mN(18.0, 1.0)) == pytest.approx(18.0 * down[0])
    assert float(force_change_from_tilt_mN(18.0, 1.0)) == pytest.approx(18.0 * (-down[2] - 1.0))


def test_a_spring_loaded_arm_with_its_mass_aside_feels_only_that_moment():
    force = side_force_from_tilt_mN(0.0, 90.0, unbalanced_moment_gmm=230.0, effective_length_mm=230.0)
    assert float(force) == pytest.approx(9.80665)


def test_tilt_verdicts_name_the_low_side():
    assert judge_tilt(Tilt(Reading(0.05, 0.05), Reading(0.0, 0.05))).code == "level"
    tilted = judge_tilt(Tilt(Reading(-0.8, 0.05), Reading(0.4, 0.05)))
    assert tilted.code == "tilted"
    assert "left and the front" in tilted.sentence
    assert judge_tilt(Tilt(Reading(0.2, 0.2), Reading(0.0, 0.2))).code == "unsure"


def test_a_tilt_in_mm_for_a_metre_is_recognised():
    with pytest.raises(InputError, match="mm/m"):
        tilt_from_turned_readings(Reading(12.0, 1.0), Reading(-12.0, 1.0))


def test_the_bearing_list_covers_platter_and_arm_and_guards_the_stylus():
    parts = {check.part.split(",")[0] for check in BEARING_CHECKS}
    assert parts == {"platter bearing", "arm"}
    assert any("Stylus guard" in check.do for check in BEARING_CHECKS)


def test_a_count_finds_its_ring_by_speed_and_lamp():
    # 60 Hz mains: 120 flashes; 45 rpm: 160 bars. One bar a second with the platter is 1 / 120 of the speed
    error = speed_from_count_percent(
        nominal_rpm=45.0, flashes_per_second=120.0, bars_passed=60.0, seconds=60.0, drift="with"
    )
    assert error.value == pytest.approx(100.0 / 120.0, abs=1e-9)


def test_bars_that_passed_must_have_gone_somewhere():
    with pytest.raises(InputError, match="which way"):
        speed_from_count_percent(
            nominal_rpm=45.0, flashes_per_second=120.0, bars_passed=6.0, seconds=60.0, drift="still"
        )
