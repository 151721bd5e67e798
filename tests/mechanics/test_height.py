"""Arm height and rake: trigonometry with the trade's figure of 4 mm for a degree, and IEC 60098:2020, 6.1."""

import math

import pytest

from groovewright.mechanics.height import (
    advise_height,
    angle_for_height_deg,
    height_for_angle_mm,
    height_for_rake_mm,
    rake_change_for_thickness_deg,
    shim_height_error_mm,
    trade_rake_deg,
)
from groovewright.quantities import InputError


def test_one_degree_at_229_mm_is_four_millimetres_of_height():
    # trigonometry: 229 mm x sin 1 deg; 1 mm is 0.25 deg
    assert height_for_angle_mm(1.0, 229.0) == pytest.approx(4.0, abs=0.01)
    assert angle_for_height_deg(1.0, 229.0) == pytest.approx(0.25, abs=0.001)


def test_height_is_the_difference_of_two_places_of_the_pivot_about_the_stylus():
    start, change, length = math.radians(2.0), math.radians(1.5), 229.0
    pivots = [complex(length * math.cos(a), length * math.sin(a)) for a in (start, start + change)]
    assert float(height_for_angle_mm(1.5, 229.0, 2.0)) == pytest.approx(pivots[1].imag - pivots[0].imag)


def test_raising_the_arm_makes_the_rake_more_negative():
    assert height_for_rake_mm(-1.0, -2.0, 229.0) == pytest.approx(4.0, abs=0.01)
    assert height_for_rake_mm(-4.0, -2.0, 229.0) == pytest.approx(-8.0, abs=0.02)


def test_from_the_thinnest_to_the_thickest_pressing_is_about_a_quarter_of_a_degree():
    # 1.2 to 2.3 mm (common practice): 1.1 mm at 0.25 deg for each mm
    assert rake_change_for_thickness_deg(2.3 - 1.2, 229.0) == pytest.approx(0.275, abs=0.002)


def test_a_gauge_pan_above_the_record_is_a_positive_error():
    assert shim_height_error_mm(5.0, 1.5) == pytest.approx(3.5)


def test_two_degrees_of_rake_are_the_trades_92():
    assert trade_rake_deg(-2.0) == pytest.approx(92.0)  # common practice


def test_no_rake_gives_no_height_and_says_what_is_needed():
    advice = advise_height(effective_length_mm=239.3, rake_deg=None)
    assert advice.height_change_mm is None
    assert advice.verdict.code == "unknown"
    assert "needs" in advice.verdict.sentence


def test_an_upright_stylus_asks_for_the_arm_to_be_raised_to_the_middle_of_the_range():
    advice = advise_height(effective_length_mm=229.0, rake_deg=0.5)
    assert advice.rake_after_deg == pytest.approx(-2.5)  # middle of 0 to -5 deg, IEC 60098:2020, 6.1
    assert advice.height_change_mm == pytest.approx(229.0 * math.sin(math.radians(3.0)))
    assert advice.verdict.sentence.startswith("Raise the arm by 12.0 mm")


def test_a_rake_near_the_middle_is_left_alone():
    advice = advise_height(effective_length_mm=229.0, rake_deg=-2.3, rake_sd_deg=0.5)
    assert advice.height_change_mm == 0.0
    assert advice.verdict.code == "right"


def test_the_vertical_tracking_angle_holds_the_rake_back():
    # vertical tracking angle 20 deg +5/-0 (IEC 60098:2020, 6.1): from 24 deg only one more degree is allowed
    advice = advise_height(effective_length_mm=229.0, rake_deg=0.5, vertical_tracking_deg=24.0)
    assert advice.rake_after_deg == pytest.approx(-0.5)


def test_angles_that_no_height_reconciles_are_named():
    advice = advise_height(effective_length_mm=229.0, rake_deg=2.0, vertical_tracking_deg=27.0)
    assert "can't both be within" in advice.verdict.sentence


def test_a_rake_as_the_trade_counts_it_is_refused_and_translated():
    with pytest.raises(InputError, match="That would be -2 deg"):
        advise_height(effective_length_mm=229.0, rake_deg=92.0)
