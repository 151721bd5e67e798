"""Statics of the arm against a free-body sum of moments over point masses, by cross products."""

import numpy as np
import pytest

from groovewright.mechanics.balance import (
    Counterweight,
    arm_moment_from_balance_gmm,
    counterweight_position_mm,
    effective_mass_change_g,
    force_at_height_gf,
    force_slope_gf_per_mm,
    judge_balance,
    tracking_force_gf,
)
from groovewright.quantities import InputError

LENGTH = 229.0


def _force_by_moments(points, stylus, turn_rad):
    """Free body: turn all points, sum r x (m g) in gf mm, divide by the lever of the stylus."""
    rotation = np.array([[np.cos(turn_rad), -np.sin(turn_rad)], [np.sin(turn_rad), np.cos(turn_rad)]])
    moment = 0.0
    for mass, x, z in points:
        place = rotation @ np.array([x, z])
        weight = np.array([0.0, -mass])
        moment += place[0] * weight[1] - place[1] * weight[0]
    contact = rotation @ np.array(stylus)
    up = np.array([0.0, 1.0])
    lever = contact[0] * up[1] - contact[1] * up[0]
    return -moment / lever


def test_counterweight_position_balances_the_sum_of_moments():
    tube, cartridge, weight, force = (35.0, 70.0), (7.5, 219.5), 98.0, 1.8
    position = float(
        counterweight_position_mm(
            arm_moment_gmm=tube[0] * tube[1],
            front_mass_g=cartridge[0],
            front_position_mm=cartridge[1],
            counterweight_mass_g=weight,
            force_gf=force,
            effective_length_mm=LENGTH,
        )
    )
    points = [(tube[0], tube[1], 0), (*cartridge, 0), (weight, -position, 0)]
    assert _force_by_moments(points, (LENGTH, 0), 0.0) == pytest.approx(force, abs=1e-9)


def test_the_arms_own_moment_comes_out_of_one_known_state():
    tube, old_cartridge, weight, position = (35.0, 70.0), (6.0, 219.5), 98.0, 37.0
    points = [(*tube, 0), (*old_cartridge, 0), (weight, -position, 0)]
    moment = arm_moment_from_balance_gmm(
        front_mass_g=old_cartridge[0],
        front_position_mm=old_cartridge[1],
        counterweight_mass_g=weight,
        counterweight_position_mm=position,
        force_gf=_force_by_moments(points, (LENGTH, 0), 0.0),
        effective_length_mm=LENGTH,
    )
    assert float(moment) == pytest.approx(tube[0] * tube[1])


def test_force_with_the_arm_raised_is_that_of_the_turned_free_body():
    points = [(35.0, 70.0, 3.0), (7.5, 219.5, -12.0), (98.0, -37.5, -6.0)]
    below = 15.0
    flat = _force_by_moments(points, (LENGTH, -below), 0.0)
    masses = np.array(points)
    total = masses[:, 0].sum()
    for turn_deg in (-2.0, 0.7, 3.0):
        turn = np.radians(turn_deg)
        height = below + LENGTH * np.sin(turn) - below * np.cos(turn)
        assert float(
            force_at_height_gf(
                force_gf=flat,
                height_mm=height,
                moving_mass_g=total,
                mass_above_bearing_mm=masses[:, 0] @ masses[:, 2] / total,
                effective_length_mm=LENGTH,
                stylus_below_bearing_mm=below,
            )
        ) == pytest.approx(_force_by_moments(points, (LENGTH, -below), turn), abs=1e-9)


def test_slope_is_the_derivative_of_the_free_body_force():
    points = [(35.0, 70.0, 3.0), (7.5, 219.5, -12.0), (98.0, -37.5, -6.0)]
    masses = np.array(points)
    step = 1e-4
    up, down = (_force_by_moments(points, (LENGTH, -15.0), sign * step / LENGTH) for sign in (1, -1))
    slope = force_slope_gf_per_mm(
        moving_mass_g=masses[:, 0].sum(),
        mass_above_bearing_mm=masses[:, 0] @ masses[:, 2] / masses[:, 0].sum(),
        effective_length_mm=LENGTH,
        force_gf=_force_by_moments(points, (LENGTH, -15.0), 0.0),
        stylus_below_bearing_mm=15.0,
    )
    assert float(slope) == pytest.approx((up - down) / (2 * step), rel=1e-5)


def test_a_centre_of_mass_below_the_bearing_adds_force_as_the_arm_rises():
    low, high = force_at_height_gf(
        force_gf=1.8,
        height_mm=[0.0, 3.0],
        moving_mass_g=150.0,
        mass_above_bearing_mm=-5.0,
        effective_length_mm=LENGTH,
    )
    assert low == pytest.approx(1.8)
    assert high > 1.8


def test_moving_the_counterweight_changes_the_moment_of_inertia_of_a_point_mass():
    inertia = [98.0 * x**2 for x in (37.0, 45.0)]
    change = effective_mass_change_g(
        counterweight_mass_g=98.0, from_position_mm=37.0, to_position_mm=45.0, effective_length_mm=LENGTH
    )
    assert float(change) == pytest.approx((inertia[1] - inertia[0]) / LENGTH**2)


def _judge(front_mass_g, counterweight):
    return judge_balance(
        arm_moment_gmm=2450.0,
        front_mass_g=front_mass_g,
        front_position_mm=219.5,
        counterweight=counterweight,
        force_gf=1.8,
        effective_length_mm=LENGTH,
    )


def test_a_usual_cartridge_balances_and_the_place_gives_its_force():
    result = _judge(7.5, Counterweight(98.0, 20.0, 60.0))
    assert result.verdict.code == "balances"
    points = [(1.0, 2450.0, 0), (7.5, 219.5, 0), (98.0, -result.position_mm, 0)]
    assert _force_by_moments(points, (LENGTH, 0), 0.0) == pytest.approx(1.8)


def test_a_heavy_cartridge_needs_the_extra_mass_that_the_sentence_names():
    counterweight = Counterweight(98.0, 20.0, 60.0)
    result = _judge(20.0, counterweight)
    assert result.verdict.code == "counterweight-too-light"
    points = [(1.0, 2450.0, 0), (20.0, 219.5, 0), (98.0 + result.change_g, -60.0, 0)]
    assert _force_by_moments(points, (LENGTH, 0), 0.0) == pytest.approx(0.0, abs=1e-9)


def test_a_light_cartridge_needs_mass_at_the_headshell():
    result = _judge(3.0, Counterweight(150.0, 20.0, 60.0))
    assert result.verdict.code == "counterweight-too-heavy"
    added = -result.missing_moment_gmm / 219.5
    force = tracking_force_gf(
        arm_moment_gmm=2450.0,
        front_mass_g=3.0 + added,
        front_position_mm=219.5,
        counterweight_mass_g=150.0,
        counterweight_position_mm=20.0,
        effective_length_mm=LENGTH,
    )
    assert float(force) == pytest.approx(1.8)


def test_a_reversed_travel_and_a_mass_in_kilograms_are_refused():
    with pytest.raises(InputError, match="try 20:60"):
        Counterweight(98.0, 60.0, 20.0)
    with pytest.raises(InputError, match="kilograms"):
        Counterweight(0.098, 20.0, 60.0)
