"""The closed forms against figures that others published, quoted or computed."""

import math

import mpmath
import numpy as np
import pytest

from groovewright.geometry import CRITERIA, align, align_many, distortion_summary, null_radii_mm, yaw_deg
from groovewright.geometry.criteria import CLOSED_FORMS
from groovewright.quantities import LP, GrooveRange


@pytest.mark.parametrize(
    ("inner_mm", "outer_mm", "null_inner_mm", "null_outer_mm"),
    [(56.0, 146.3, 61.6, 118.4), (58.0, 146.3, 63.6, 119.6)],
)
def test_lofgren_a_nulls_are_those_published_for_two_groove_ranges(
    inner_mm, outer_mm, null_inner_mm, null_outer_mm
):
    # K. Howard, "Arc Angles: Optimizing Tonearm Geometry", Stereophile, March 2010, to the 0.1 mm given there
    alignment = align("lofgren-a", 222.0, GrooveRange(inner_mm, outer_mm))
    assert alignment.null_inner_mm == pytest.approx(null_inner_mm, abs=0.051)
    assert alignment.null_outer_mm == pytest.approx(null_outer_mm, abs=0.051)


@pytest.mark.parametrize(
    ("criterion", "length_mm", "offset_deg"),
    [("lofgren-a", 237.44, 23.17), ("lofgren-b", 237.90, 23.13), ("stevenson", 235.55, 22.17)],
)
def test_length_and_offset_for_220_mm_are_those_commonly_quoted(criterion, length_mm, offset_deg):
    # commonly quoted in the trade, no published source at hand; the last digit is sometimes cut, not rounded
    alignment = align(criterion, 220.0)
    assert alignment.effective_length_mm == pytest.approx(length_mm, abs=0.0051)
    assert offset_deg - 0.005 <= alignment.offset_angle_deg < offset_deg + 0.01


@pytest.mark.parametrize(
    ("criterion", "null_inner_mm", "null_outer_mm", "within_mm"),
    [
        ("lofgren-a", 65.998, 120.891, 0.00051),
        ("lofgren-b", 70.285, 116.604, 0.00051),
        ("stevenson", 60.325, 117.42, 0.0051),
    ],
)
def test_nulls_over_the_usual_lp_range_are_those_commonly_quoted(
    criterion, null_inner_mm, null_outer_mm, within_mm
):
    # commonly quoted in the trade, no published source at hand
    alignment = align(criterion, 222.0)
    assert alignment.null_inner_mm == pytest.approx(null_inner_mm, abs=within_mm)
    assert alignment.null_outer_mm == pytest.approx(null_outer_mm, abs=within_mm)


def test_tracking_error_of_a_250_mm_arm_is_that_commonly_quoted():
    # commonly quoted in the trade: L = 250 mm, Lofgren A, sign apart
    inner, outer = (float(x) for x in CLOSED_FORMS["lofgren-a"](60.325, 146.05))
    distance = math.sqrt(250.0**2 - inner * outer)
    offset = math.degrees(math.asin((inner + outer) / 500.0))
    errors = np.abs(yaw_deg(distance, 250.0, offset, [70.0, 90.0, 115.0]))
    assert errors == pytest.approx([0.359, 1.014, 0.310], abs=0.00051)


def test_straight_arm_without_overhang_has_the_tracking_angles_of_the_first_paper():
    # B. B. Bauer, "Tracking Angle in Phonograph Pickups", Electronics, March 1945: L = d = 7.5 in
    angles = -yaw_deg(7.5 * 25.4, 7.5 * 25.4, 0.0, [5.75 * 25.4, 2.0 * 25.4])
    assert angles == pytest.approx([22.0, 7.6], abs=0.6)
    # the paper gives whole and half degrees; the exact figures are asin(r / 2 L)
    assert angles == pytest.approx(np.degrees(np.arcsin([5.75 / 15.0, 2.0 / 15.0])), abs=1e-9)


def _brute_force_cost(length, offset, *, least_squares, fixed_sum=None):
    """Cost of an arm with d = 222 mm over the LP range, computed by mpmath alone, without the package."""
    d, inner, outer = mpmath.mpf(222), mpmath.mpf("60.325"), mpmath.mpf("146.05")

    def error_over_radius(r):
        return (offset - mpmath.asin((length**2 + r**2 - d**2) / (2 * length * r))) / r

    if least_squares:
        return mpmath.quad(lambda r: error_over_radius(r) ** 2, [inner, 80, 110, outer])
    return max(abs(error_over_radius(inner + (outer - inner) * k / 400)) for k in range(401))


def _nulls_by_brute_force(least_squares):
    """Minimise by Nelder-Mead from SciPy on the mpmath cost; returns the nulls of the best arm."""
    from scipy.optimize import minimize

    best = minimize(
        lambda x: float(1e6 * _brute_force_cost(x[0], x[1], least_squares=least_squares)),
        x0=[239.5, math.radians(23.0)],
        method="Nelder-Mead",
        options={
            "xatol": 1e-7,
            "fatol": 1e-13,
            "initial_simplex": [[239.5, 0.401], [239.9, 0.401], [239.5, 0.405]],
        },
    )
    length, offset = best.x
    half_sum = length * math.sin(offset)
    root = math.sqrt(half_sum**2 - length**2 + 222.0**2)
    return half_sum - root, half_sum + root


def test_exact_least_squares_is_what_high_precision_brute_force_finds():
    alignment = align("least-squares", 222.0)
    inner, outer = _nulls_by_brute_force(least_squares=True)
    assert (alignment.null_inner_mm, alignment.null_outer_mm) == pytest.approx((inner, outer), abs=2e-3)
    # computed beforehand with mpmath at 30 digits
    assert (alignment.null_inner_mm, alignment.null_outer_mm) == pytest.approx((70.151, 116.242), abs=5.1e-4)


def test_exact_minimax_is_what_high_precision_brute_force_finds():
    alignment = align("minimax", 222.0)
    inner, outer = _nulls_by_brute_force(least_squares=False)
    assert (alignment.null_inner_mm, alignment.null_outer_mm) == pytest.approx((inner, outer), abs=0.02)
    # computed beforehand with mpmath at 30 digits
    assert (alignment.null_inner_mm, alignment.null_outer_mm) == pytest.approx((65.976, 121.036), abs=5.1e-4)


def test_the_usual_least_squares_form_is_off_the_optimum_as_published():
    # J. Audio Eng. Soc. 70(3), 199-207, 2022 (abstract): off by up to 0.6 mm in the null radii
    usual, exact = align("lofgren-b", 222.0), align("least-squares", 222.0)
    differences = (
        abs(usual.null_inner_mm - exact.null_inner_mm),
        abs(usual.null_outer_mm - exact.null_outer_mm),
    )
    assert min(differences) > 0.1
    assert max(differences) < 0.6


def test_length_overhang_and_error_for_222_mm():
    # computed beforehand with mpmath at 30 digits, Lofgren A
    alignment = align("lofgren-a", 222.0)
    worst, _, _ = distortion_summary(alignment, LP)
    assert alignment.effective_length_mm == pytest.approx(239.296, abs=5.1e-4)
    assert alignment.overhang_mm == pytest.approx(17.296, abs=5.1e-4)
    assert alignment.offset_angle_deg == pytest.approx(22.986, abs=5.1e-4)
    assert worst == pytest.approx(1.806, abs=5.1e-4)


@pytest.mark.parametrize(
    ("criterion", "largest", "rms"),
    [("lofgren-a", 0.618, 0.408), ("lofgren-b", 1.004, 0.366), ("stevenson", 0.755, 0.500)],
)
def test_second_harmonic_at_10_cm_per_s(criterion, largest, rms):
    # formula V / v tan(error): Baerwald 1941, Bauer 1945; figures computed beforehand with mpmath at 30 digits
    _, worst_percent, rms_percent = distortion_summary(align(criterion, 222.0), LP)
    assert worst_percent == pytest.approx(largest, abs=5.1e-4)
    assert rms_percent == pytest.approx(rms, abs=5.1e-4)


@pytest.mark.parametrize("criterion", CRITERIA)
def test_yaw_is_zero_at_both_nulls_for_many_arms(criterion):
    distances = np.random.default_rng(5).uniform(170.0, 420.0, 500)
    lengths, offsets = align_many(criterion, distances)
    for null in null_radii_mm(distances, lengths, offsets):
        assert np.abs(yaw_deg(distances, lengths, offsets, null)).max() < 1e-9


@pytest.mark.parametrize(("criterion", "worse"), [("minimax", "lofgren-a"), ("least-squares", "lofgren-b")])
def test_exact_optima_beat_every_neighbour_and_the_closed_form(criterion, worse):
    radii = np.linspace(60.325, 146.05, 4001)

    def cost(distance, length, offset):
        ratio = yaw_deg(distance, length, offset, radii) / radii
        return np.abs(ratio).max() if criterion == "minimax" else np.trapezoid(ratio**2, radii)

    random = np.random.default_rng(8)
    for distance in random.uniform(180.0, 350.0, 20):
        length, offset = align_many(criterion, distance)
        best = cost(distance, length, offset)
        assert best <= cost(distance, *align_many(worse, distance)) * (1.0 + 1e-9)
        for nudge in random.normal(0.0, 0.02, (20, 2)):
            assert best <= cost(distance, length + nudge[0], offset + nudge[1]) * (1.0 + 1e-9)


def test_arrays_and_single_arms_agree():
    for criterion in CRITERIA:
        lengths, offsets = align_many(criterion, [200.0, 222.0, 300.0])
        alone = align(criterion, 222.0)
        assert lengths[1] == pytest.approx(alone.effective_length_mm, abs=1e-9)
        assert offsets[1] == pytest.approx(alone.offset_angle_deg, abs=1e-9)
        assert lengths.shape == offsets.shape == (3,)
