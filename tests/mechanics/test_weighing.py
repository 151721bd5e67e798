"""Tracking force: standard gravity, coverage with a simulated gauge, verdicts that bless nothing outside."""

import numpy as np
import pytest

from groovewright.mechanics.weighing import (
    Gauge,
    GaugeHeight,
    check_unit_of_readings,
    force_from_readings,
    force_per_turn_measured_mN,
    force_per_turn_mN,
    force_range_mN,
    gauge_from_check_mass,
    judge_drift,
    judge_force,
)
from groovewright.quantities import MN_PER_GF, InputError, Reading

RANGE = force_range_mN(1.6, 2.0, MN_PER_GF)


def test_one_gram_force_is_standard_gravity():
    assert pytest.approx(9.80665) == MN_PER_GF  # 3rd CGPM, 1901


def test_the_target_is_the_middle_of_the_makers_range():
    assert RANGE.target_mN / MN_PER_GF == pytest.approx(1.8)  # common practice: 1.6 to 2.0 gives 1.8


def test_a_target_outside_the_makers_range_is_refused_with_the_nearest_inside():
    with pytest.raises(InputError, match="nearest inside is 2 gf"):
        force_range_mN(1.6, 2.0, MN_PER_GF, target=2.2)


def test_the_force_is_the_mean_of_the_readings():
    force = force_from_readings([1.83 * MN_PER_GF, 1.86 * MN_PER_GF], Gauge())
    assert force.value / MN_PER_GF == pytest.approx(1.845)
    assert force.sd > 0.0


def test_more_readings_narrow_the_repeatability_and_not_the_display_step():
    gauge = Gauge(repeatability_mN=0.2, resolution_mN=0.1, gain_sd=0.0)
    one, many = force_from_readings([18.0], gauge), force_from_readings([18.0] * 10_000, gauge)
    assert one.sd == pytest.approx(np.hypot(0.2, 0.1 / np.sqrt(12)))
    assert many.sd == pytest.approx(0.1 / np.sqrt(12), rel=0.01)


@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_intervals_cover_the_truth_with_a_simulated_gauge_and_check_mass(count):
    rng = np.random.default_rng(100 + count)
    hits, trials = 0, 2000
    for _ in range(trials):
        truth, true_gain = rng.uniform(15.0, 22.0), rng.normal(1.0, 0.02)
        step = 0.098

        def read(force, gain=true_gain, step=step):
            return round((force / gain + rng.normal(0, 0.25)) / step) * step

        bare = Gauge(repeatability_mN=0.25, resolution_mN=step)
        gauge = gauge_from_check_mass(bare, true_mN=19.6133, read_mN=[read(19.6133) for _ in range(3)])
        force = force_from_readings([read(truth) for _ in range(count)], gauge)
        low, high = force.interval()
        hits += low <= truth <= high
    assert 0.93 <= hits / trials <= 0.97


def test_intervals_cover_the_truth_where_the_gauges_scale_was_never_checked():
    rng = np.random.default_rng(5)
    gauge = Gauge(repeatability_mN=0.2, resolution_mN=0.098)
    truth = rng.uniform(15.0, 22.0, 4000)
    hits = 0
    for force in truth:
        gain = rng.normal(1.0, 0.01)
        readings = [round((force / gain + rng.normal(0, 0.2)) / 0.098) * 0.098 for _ in range(3)]
        low, high = force_from_readings(readings, gauge).interval()
        hits += low <= force <= high
    assert 0.93 <= hits / truth.size <= 0.97


def test_a_check_mass_corrects_the_gauges_scale():
    gauge = gauge_from_check_mass(Gauge(), true_mN=2.0 * MN_PER_GF, read_mN=[2.1 * MN_PER_GF])
    force = force_from_readings([1.89 * MN_PER_GF], gauge)
    assert force.value / MN_PER_GF == pytest.approx(1.8)


def test_a_gauge_that_is_far_off_its_check_mass_is_a_defect_and_not_a_calibration():
    with pytest.raises(InputError, match="no calibration"):
        gauge_from_check_mass(Gauge(), true_mN=19.6, read_mN=[2.0])


def test_a_high_pan_is_corrected_by_the_arms_slope():
    # 0.1 mN more for each mm: a pan 3 mm too high reads 0.3 mN too much
    force = force_from_readings([18.0], Gauge(), GaugeHeight(3.0, 0.1))
    assert force.value == pytest.approx(17.7)


def test_a_high_pan_on_an_arm_of_unknown_slope_widens_the_interval():
    flat = force_from_readings([18.0], Gauge())
    high = force_from_readings([18.0], Gauge(), GaugeHeight(3.0, None))
    assert high.value == flat.value
    assert high.sd > 1.5 * flat.sd


def test_one_turn_of_the_counterweight_moves_its_weight_by_the_pitch():
    # 100 g by 1 mm on 250 mm: 0.4 gf
    per_turn = force_per_turn_mN(thread_pitch_mm=1.0, counterweight_mass_g=100.0, effective_length_mm=250.0)
    assert per_turn == pytest.approx(0.4 * MN_PER_GF)


def test_one_turn_can_be_measured_with_its_uncertainty():
    per_turn = force_per_turn_measured_mN(Reading(16.0, 0.3), Reading(18.0, 0.4), 0.5)
    assert per_turn.value == pytest.approx(4.0)
    assert per_turn.sd == pytest.approx(1.0)


def test_a_light_force_is_wound_in_by_what_is_missing():
    weighed = judge_force(Reading(1.5 * MN_PER_GF, 0.1), RANGE, turn_mN=1.0 * MN_PER_GF)
    assert weighed.verdict.code == "too-light"
    assert weighed.turn_turns == pytest.approx(0.3)
    assert "0.3 turn in" in weighed.verdict.sentence


def test_a_heavy_force_is_wound_out():
    weighed = judge_force(Reading(2.3 * MN_PER_GF, 0.1), RANGE, turn_mN=1.0 * MN_PER_GF)
    assert weighed.verdict.code == "too-heavy"
    assert weighed.turn_turns == pytest.approx(-0.5)
    assert "turn out" in weighed.verdict.sentence


def test_turns_stay_unknown_without_a_thread():
    weighed = judge_force(Reading(1.7 * MN_PER_GF, 0.05), RANGE)
    assert weighed.turn_turns is None
    assert "unknown, needs" in weighed.turn_sentence


@pytest.mark.parametrize("force_gf", [1.2, 1.55, 1.599, 2.001, 2.05, 3.0])
@pytest.mark.parametrize("sd_gf", [0.001, 0.02, 0.2])
def test_nothing_outside_the_makers_range_is_ever_blessed(force_gf, sd_gf):
    weighed = judge_force(Reading(force_gf * MN_PER_GF, sd_gf * MN_PER_GF), RANGE)
    assert weighed.verdict.code in {"too-light", "too-heavy"}


def test_the_edge_of_the_range_is_not_blessed_either():
    assert judge_force(Reading(1.61 * MN_PER_GF, 0.2), RANGE).verdict.code == "unsure"


def test_on_target_the_advice_is_to_stop():
    weighed = judge_force(Reading(1.81 * MN_PER_GF, 0.2), RANGE)
    assert weighed.verdict.code == "right"
    assert "Stop here" in weighed.verdict.sentence


def test_inside_the_range_and_off_the_target_there_is_still_a_move():
    assert judge_force(Reading(1.68 * MN_PER_GF, 0.1), RANGE).verdict.code == "adjust"


@pytest.mark.parametrize(
    ("value", "low", "high", "unit_mN", "named"),
    [
        (18.0, 1.6, 2.0, MN_PER_GF, "Is 18 in mN\\? That would be 1.84 gf"),
        (1.83, 16.0, 20.0, 1.0, "Is 1.83 in gf\\? That would be 17.9 mN"),
    ],
)
def test_readings_in_the_other_unit_are_recognised_and_named(value, low, high, unit_mN, named):
    with pytest.raises(InputError, match=named):
        check_unit_of_readings([value], force_range_mN(low, high, unit_mN), unit_mN)


def test_a_range_in_the_other_unit_is_recognised_and_named():
    with pytest.raises(InputError, match="in gf"):
        force_range_mN(1.6, 2.0, 1.0)
    with pytest.raises(InputError, match="in mN"):
        force_range_mN(16.0, 20.0, MN_PER_GF)


def test_a_force_in_kilograms_is_recognised_and_named():
    with pytest.raises(InputError, match="kilograms"):
        force_range_mN(0.0016, 0.0020, MN_PER_GF)


def test_a_wildly_wrong_force_in_the_right_unit_is_accepted_as_a_reading():
    check_unit_of_readings([0.9, 3.4], RANGE, MN_PER_GF)


def test_drift_is_told_from_scatter_at_its_stated_rate():
    rng = np.random.default_rng(8)
    codes = [
        judge_drift(Reading(rng.normal(18, 0.2), 0.2), Reading(rng.normal(18, 0.2), 0.2)).code
        for _ in range(3000)
    ]
    assert 0.03 <= np.mean([code == "drifted" for code in codes]) <= 0.07
    assert judge_drift(Reading(18.0, 0.1), Reading(19.0, 0.1)).code == "drifted"
