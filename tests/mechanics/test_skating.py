"""Skating against statics in the plane with vectors, and anti-skating against brute force."""

import numpy as np
import pytest

from groovewright.geometry import align, yaw_deg
from groovewright.mechanics.skating import (
    FRICTION,
    FRICTION_BY_PROFILE,
    Step,
    antiskating_least_squares_mN,
    antiskating_minimax_mN,
    arm_swing_deg,
    best_step,
    fit_spring_scale,
    largest_rest_mN,
    skating_force_mN,
    skating_sine,
    spring_force_mN,
    thread_weight_force_mN,
    thread_weight_steps,
)
from groovewright.quantities import LP, NAMED_RANGES, InputError

DEMO = align("lofgren-a", 222.0, LP)


# Computed with high-precision arithmetic: (r^2 + L^2 - d^2) / (2 r L) for d = 222, Lofgren A, 60.325:146.05
@pytest.mark.parametrize(("radius", "expected"), [(60.325, 0.4024), (90.0, 0.3733), (146.0, 0.4193)])
def test_skating_over_friction_force_has_the_computed_values(radius, expected):
    assert skating_sine(222.0, DEMO.effective_length_mm, radius) == pytest.approx(expected, abs=6e-5)


@pytest.mark.parametrize("radius", [62.0, 95.0, 140.0])
def test_skating_is_the_moment_of_the_friction_about_the_pivot(radius):
    d, length, mu, force = 222.0, 239.3, 0.3, 18.0
    spindle, pivot = np.zeros(2), np.array([d, 0.0])
    # stylus where the circles of groove and arm meet
    x = (radius**2 - length**2 + d**2) / (2 * d)
    stylus = np.array([x, -np.sqrt(radius**2 - x**2)])
    radial = (stylus - spindle) / radius
    tangent = np.array([radial[1], -radial[0]])  # clockwise seen from above
    drag = mu * force * tangent
    arm = stylus - pivot
    moment = arm[0] * drag[1] - arm[1] * drag[0]
    inward = spindle - stylus
    turn_in = np.sign(arm[0] * inward[1] - arm[1] * inward[0])
    expected = moment * turn_in / length
    computed = skating_force_mN(
        force_mN=force, friction=mu, pivot_to_spindle_mm=d, effective_length_mm=length, radius_mm=radius
    )
    assert float(computed) == pytest.approx(expected, abs=1e-9)


def test_skating_is_friction_times_the_sine_of_offset_minus_yaw():
    radii = np.linspace(60.0, 146.0, 20)
    for offset in (15.0, DEMO.offset_angle_deg, 28.0):
        yaw = yaw_deg(222.0, DEMO.effective_length_mm, offset, radii)
        np.testing.assert_allclose(
            skating_sine(222.0, DEMO.effective_length_mm, radii), np.sin(np.radians(offset - yaw)), atol=1e-12
        )


def test_an_underhung_straight_arm_skates_outwards_at_small_radii():
    assert skating_sine(230.0, 214.0, 60.0) < 0.0


def test_a_radius_that_the_arm_cannot_reach_is_not_a_number():
    assert np.isnan(skating_sine(222.0, 150.0, 60.0))


@pytest.mark.parametrize("name", ["lp", "17cm", "25cm"])
def test_both_best_constants_are_those_of_brute_force(name):
    grooves = NAMED_RANGES[name]
    arm = {
        "force_mN": 18.0,
        "friction": 0.325,
        "pivot_to_spindle_mm": 222.0,
        "effective_length_mm": 239.3,
    }
    radii = np.linspace(grooves.inner_mm, grooves.outer_mm, 20_001)
    skating = skating_force_mN(**arm, radius_mm=radii)
    trials = np.linspace(skating.min(), skating.max(), 2001)
    step = trials[1] - trials[0]
    squares = [np.trapezoid((skating - trial) ** 2, radii) for trial in trials]
    extremes = [np.abs(skating - trial).max() for trial in trials]
    least = antiskating_least_squares_mN(**arm, grooves=grooves)
    minimax = antiskating_minimax_mN(**arm, grooves=grooves)
    assert float(least) == pytest.approx(trials[int(np.argmin(squares))], abs=step)
    assert float(minimax) == pytest.approx(trials[int(np.argmin(extremes))], abs=step)
    rest = largest_rest_mN(antiskating_mN=minimax, **arm, grooves=grooves)
    assert float(rest) == pytest.approx(min(extremes), abs=step)


def test_constants_broadcast_over_friction_and_force():
    table = antiskating_least_squares_mN(
        force_mN=np.array([[15.0], [20.0]]),
        friction=np.array([0.25, 0.325, 0.4]),
        pivot_to_spindle_mm=222.0,
        effective_length_mm=239.3,
        grooves=LP,
    )
    assert table.shape == (2, 3)
    assert table[1, 2] / table[0, 0] == pytest.approx(20.0 * 0.4 / (15.0 * 0.25))


def test_a_weight_on_a_thread_pulls_with_its_moment():
    # 2 g on a 30 mm lever: 60 g mm; at 240 mm that is 0.25 gf
    assert thread_weight_force_mN(weight_g=2.0, lever_mm=30.0, effective_length_mm=240.0) == pytest.approx(
        0.25 * 9.80665
    )


def test_the_table_of_notches_leads_to_the_nearest_step():
    steps = thread_weight_steps(weight_g=2.5, levers_mm=(20.0, 15.0, 25.0), effective_length_mm=239.3)
    assert [step.label[:7] for step in steps] == ["notch 1", "notch 2", "notch 3"]
    choice = best_step(steps, 2.1)
    others = [abs(step.force_mN - 2.1) for step in steps]
    assert abs(choice.difference_mN) == pytest.approx(min(others))
    with pytest.raises(InputError):
        best_step((), 2.0)


def test_spring_scale_is_the_least_squares_line_of_an_independent_solver():
    settings = np.array([0.5, 1.0, 1.5, 2.0, 2.5])
    forces = np.array([0.71, 1.22, 1.89, 2.41, 3.05])
    coefficients, covariance = np.polyfit(settings, forces, 1, cov=True)
    scale = fit_spring_scale(settings, forces)
    assert scale.rate_mN == pytest.approx(coefficients[0])
    assert scale.offset_mN == pytest.approx(coefficients[1])
    assert scale.rate_sd_mN == pytest.approx(np.sqrt(covariance[0, 0]))
    assert scale.offset_sd_mN == pytest.approx(np.sqrt(covariance[1, 1]))
    assert float(scale.force_mN(scale.setting_for(2.0))) == pytest.approx(2.0)


def test_one_step_is_not_enough_for_a_scale():
    with pytest.raises(InputError, match="two different settings"):
        fit_spring_scale([1.0, 1.0], [1.2, 1.3])


def test_arm_swing_is_the_angle_of_a_triangle_with_known_sides():
    assert arm_swing_deg(3.0, 5.0, 4.0) == pytest.approx(np.degrees(np.arctan2(4.0, 3.0)))


def test_a_spring_is_linear_in_the_swing_of_the_arm():
    force = spring_force_mN(
        force_at_reference_mN=2.0,
        rate_mN_per_deg=0.05,
        reference_radius_mm=90.0,
        pivot_to_spindle_mm=222.0,
        effective_length_mm=239.3,
        radius_mm=np.array([90.0, 146.0]),
    )
    angles = arm_swing_deg(222.0, 239.3, np.array([90.0, 146.0]))
    assert force[0] == pytest.approx(2.0)
    assert force[1] == pytest.approx(2.0 + 0.05 * (angles[1] - angles[0]))


def test_every_profiles_friction_is_possible_and_sharper_means_more():
    middles = [sum(pair) / 2 for pair in FRICTION_BY_PROFILE.values()]
    assert middles == sorted(middles)
    for pair in FRICTION_BY_PROFILE.values():
        FRICTION.check(pair[0])
        FRICTION.check(pair[1])


def test_steps_are_plain_records():
    assert best_step((Step("1", 1.0), Step("2", 2.0)), 1.6).step.label == "2"
