"""The estimator against brute force over the posterior, and against the truth of simulated benches."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from groovewright.geometry import align
from groovewright.geometry.headshell import Headshell, length_and_offset, screw_moves_mm, yaw_and_slopes
from groovewright.simulate.bench import hidden_bench, true_yaw_deg
from groovewright.squaring import Hand, Look, Move, Workpiece, YawReading, estimate, parse_yaw
from groovewright.squaring.within import probability_within

AIM = align("lofgren-a", 222.0)
RADII = np.array([AIM.null_outer_mm, AIM.null_inner_mm])


def number(value, sd):
    return YawReading(value, value, sd)


@pytest.mark.parametrize("headshell", [Headshell(), Headshell(8.0, 6.5), Headshell(-12.0, 11.0)])
def test_yaw_of_a_rigid_body_is_that_of_positions_in_the_plane(headshell):
    random = np.random.default_rng(4)
    for _ in range(50):
        slide, turn, radius = random.uniform([-5.0, -4.0, 60.0], [5.0, 4.0, 146.0])
        bench = hidden_bench(AIM, headshell, distance_error_mm=0.0, slide_mm=slide, turn_deg=turn)
        yaw, _ = yaw_and_slopes(AIM, headshell, [0.0, slide, turn], radius)
        assert float(yaw) == pytest.approx(true_yaw_deg(bench, radius), abs=1e-9)


def test_slopes_of_the_rigid_body_are_those_of_finite_differences():
    headshell, state = Headshell(5.0, 8.0), np.array([0.3, 1.5, -2.0])
    _, slopes = yaw_and_slopes(AIM, headshell, state, RADII)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-5
        up, _ = yaw_and_slopes(AIM, headshell, state + step, RADII)
        down, _ = yaw_and_slopes(AIM, headshell, state - step, RADII)
        assert slopes[:, axis] == pytest.approx((up - down) / 2e-5, abs=1e-6)


def test_length_and_offset_are_the_aims_where_nothing_is_moved():
    length, offset = length_and_offset(AIM, Headshell(7.0), 0.0, 0.0)
    assert float(length) == pytest.approx(AIM.effective_length_mm)
    assert float(offset) == pytest.approx(AIM.offset_angle_deg)


def test_screws_move_with_the_slide_and_against_each_other_with_the_turn():
    outer, inner = screw_moves_mm(Headshell(), 2.0, 0.0, 1.0)
    # 6.35 mm x sin(1 deg) = 0.1108 mm; clockwise takes the outer screw forward
    assert float(outer) == pytest.approx(2.1108, abs=1e-4)
    assert float(inner) == pytest.approx(1.8892, abs=1e-4)


def test_one_exact_look_finds_the_cartridge():
    bench = hidden_bench(AIM, Headshell(), distance_error_mm=0.0, slide_mm=3.0, turn_deg=-2.5)
    look = Look(*(number(true_yaw_deg(bench, radius), 0.0) for radius in RADII))
    known = estimate(Workpiece(AIM, pivot_to_spindle_sd_mm=0.0), (look,))
    assert known.state == pytest.approx([0.0, 3.0, -2.5], abs=2e-3)


def test_the_posterior_is_that_of_a_grid():
    """Two looks and a clumsy move, one word among the readings: compare with brute force on a grid."""
    hand = Hand(0.4, 0.3)
    steps = (
        Look(number(0.4, 0.3), number(-1.0, 0.3)),
        Move(-2.0, -1.0, hand),
        Look(number(0.1, 0.3), parse_yaw("square", 0.3)),
    )
    known = estimate(Workpiece(AIM, pivot_to_spindle_sd_mm=0.0), steps)

    slides, turns = np.linspace(-7.0, 13.0, 161), np.linspace(-6.0, 9.0, 151)
    grid = np.stack(np.meshgrid(slides, turns, indexing="ij"), axis=-1)

    def yaws(state):
        full = np.concatenate([np.zeros((*state.shape[:-1], 1)), state], axis=-1)
        return [yaw_and_slopes(AIM, Headshell(), full, radius)[0] for radius in RADII]

    outer, inner = yaws(grid)
    before = norm.pdf(0.4, outer, 0.3) * norm.pdf(-1.0, inner, 0.3)
    # what is known after the move: the grid moved on and blurred by the hand, by direct summation
    first = grid.reshape(-1, 2)[before.ravel() > 1e-7 * before.max()]
    weight = before.ravel()[before.ravel() > 1e-7 * before.max()]
    after = np.zeros(grid.shape[:2])
    for point, mass in zip(first, weight, strict=True):
        blur_slide = norm.pdf(slides, point[0] - 2.0, hand.slide_sd_mm)
        after += mass * np.outer(blur_slide, norm.pdf(turns, point[1] - 1.0, hand.turn_sd_deg))
    square = norm.cdf((0.5 - inner) / 0.3) - norm.cdf((-0.5 - inner) / 0.3)
    posterior = after * norm.pdf(0.1, outer, 0.3) * square
    posterior /= posterior.sum()
    for axis, values in enumerate((slides, turns)):
        marginal = posterior.sum(axis=1 - axis)
        mean = float(marginal @ values)
        sd = float(np.sqrt(marginal @ (values - mean) ** 2))
        assert known.state[1 + axis] == pytest.approx(mean, abs=0.05 * sd)
        assert np.sqrt(known.state_covariance[1 + axis, 1 + axis]) == pytest.approx(sd, rel=0.05)


def test_words_say_less_than_numbers_and_more_than_nothing():
    work = Workpiece(AIM)
    nothing = estimate(work, ())
    words = estimate(work, (Look(parse_yaw("square", 0.3), parse_yaw("out", 0.3)),))
    numbers = estimate(work, (Look(number(0.0, 0.3), number(-2.5, 0.3)),))
    spreads = [np.sqrt(known.yaw_covariance.trace()) for known in (nothing, words, numbers)]
    assert spreads[0] > 2.0 * spreads[1] > 4.0 * spreads[2] / 2.0
    assert words.yaw_deg[1] < -0.5


def test_contradicting_words_do_not_break_the_estimate():
    look = Look(parse_yaw("far-out", 0.05), parse_yaw("far-in", 0.05))
    opposite = Look(parse_yaw("far-in", 0.05), parse_yaw("far-out", 0.05))
    known = estimate(Workpiece(AIM), (look, Move(0.0, 0.0), opposite))
    assert np.all(np.isfinite(known.state))
    assert np.all(np.linalg.eigvalsh(known.state_covariance) > 0.0)


def test_a_reading_with_the_wrong_sign_is_named():
    hand = Hand(0.1, 0.1)
    steps = (
        Look(number(0.0, 0.1), number(-2.0, 0.1)),
        Move(0.0, 0.0, hand),
        Look(number(0.0, 0.1), number(2.0, 0.1)),
    )
    known = estimate(Workpiece(AIM), steps)
    assert {(look, null) for look, null, _ in known.misfits} == {(1, "inner"), (2, "inner")}


def test_probability_within_is_that_of_scipy():
    random = np.random.default_rng(2)
    for _ in range(30):
        root = random.normal(0.0, 0.4, (2, 2))
        covariance = root @ root.T + 0.01 * np.eye(2)
        mean, tolerance = random.normal(0.0, 0.3, 2), random.uniform(0.1, 0.8)
        normal = multivariate_normal(mean, covariance)
        expected = normal.cdf([tolerance] * 2, lower_limit=[-tolerance] * 2, rng=random)
        assert float(probability_within(mean, covariance, tolerance)) == pytest.approx(expected, abs=2e-4)
