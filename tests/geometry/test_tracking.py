"""The signs and the plan geometry, against positions and directions worked out in the plane."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groovewright.geometry import (
    align,
    alignment_for_nulls,
    length_and_offset_for_nulls,
    null_radii_mm,
    yaw_deg,
)
from groovewright.geometry.sensitivity import yaw_sd_deg, yaw_slopes
from groovewright.quantities import InputError

distances = st.floats(170.0, 400.0)


def yaw_in_the_plane(distance, length, offset_deg, radius):
    """The same angle from coordinates: spindle at the origin, pivot at the rear right, clockwise positive."""
    pivot = np.array([distance, 0.0])
    along = (distance**2 + radius**2 - length**2) / (2.0 * distance)
    aside = -np.sqrt(radius**2 - along**2)
    stylus = np.array([along, aside])
    arm = (stylus - pivot) / length
    # turning clockwise in axes with y to the rear is turning by a negative angle
    angle = -np.radians(offset_deg)
    body = np.array(
        [arm[0] * np.cos(angle) - arm[1] * np.sin(angle), arm[0] * np.sin(angle) + arm[1] * np.cos(angle)]
    )
    # the record turns clockwise: velocity = (y, -x)
    groove = np.array([stylus[1], -stylus[0]]) / radius
    cross = groove[0] * body[1] - groove[1] * body[0]
    return -np.degrees(np.arctan2(cross, groove @ body))


@given(distances, st.floats(5.0, 25.0), st.floats(10.0, 30.0), st.floats(58.0, 146.0))
def test_yaw_is_the_angle_in_the_plane_with_the_stated_sign(distance, overhang, offset, radius):
    expected = yaw_in_the_plane(distance, distance + overhang, offset, radius)
    assert float(yaw_deg(distance, distance + overhang, offset, radius)) == pytest.approx(expected, abs=1e-8)


@given(distances, st.floats(58.0, 80.0), st.floats(95.0, 130.0))
def test_at_both_nulls_the_yaw_is_zero(distance, inner, outer):
    length, offset = length_and_offset_for_nulls(distance, inner, outer)
    assert float(yaw_deg(distance, length, offset, inner)) == pytest.approx(0.0, abs=1e-9)
    assert float(yaw_deg(distance, length, offset, outer)) == pytest.approx(0.0, abs=1e-9)
    assert [float(x) for x in null_radii_mm(distance, length, offset)] == pytest.approx([inner, outer])


@given(distances, st.floats(0.2, 4.0), st.sampled_from(["lofgren-a", "lofgren-b", "stevenson"]))
def test_square_at_the_outer_null_too_much_overhang_points_out_at_the_inner(distance, error, criterion):
    # the check that fixes every sign (common practice in the trade): too much overhang, the front points out
    arm = align(criterion, distance)
    for overhang_error, sign in ((error, -1.0), (-error, 1.0)):
        length = arm.effective_length_mm + overhang_error
        squared = arm.offset_angle_deg - float(
            yaw_deg(distance, length, arm.offset_angle_deg, arm.null_outer_mm)
        )
        at_inner = float(yaw_deg(distance, length, squared, arm.null_inner_mm))
        assert sign * at_inner > 0.0


def test_arms_that_cannot_reach_a_radius_say_nan():
    assert np.isnan(yaw_deg(222.0, 100.0, 20.0, 60.0))
    inner, outer = null_radii_mm(222.0, 260.0, 5.0)
    assert np.isnan(inner)
    assert np.isnan(outer)


@given(distances, st.floats(8.0, 22.0), st.floats(60.0, 146.0))
def test_exact_slopes_are_those_of_finite_differences(distance, overhang, radius):
    length, step = distance + overhang, 1e-4
    slopes = yaw_slopes(distance, length, radius)
    by_length = (
        yaw_deg(distance, length + step, 20.0, radius) - yaw_deg(distance, length - step, 20.0, radius)
    ) / 2e-4
    by_distance = (
        yaw_deg(distance + step, length, 20.0, radius) - yaw_deg(distance - step, length, 20.0, radius)
    ) / 2e-4
    assert float(slopes.per_length_deg_per_mm) == pytest.approx(float(by_length), abs=1e-6)
    assert float(slopes.per_distance_deg_per_mm) == pytest.approx(float(by_distance), abs=1e-6)


def test_propagated_uncertainty_is_that_of_a_distribution():
    arm = align("lofgren-a", 222.0)
    random = np.random.default_rng(21)
    overhang, offset, distance = (random.normal(0.0, sd, 200_000) for sd in (0.4, 0.3, 0.5))
    for radius in (62.0, 90.0, 140.0):
        yaws = yaw_deg(
            222.0 + distance,
            arm.effective_length_mm + distance + overhang,
            arm.offset_angle_deg + offset,
            radius,
        )
        stated = float(
            yaw_sd_deg(arm, radius, overhang_sd_mm=0.4, offset_sd_deg=0.3, pivot_to_spindle_sd_mm=0.5)
        )
        assert stated == pytest.approx(float(np.std(yaws)), rel=0.01)


@pytest.mark.parametrize(
    ("distance", "hint"),
    [(9.0, "inches"), (0.23, "metres"), (-222.0, "nearest"), (float("nan"), "not a finite")],
)
def test_an_impossible_distance_is_named_with_what_it_may_be(distance, hint):
    with pytest.raises(InputError, match=hint):
        alignment_for_nulls(distance, 66.0, 121.0)


def test_reversed_nulls_are_refused_with_the_right_order():
    with pytest.raises(InputError, match="try 66:121"):
        alignment_for_nulls(222.0, 121.0, 66.0)
