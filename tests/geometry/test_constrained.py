"""What can still be reached when the arm does not allow the best."""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from groovewright.geometry import align, alignment_for_mounting, yaw_deg
from groovewright.geometry.constrained import (
    best_length_for_offset,
    best_offset_for_length,
    best_within_slot,
    mean_square_error_per_radius,
    worst_error_per_radius,
)
from groovewright.geometry.optimum import least_squares_for_records
from groovewright.geometry.parallel import parallel_line_offset_mm, parallel_tracking_yaw_deg
from groovewright.quantities import LP, InputError

RADII = np.linspace(LP.inner_mm, LP.outer_mm, 2001)


def worst(length, offset, distance=222.0):
    return float(np.max(np.abs(yaw_deg(distance, length, offset, RADII)) / RADII))


def mean_square(length, offset, distance=222.0):
    return float(np.trapezoid((yaw_deg(distance, length, offset, RADII) / RADII) ** 2, RADII))


@pytest.mark.parametrize(
    ("cost", "independent"), [(worst_error_per_radius, worst), (mean_square_error_per_radius, mean_square)]
)
@pytest.mark.parametrize("offset_deg", [0.0, 18.0, 25.0])
def test_best_overhang_for_a_fixed_offset_angle_is_scipys(cost, independent, offset_deg):
    length = float(best_length_for_offset(222.0, offset_deg, LP, cost))
    bounds = (190.0, 221.0) if offset_deg == 0.0 else (222.0, 260.0)
    expected = minimize_scalar(
        lambda x: independent(x, offset_deg), bounds=bounds, method="bounded", options={"xatol": 1e-6}
    )
    assert length == pytest.approx(expected.x, abs=0.02)


@pytest.mark.parametrize(
    ("cost", "independent"), [(worst_error_per_radius, worst), (mean_square_error_per_radius, mean_square)]
)
def test_best_turn_for_a_fixed_length_is_scipys(cost, independent):
    offset = float(best_offset_for_length(222.0, 236.0, LP, cost))
    expected = minimize_scalar(
        lambda x: independent(236.0, x), bounds=(15.0, 30.0), method="bounded", options={"xatol": 1e-8}
    )
    assert offset == pytest.approx(expected.x, abs=0.002)


def test_straight_underhung_arm_has_one_null_and_points_to_both_sides_of_it():
    length = float(best_length_for_offset(222.0, 0.0, LP, worst_error_per_radius))
    arm = alignment_for_mounting(222.0, length, 0.0)
    assert length < 222.0
    assert np.isnan(arm.null_inner_mm)
    assert LP.inner_mm < arm.null_outer_mm < LP.outer_mm
    assert yaw_deg(222.0, length, 0.0, arm.null_outer_mm) == pytest.approx(0.0, abs=1e-9)


def test_a_slot_that_is_long_enough_changes_nothing():
    free = align("minimax", 222.0)
    length, offset = best_within_slot(222.0, 230.0, 245.0, LP, worst_error_per_radius)
    assert (float(length), float(offset)) == pytest.approx((free.effective_length_mm, free.offset_angle_deg))


@pytest.mark.parametrize(("shortest", "longest"), [(230.0, 237.5), (241.0, 250.0)])
def test_a_slot_that_is_too_short_gives_its_nearer_end_and_the_best_turn_there(shortest, longest):
    length, offset = best_within_slot(222.0, shortest, longest, LP, worst_error_per_radius)
    assert float(length) in (shortest, longest)
    best = worst(float(length), float(offset))
    for other_length in np.linspace(shortest, longest, 15):
        for other_offset in np.linspace(20.0, 26.0, 121):
            assert worst(other_length, other_offset) >= best * (1.0 - 1e-3)


def test_one_record_in_the_list_is_the_plain_least_squares():
    length, offset = least_squares_for_records(222.0, [LP.inner_mm], LP.outer_mm)
    plain = align("least-squares", 222.0)
    assert (float(length), float(offset)) == pytest.approx(
        (plain.effective_length_mm, plain.offset_angle_deg)
    )


def test_a_listeners_records_move_the_nulls_to_where_the_music_is():
    ends = [62.0, 75.0, 80.0, 88.0, 95.0]

    def cost(length, offset):
        total = 0.0
        for end in ends:
            radii = np.linspace(end, LP.outer_mm, 4001)
            total += np.trapezoid((yaw_deg(222.0, length, offset, radii) / radii) ** 2, radii)
        return total

    length, offset = (float(x) for x in least_squares_for_records(222.0, ends, LP.outer_mm))
    best = cost(length, offset)
    for nudge in np.random.default_rng(3).normal(0.0, 0.02, (40, 2)):
        assert cost(length + nudge[0], offset + nudge[1]) >= best * (1.0 - 1e-7)
    assert (
        alignment_for_mounting(222.0, length, offset).null_inner_mm
        > align("least-squares", 222.0).null_inner_mm
    )


def test_an_empty_list_of_records_is_refused():
    with pytest.raises(InputError, match="at least one radius"):
        least_squares_for_records(222.0, [], 146.05)


def test_parallel_tracking_is_right_everywhere_or_nowhere():
    assert np.all(parallel_tracking_yaw_deg(RADII, line_offset_mm=0.0) == 0.0)
    off = parallel_tracking_yaw_deg(RADII, line_offset_mm=2.0)
    assert np.all(off < 0.0)
    # by construction: the stylus at (r', 2) from the spindle, the body square to the line of travel
    assert off[0] == pytest.approx(-np.degrees(np.arctan2(2.0, np.sqrt(RADII[0] ** 2 - 4.0))), abs=1e-9)


def test_two_yaws_tell_how_far_a_parallel_arms_line_is_off():
    yaws = parallel_tracking_yaw_deg(np.array([60.0, 140.0]), line_offset_mm=1.5, body_yaw_deg=0.7)
    assert float(parallel_line_offset_mm(yaws[0], 60.0, yaws[1], 140.0)) == pytest.approx(1.5, abs=0.002)
