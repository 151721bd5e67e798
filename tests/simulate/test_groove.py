import math

import numpy as np
import pytest
from mpmath import findroot, mp, mpf
from scipy.special import jv

from groovewright.simulate.groove import (
    Groove,
    groove_speed_mm_per_s,
    leant,
    output_of,
    shifted_times,
    sine_wall,
    still,
    sweep_wall,
    traced,
)


def lateral(hz, velocity, speed):
    wall = sine_wall(hz, velocity / math.sqrt(2))
    return Groove(wall, wall, speed)


# Groove speed at 33 1/3 rpm: 146.05 mm 0.5098 m/s, 60.325 mm 0.2106 m/s (arithmetic).
@pytest.mark.parametrize(("radius", "speed"), [(146.05, 509.8), (60.325, 210.6)])
def test_groove_speed(radius, speed):
    assert groove_speed_mm_per_s(100 / 3, radius) == pytest.approx(speed, abs=0.05)


@pytest.mark.parametrize("time_s", [0.0001, 0.00037, 0.00081])
def test_the_implicit_equation_is_solved_to_rounding(time_s):
    """u - t - x(u) tan(e) / v = 0 by mpmath with 30 digits."""
    groove = lateral(1000.0, 100.0, 210.6)
    with mp.workdps(30):
        along = mp.tan(mp.radians(mpf(5))) / mpf("210.6")
        amplitude = -mpf(100) / (2 * mp.pi * 1000)
        root = findroot(lambda u: u - time_s - along * amplitude * mp.cos(2 * mp.pi * 1000 * u), time_s)
    ours = shifted_times(groove, np.array([time_s]), yaw_deg=5.0, tilt_deg=0.0)[0]
    assert ours == pytest.approx(float(root), abs=1e-15)


@pytest.mark.parametrize("yaw_deg", [1.8, -4.0])
def test_tracking_error_makes_the_harmonics_that_bessel_found_for_keplers_equation(yaw_deg):
    """Velocities of order n stand as J_n(n k) / J_1(k), k = V / v tan(e) (F. W. Bessel, 1824)."""
    speed, rate = 210.6, 96_000
    groove = lateral(1000.0, 100.0, speed)
    times = np.arange(rate) / rate
    left, right = output_of(groove, times, np.ones(rate), yaw_deg=yaw_deg, tilt_deg=0.0)
    spectrum = np.abs(np.fft.rfft(left)) / rate * 2
    k = 100.0 / speed * math.tan(math.radians(abs(yaw_deg)))
    for order in (2, 3, 4):
        assert spectrum[1000 * order] / spectrum[1000] == pytest.approx(
            jv(order, order * k) / jv(1, k), rel=1e-6
        )
    np.testing.assert_allclose(left, right)


def test_the_side_of_the_error_cannot_be_heard_in_sizes():
    groove, times = lateral(1000.0, 80.0, 250.0), np.arange(9600) / 96_000
    pair = [output_of(groove, times, np.ones(9600), yaw_deg=yaw, tilt_deg=0.0)[0] for yaw in (3.0, -3.0)]
    sizes = [np.abs(np.fft.rfft(one)) for one in pair]
    np.testing.assert_allclose(sizes[0], sizes[1], atol=1e-6 * sizes[0].max())


# Pure azimuth error a: crosstalk tan(a): 1 deg -35.2 dB, 2 deg -29.1 dB, 3 deg -25.6 dB (derived).
@pytest.mark.parametrize(("lean", "level_db"), [(1.0, -35.2), (2.0, -29.1), (3.0, -25.6)])
def test_lean_makes_its_crosstalk_with_opposite_signs(lean, level_db):
    left_only = leant(np.array([1.0]), np.array([0.0]), lean)
    right_only = leant(np.array([0.0]), np.array([1.0]), lean)
    assert 20 * math.log10(abs(left_only[1][0] / left_only[0][0])) == pytest.approx(level_db, abs=0.06)
    assert left_only[1][0] < 0 < right_only[0][0]


def test_lean_is_positive_clockwise_seen_from_the_front():
    """Leaning clockwise by 45 degrees lays the left coil's axis on x: it sees sideways motion alone,
    fully.
    """
    sideways = leant(np.array([math.sqrt(0.5)]), np.array([math.sqrt(0.5)]), 45.0)
    assert sideways[0][0] == pytest.approx(1.0)
    assert sideways[1][0] == pytest.approx(0.0, abs=1e-12)


def test_a_round_stylus_rolls_along_the_parallel_curve():
    """The centre's path is the upper hull of circles around the groove (brute force over all touching
    points).
    """
    speed, radius_um = 250.0, 18.0
    wall = sine_wall(2000.0, 40.0)
    times = np.linspace(0.001, 0.002, 41)
    fine = np.linspace(0.0005, 0.0025, 400_001)
    places = wall(fine)[0]
    radius = radius_um / 1000.0
    along = (fine[None, :] - times[:, None]) * speed
    reach = np.where(np.abs(along) < radius, places + np.sqrt(np.maximum(radius**2 - along**2, 0.0)), -np.inf)
    expected = reach.max(axis=1) - radius
    np.testing.assert_allclose(traced(wall, speed, radius_um, 1.0)(times)[0], expected, atol=1e-8)


def test_tracing_keeps_its_slope_consistent_with_its_place():
    moved = traced(sine_wall(2000.0, 40.0), 250.0, 18.0, -1.0)
    times = np.linspace(0.001, 0.002, 2001)
    place, speed = moved(times)
    np.testing.assert_allclose(np.gradient(place, times)[5:-5], speed[5:-5], atol=0.02)
    assert traced(still, 250.0, 0.0, 1.0) is still


def test_a_sweep_runs_from_start_to_end_at_its_velocity():
    wall = sweep_wall(20.0, 2000.0, 10.0, lambda f: np.full_like(f, 30.0))
    times = np.linspace(0, 10, 2_000_001)
    speed = wall(times)[1]
    crossings = times[1:][np.diff(np.signbit(speed))]
    hz = 0.5 / np.diff(crossings)
    assert hz[0] == pytest.approx(20.0, rel=0.03)
    assert hz[-1] == pytest.approx(2000.0, rel=0.02)
    assert np.abs(speed).max() == pytest.approx(30.0, rel=1e-3)
