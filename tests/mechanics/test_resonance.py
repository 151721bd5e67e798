"""Resonance against textbook values, a direct solution of the equation of motion, and simulated spreads."""

import time

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from groovewright.mechanics.compliance import (
    AT_10_HZ,
    AT_100_HZ,
    STATIC,
    UNKNOWN,
    basis_for_frequency,
    compliance_at_resonance_um_per_mN,
    parse_basis,
)
from groovewright.mechanics.resonance import (
    LognormalEstimate,
    deflection_response,
    effective_mass_of_g,
    force_swing_mN,
    mass_for_resonance_g,
    probability_in_window,
    quality_factor,
    resonance_hz,
    resonance_log_sd,
    total_effective_mass_g,
)
from groovewright.mechanics.skating import skating_force_mN
from groovewright.quantities import InputError


# Textbook formula for a mass on a spring, f = 1 / (2 pi sqrt(M C)), values computed by hand from it.
@pytest.mark.parametrize(
    ("mass_g", "compliance", "expected_hz"),
    [(20, 12, 10.27), (18, 10, 11.86), (15, 20, 9.19), (25, 15, 8.22), (30, 6, 11.86)],
)
def test_resonance_has_the_textbook_values(mass_g, compliance, expected_hz):
    assert resonance_hz(mass_g, compliance) == pytest.approx(expected_hz, abs=0.006)


def test_mass_for_a_resonance_is_solved_by_bisection_of_the_textbook_formula():
    low, high = 1.0, 200.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        if 1e3 / (2 * np.pi * np.sqrt(middle * 14.0)) > 9.5:
            low = middle
        else:
            high = middle
    assert mass_for_resonance_g(9.5, 14.0) == pytest.approx(low, abs=1e-6)


def _steady_deflection(mass_kg, stiffness, suspension, arm, frequency_hz):
    """Solve M x'' = -k (x - y) - Rs (x' - y') - Ra x' for y = sin wt; amplitude of x - y."""
    omega = 2 * np.pi * frequency_hz

    def motion(t, state):
        x, velocity = state
        y, y_velocity = np.sin(omega * t), omega * np.cos(omega * t)
        force = -stiffness * (x - y) - suspension * (velocity - y_velocity) - arm * velocity
        return [velocity, force / mass_kg]

    settle = 60 * mass_kg / (suspension + arm)
    periods = np.ceil(settle * frequency_hz)
    times = (periods + np.linspace(0, 1, 400, endpoint=False)) / frequency_hz
    solution = solve_ivp(motion, (0, times[-1]), [0, 0], t_eval=times, rtol=1e-8, atol=1e-10)
    deflection = solution.y[0] - np.sin(omega * times)
    return abs(2 * np.mean(deflection * np.exp(-1j * omega * times)))


@pytest.mark.parametrize("arm_ratio", [0.0, 0.4])
@pytest.mark.parametrize("frequency_hz", [2.0, 6.0, 9.0, 10.5, 14.0, 30.0])
def test_deflection_response_is_that_of_the_equation_of_motion(frequency_hz, arm_ratio):
    mass_kg, compliance_m_per_N, loss = 18.5e-3, 14e-3, 0.25
    stiffness = 1 / compliance_m_per_N
    omega0 = np.sqrt(stiffness / mass_kg)
    simulated = _steady_deflection(
        mass_kg, stiffness, loss * stiffness / omega0, arm_ratio * mass_kg * omega0, frequency_hz
    )
    response = deflection_response(frequency_hz, omega0 / (2 * np.pi), loss, arm_ratio)
    assert abs(complex(response)) == pytest.approx(simulated, rel=2e-4)


def test_resonance_and_q_are_those_of_the_ringing_of_the_equation_of_motion():
    mass_kg, compliance_m_per_N, loss, arm = 20e-3, 12e-3, 0.12, 0.05
    stiffness = 1 / compliance_m_per_N
    omega0 = np.sqrt(stiffness / mass_kg)
    resistance = loss * stiffness / omega0 + arm
    solution = solve_ivp(
        lambda _, s: [s[1], -(stiffness * s[0] + resistance * s[1]) / mass_kg],
        (0, 1.5),
        [1e-3, 0],
        rtol=1e-10,
        atol=1e-14,
        dense_output=True,
    )
    t = np.linspace(0, 1.5, 400_001)
    x = solution.sol(t)[0]
    down = np.flatnonzero((x[:-1] > 0) & (x[1:] <= 0))
    ringing_hz = (down.size - 1) / (t[down[-1]] - t[down[0]])
    peaks = np.flatnonzero((x[1:-1] > x[:-2]) & (x[1:-1] > x[2:])) + 1
    decrement = np.log(x[peaks[0]] / x[peaks[4]]) / (t[peaks[4]] - t[peaks[0]])
    undamped_hz = np.hypot(2 * np.pi * ringing_hz, decrement) / (2 * np.pi)
    assert resonance_hz(20, 12) == pytest.approx(undamped_hz, rel=1e-4)
    assert quality_factor(20, undamped_hz, loss, 1e3 * arm) == pytest.approx(
        np.pi * undamped_hz / decrement, rel=1e-3
    )


def test_far_above_the_resonance_the_whole_groove_motion_bends_the_cantilever():
    assert abs(complex(deflection_response(1000.0, 10.0, 0.3))) == pytest.approx(1.0, abs=2e-4)


def test_far_below_the_resonance_the_deflection_falls_with_the_square_of_the_frequency():
    halves = np.abs(deflection_response([0.5, 0.25], 10.0, 0.3))
    assert halves[0] / halves[1] == pytest.approx(4.0, rel=0.01)


def test_a_warp_swings_the_force_by_the_springs_law():
    # static spring: 0.02 mm of deflection on 10 um/mN is 2 mN
    assert force_swing_mN(0.02, 1.0, 10.0) == pytest.approx(2.0)


def test_added_mass_counts_with_the_square_of_its_distance_as_moments_of_inertia_do():
    points = np.array([[100.0, 55.0], [8.0, 229.0], [6.5, 229.0]])  # g, mm from the pivot
    inertia = float(np.sum(points[:, 0] * points[:, 1] ** 2))
    parts = effective_mass_of_g(points[:, 0], points[:, 1], 229.0)
    assert parts.sum() == pytest.approx(inertia / 229.0**2)


def test_total_effective_mass_adds_a_headshell_only_where_the_arm_is_quoted_without():
    with_shell = total_effective_mass_g(arm_effective_mass_g=11, cartridge_mass_g=6.5, fastener_mass_g=1)
    bare = total_effective_mass_g(
        arm_effective_mass_g=3, cartridge_mass_g=6.5, fastener_mass_g=1, headshell_mass_g=8
    )
    assert with_shell == pytest.approx(18.5)
    assert bare == pytest.approx(18.5)


def test_a_figure_at_100_hz_grows_by_half_to_double_at_10_hz():
    # common practice: factor about 1.5 to 2
    low, high = (AT_100_HZ.factor * np.exp(sign * AT_100_HZ.log_sd) for sign in (-1, 1))
    assert low == pytest.approx(1.5, rel=1e-3)
    assert high == pytest.approx(2.0, rel=1e-3)


def test_a_static_figure_halves_and_a_figure_at_10_hz_stays():
    assert STATIC.factor == pytest.approx(0.5)  # common practice
    assert float(compliance_at_resonance_um_per_mN(12.0, AT_10_HZ)[0]) == pytest.approx(12.0)


def test_not_knowing_how_compliance_was_measured_is_wider_than_any_way_of_measuring():
    draws = np.concatenate(
        [
            np.random.default_rng(1).normal(np.log(b.factor), b.log_sd, 200_000)
            for b in (AT_10_HZ, AT_100_HZ, STATIC)
        ]
    )
    assert UNKNOWN.log_sd == pytest.approx(draws.std(), abs=0.005)
    assert np.log(UNKNOWN.factor) == pytest.approx(draws.mean(), abs=0.005)
    assert max(AT_10_HZ.log_sd, AT_100_HZ.log_sd, STATIC.log_sd) < UNKNOWN.log_sd


def test_a_measuring_frequency_in_between_lies_in_between():
    assert basis_for_frequency(10.0).factor == pytest.approx(1.0)
    assert basis_for_frequency(100.0).factor == pytest.approx(AT_100_HZ.factor)
    assert 1.0 < parse_basis("20 Hz").factor < AT_100_HZ.factor


@pytest.mark.parametrize("text", ["statik", "nan", "5000", "0.1"])
def test_a_measuring_frequency_that_makes_no_sense_is_refused(text):
    with pytest.raises(InputError):
        parse_basis(text)


def test_resonance_intervals_cover_95_percent_of_simulated_arms_and_cartridges():
    rng = np.random.default_rng(42)
    n = 4000
    mass, mass_sd = 18.5, 1.1
    compliance, log_sd = compliance_at_resonance_um_per_mN(10.0, AT_100_HZ)
    masses = rng.normal(mass, mass_sd, n)
    compliances = float(compliance) * np.exp(rng.normal(0, log_sd, n))
    truth = 1e3 / (2 * np.pi * np.sqrt(masses * compliances))
    estimate = LognormalEstimate(
        float(resonance_hz(mass, compliance)), float(resonance_log_sd(mass, mass_sd, log_sd))
    )
    low, high = estimate.interval()
    assert 0.93 <= np.mean((truth >= low) & (truth <= high)) <= 0.97
    assert estimate.sd == pytest.approx(truth.std(), rel=0.05)
    inside = np.mean((truth >= 8.0) & (truth <= 12.0))
    assert estimate.probability_between(8.0, 12.0) == pytest.approx(inside, abs=0.02)
    assert float(probability_in_window(estimate.median, estimate.log_sd)) == pytest.approx(inside, abs=0.02)


def test_a_hundred_thousand_draws_go_through_resonance_and_skating_in_well_under_a_second():
    rng = np.random.default_rng(7)
    n = 100_000
    started = time.process_time()
    resonance = resonance_hz(rng.normal(18.5, 1.1, n), 10.0 * np.exp(rng.normal(0.5, 0.15, n)))
    response = np.abs(deflection_response(6.0, resonance, rng.uniform(0.2, 0.5, n)))
    skating = skating_force_mN(
        force_mN=rng.normal(17.7, 0.3, n),
        friction=rng.uniform(0.25, 0.4, n),
        pivot_to_spindle_mm=222.0,
        effective_length_mm=rng.normal(239.3, 0.3, n),
        radius_mm=90.0,
    )
    elapsed = time.process_time() - started
    assert resonance.shape == response.shape == skating.shape == (n,)
    assert np.isfinite(response).all()
    assert elapsed < 0.6


def test_functions_broadcast_rows_of_mass_against_columns_of_compliance():
    table = resonance_hz(np.array([[15.0], [20.0]]), np.array([10.0, 12.0, 20.0]))
    assert table.shape == (2, 3)
    assert table[1, 1] == pytest.approx(10.27, abs=0.006)
