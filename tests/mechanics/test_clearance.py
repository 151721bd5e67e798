"""Screws and heights; half-inch holes and M2.5 screws are common practice of the trade."""

import numpy as np
import pytest

from groovewright.mechanics.clearance import (
    HOLE_SPACING_MM,
    SCREW_LENGTHS_MM,
    STYLUS_AHEAD_OF_HOLES_MM,
    arm_height_needed_mm,
    judge_height,
    old_setup_worth_recording,
    screw_for_nut,
    screw_for_tapped_body,
)
from groovewright.quantities import CannotBeDoneError, InputError


def test_mounting_holes_are_half_an_inch_apart():
    assert abs(HOLE_SPACING_MM - 12.7) < 1e-9  # common practice


def test_the_stylus_sits_within_the_usual_distance_ahead_of_the_holes():
    assert 6.0 <= STYLUS_AHEAD_OF_HOLES_MM <= 11.0  # common practice: about 9.5, roughly 6 to 11 mm


@pytest.mark.parametrize(
    ("headshell", "lug", "nut", "length"),
    [(2.0, 2.5, 2.0, 8.0), (1.5, 1.5, 1.5, 5.0), (3.0, 4.0, 2.0, 10.0), (5.0, 6.0, 2.0, 15.0)],
)
def test_the_shortest_standard_screw_reaches_through_its_nut(headshell, lug, nut, length):
    screw = screw_for_nut(headshell_mm=headshell, lug_mm=lug, nut_mm=nut)
    assert screw.length_mm == length
    grip = headshell + lug + nut
    shorter = [x for x in SCREW_LENGTHS_MM if x < length]
    assert length >= grip + 0.45
    assert all(x < grip + 0.45 for x in shorter)


def test_no_screw_is_long_enough_for_a_stack_of_plates():
    with pytest.raises(CannotBeDoneError, match="longest usual"):
        screw_for_nut(headshell_mm=10.0, lug_mm=14.0)


def test_a_screw_into_a_tapped_body_stays_clear_of_the_bottom():
    screw = screw_for_tapped_body(headshell_mm=2.0, tapped_depth_mm=4.5)
    assert screw.length_mm == 6.0
    assert 2.0 + 4.5 - screw.length_mm >= 0.3
    assert screw.length_mm - 2.0 >= 4 * 0.45


def test_a_tapped_body_too_shallow_for_any_standard_screw_says_so():
    with pytest.raises(CannotBeDoneError, match="washer"):
        screw_for_tapped_body(headshell_mm=2.2, tapped_depth_mm=2.0)


def test_thickness_in_inches_is_recognised():
    with pytest.raises(InputError, match="inches"):
        screw_for_nut(headshell_mm=0.079, lug_mm=2.0)


def test_a_taller_body_lifts_the_arm_by_the_difference():
    needed = arm_height_needed_mm(old_body_height_mm=15.5, new_body_height_mm=[17.5, 14.0], new_spacer_mm=1.0)
    np.testing.assert_allclose(needed, [3.0, -0.5])


def test_height_verdicts_follow_the_travel_that_is_left():
    assert judge_height(2.0, down_mm=1.0, up_mm=3.0).code == "fits"
    assert "3.0 mm" in judge_height(6.0, down_mm=1.0, up_mm=3.0).sentence
    low = judge_height(-2.5, down_mm=1.0, up_mm=3.0)
    assert low.code == "does-not-fit"
    assert "spacer of 1.5 mm" in low.sentence


def test_the_old_setup_is_worth_recording_whenever_one_is_mounted():
    assert "way back" in old_setup_worth_recording(reversible=True, mounted=True).sentence
    assert "can't be restored" in old_setup_worth_recording(reversible=False, mounted=True).sentence
    assert "nothing mounted" in old_setup_worth_recording(reversible=True, mounted=False).sentence
