"""Azimuth: the channel cosine, and simulated cartridges whose stated intervals have to cover the truth."""

import numpy as np
import pytest

from groovewright.mechanics.azimuth import (
    azimuth_from_complex,
    azimuth_from_magnitudes,
    azimuth_from_two_settings,
)
from groovewright.mechanics.lean import crosstalk_of_lean, crosstalk_of_lean_db, shim_for_lean_mm
from groovewright.mechanics.lean_verdicts import judge_azimuth
from groovewright.quantities import InputError, Reading


# Channel cosine, derived: pure azimuth error a of an ideal cartridge gives crosstalk tan(a).
@pytest.mark.parametrize(("lean", "level"), [(1.0, -35.2), (2.0, -29.1), (3.0, -25.6)])
def test_pure_lean_has_the_derived_crosstalk(lean, level):
    assert crosstalk_of_lean_db(lean) == pytest.approx(level, abs=0.05)


def _outputs(lean_deg, gains, leak, groove_left, groove_right):
    """Both outputs of a cartridge seen from the front, x to the right (outwards), z up."""
    left_axis, right_axis = np.array([1.0, 1.0]) / np.sqrt(2), np.array([1.0, -1.0]) / np.sqrt(2)
    motion = groove_left * left_axis + groove_right * right_axis
    a = np.radians(lean_deg)
    clockwise = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    left = gains[0] * (clockwise @ left_axis) @ motion
    right = gains[1] * (clockwise @ right_axis) @ motion
    return left + leak[1] * right, right + leak[0] * left


def _crosstalk(lean_deg, gains, leak):
    left, right = _outputs(lean_deg, gains, leak, 1.0, 0.0)
    left_to_right = right / left
    left, right = _outputs(lean_deg, gains, leak, 0.0, 1.0)
    return left_to_right, left / right


def test_equal_outputs_in_phase_are_lateral_motion():
    # IEC 60098:2020, 6.2
    left, right = _outputs(0.0, (1, 1), (0, 0), 1.0, 1.0)
    assert left == pytest.approx(right)


def test_signs_of_the_crosstalk_are_those_of_the_turned_axes():
    for lean in (-2.0, 0.7, 3.0):
        expected = _crosstalk(lean, (1.0, 1.1), (0, 0))
        np.testing.assert_allclose(crosstalk_of_lean(lean, 1.1), expected, atol=1e-12)


def test_the_shim_turns_the_cartridge_back_about_holes_half_an_inch_apart():
    assert shim_for_lean_mm(1.0) == pytest.approx(12.7 * np.tan(np.radians(1.0)))
    assert shim_for_lean_mm(-1.0) == -shim_for_lean_mm(1.0)


def _cartridge(rng, *, reciprocal):
    lean = rng.uniform(-3, 3)
    gains = (1.0, 10 ** (rng.normal(0, 0.5) / 20))
    leak = 10 ** (rng.uniform(-40, -25, 2) / 20) * np.exp(2j * np.pi * rng.uniform(size=2))
    if reciprocal:
        leak[1] = leak[0] * (1 + 0.3 * (rng.normal() + 1j * rng.normal()) / np.sqrt(2))
    return lean, gains, leak, rng.uniform(0.05, 0.5)


def _read(rng, crosstalk, sd_db):
    return [float(20 * np.log10(abs(x)) + rng.normal(0, sd_db)) for x in crosstalk]


def test_intervals_from_magnitudes_cover_500_simulated_cartridges():
    rng = np.random.default_rng(2024)
    hits, signed_hits, known, n = 0, 0, 0, 500
    for _ in range(n):
        lean, gains, leak, sd = _cartridge(rng, reciprocal=False)
        first, second = _read(rng, _crosstalk(lean, gains, leak), sd)
        estimate = azimuth_from_magnitudes(left_to_right_db=first, right_to_left_db=second, sd_db=sd)
        hits += estimate.covers(lean)
        low, high = estimate.lean_deg.interval()
        signed_hits += low <= lean <= high
        known += estimate.side_known
    assert 0.93 <= hits / n <= 0.97
    assert signed_hits / n >= 0.93
    assert known == 0


def test_intervals_from_complex_readings_cover_1000_simulated_cartridges():
    rng = np.random.default_rng(2024)
    hits, widths, n = 0, [], 1000
    for _ in range(n):
        lean, gains, leak, sd = _cartridge(rng, reciprocal=rng.uniform() < 0.1)
        noise = np.exp((rng.normal(0, sd, 2) + 1j * rng.normal(0, sd, 2)) * np.log(10) / 20)
        first, second = np.array(_crosstalk(lean, gains, leak)) * noise
        estimate = azimuth_from_complex(left_to_right=first, right_to_left=second, sd_db=sd)
        hits += estimate.covers(lean)
        widths.append(sum(high - low for low, high in estimate.intervals_deg))
    assert 0.93 <= hits / n <= 0.97
    assert np.median(widths) < 3.0


def test_intervals_from_two_settings_cover_simulated_cartridges():
    rng = np.random.default_rng(99)
    hits, n = 0, 200
    for _ in range(n):
        lean, gains, leak, sd = _cartridge(rng, reciprocal=rng.uniform() < 0.1)
        before = _read(rng, _crosstalk(lean, gains, leak), sd)
        after = _read(rng, _crosstalk(lean + 1.0, gains, leak), sd)
        estimate = azimuth_from_two_settings(
            before_db=(before[0], before[1]), after_db=(after[0], after[1]), leaned_deg=1.0, sd_db=sd
        )
        hits += estimate.covers(lean)
    assert 0.92 <= hits / n <= 0.98


def test_magnitudes_alone_leave_both_sides_open_and_the_verdict_says_so():
    estimate = azimuth_from_magnitudes(left_to_right_db=-27.0, right_to_left_db=-27.0, sd_db=0.2)
    assert not estimate.side_known
    assert estimate.probability_clockwise == pytest.approx(0.5)
    assert estimate.covers(1.5)
    assert estimate.covers(-1.5)
    verdict = judge_azimuth(estimate)
    assert verdict.code == "leans-side-unknown"
    assert "can't tell lean from electrical crosstalk" in verdict.sentence


def test_strong_crosstalk_means_a_real_lean_and_weak_crosstalk_still_allows_one():
    strong = azimuth_from_magnitudes(left_to_right_db=-22.0, right_to_left_db=-22.0, sd_db=0.2)
    assert not strong.covers(0.0)
    weak = azimuth_from_magnitudes(left_to_right_db=-38.0, right_to_left_db=-38.0, sd_db=0.2)
    assert weak.size_deg.value < strong.size_deg.value


def test_complex_readings_of_a_clean_lean_know_its_side():
    for lean in (-2.0, 2.0):
        first, second = _crosstalk(lean, (1.0, 1.0), np.array([0.012j, 0.012j]))
        estimate = azimuth_from_complex(left_to_right=first, right_to_left=second, sd_db=0.1)
        assert estimate.side_known
        assert estimate.covers(lean)
        assert np.sign(estimate.lean_deg.value) == np.sign(lean)
        assert estimate.electrical_db is not None


def test_the_electrical_part_is_reported_with_its_level():
    first, second = _crosstalk(0.0, (1.0, 1.0), np.array([0.05, 0.05]))
    estimate = azimuth_from_complex(left_to_right=first, right_to_left=second, sd_db=0.1)
    assert estimate.electrical_db is not None
    level = estimate.electrical_db[0]
    assert abs(level.value - 20 * np.log10(0.05)) < 2.5 * level.sd + 0.5


def test_two_settings_tell_the_side_that_magnitudes_alone_cannot():
    leak = np.array([0.012j, 0.012j])
    for lean in (-2.2, 2.2):
        before = [float(20 * np.log10(abs(x))) for x in _crosstalk(lean, (1, 1), leak)]
        after = [float(20 * np.log10(abs(x))) for x in _crosstalk(lean + 1.0, (1, 1), leak)]
        estimate = azimuth_from_two_settings(
            before_db=(before[0], before[1]), after_db=(after[0], after[1]), leaned_deg=1.0, sd_db=0.1
        )
        assert estimate.side_known
        assert estimate.covers(lean)
        verdict = judge_azimuth(estimate)
        assert verdict.code == "leans"
        assert ("nearer to" if lean > 0 else "farther from") in verdict.sentence


def test_a_known_balance_narrows_nothing_but_shifts_the_ratio():
    open_ratio = azimuth_from_magnitudes(left_to_right_db=-24.0, right_to_left_db=-27.0, sd_db=0.1)
    known = azimuth_from_magnitudes(
        left_to_right_db=-24.0, right_to_left_db=-27.0, sd_db=0.1, balance_db=Reading(1.5, 0.05)
    )
    assert known.size_deg.value != pytest.approx(open_ratio.size_deg.value, abs=1e-3)


def test_separation_without_its_minus_sign_is_recognised():
    with pytest.raises(InputError, match=r"That would be -29\.1 dB"):
        azimuth_from_magnitudes(left_to_right_db=29.1, right_to_left_db=-29.1, sd_db=0.2)


def test_a_mono_cartridge_and_missing_readings_stay_unknown():
    assert judge_azimuth(None).code == "unknown"
    assert "mono" in judge_azimuth(None, mono=True).sentence


def test_a_change_of_lean_too_small_to_tell_anything_is_refused():
    with pytest.raises(InputError, match=r"0\.2 to 5 deg"):
        azimuth_from_two_settings(before_db=(-29, -29), after_db=(-30, -30), leaned_deg=0.05, sd_db=0.2)


def test_the_same_readings_always_give_the_same_answer():
    twice = [
        azimuth_from_two_settings(before_db=(-28, -31), after_db=(-25, -29), leaned_deg=1, sd_db=0.2)
        for _ in range(2)
    ]
    assert twice[0] == twice[1]
