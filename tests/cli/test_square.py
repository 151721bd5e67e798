"""`groovewright square`: a bench played through the command, its JSON keys, words, slots and order of steps."""

import json

import numpy as np
import pytest

from groovewright.geometry import align
from groovewright.geometry.headshell import Headshell
from groovewright.simulate.bench import hidden_bench, moved, true_yaw_deg
from groovewright.squaring import Hand

KEYS = {
    "slide_mm",
    "slide_sd_mm",
    "turn_deg",
    "turn_sd_deg",
    "outer_screw_mm",
    "inner_screw_mm",
    "predicted_outer_deg",
    "predicted_inner_deg",
    "probability_within_tolerance",
    "verdict",
}
ARM = ("--pivot-to-spindle", 222)
EXACT = ("--reading-sd", 0, "--move-sd", 0, 0)


@pytest.fixture
def square(run):
    """Return the JSON object of a square command."""

    def go(*arguments):
        code, text, errors = run("square", *arguments, "--json")
        assert (code, errors) == (0, "")
        return json.loads(text)

    return go


def test_the_keys_that_scripts_rely_on_are_there(square):
    values = square(*ARM, "--round", 0.2, -1.1)
    assert set(values) >= KEYS
    assert values["verdict"] in ("adjust", "look-again", "stop")
    assert 0 <= values["probability_within_tolerance"] <= 1
    assert values["slide_sd_mm"] > 0


@pytest.mark.parametrize(
    ("seed", "slot_angle", "reach"), [(1, 0.0, 9.5), (2, 8.0, 7.0), (3, -10.0, 11.0), (4, 0.0, 9.5)]
)
def test_a_bench_without_noise_is_square_after_one_move(square, seed, slot_angle, reach):
    rng = np.random.default_rng(seed)
    headshell, aim = Headshell(slot_angle, reach), align("lofgren-a", 222.0)
    bench = hidden_bench(
        aim, headshell, distance_error_mm=0.5 * rng.standard_normal(), slide_mm=rng.uniform(-5, 5),
        turn_deg=rng.uniform(-4, 4),
    )  # fmt: skip
    nulls = (120.891, 65.998)
    seen = [true_yaw_deg(bench, radius) for radius in nulls]
    setting = ("--slot-angle", slot_angle, "--holes-to-stylus", reach)
    first = square(*ARM, *EXACT, *setting, "--round", *seen)
    assert first["verdict"] == "adjust"
    still = Hand(0.0, 0.0)
    bench = moved(bench, first["slide_mm"], first["turn_deg"], still, rng)
    seen_after = [true_yaw_deg(bench, radius) for radius in nulls]
    # the bench works out its yaws from positions in the plan, not with the estimator's formulas
    assert np.max(np.abs(seen_after)) < 0.01
    done = square(
        *ARM, *EXACT, *setting, "--round", *seen, "--moved", first["slide_mm"], first["turn_deg"],
        "--round", *seen_after,
    )  # fmt: skip
    assert done["verdict"] == "stop"
    assert done["probability_within_tolerance"] > 0.999


def test_points_out_at_the_inner_null_means_slide_back(square):
    # common practice: square at the outer point, then out at the inner one, too much overhang; in, too little
    assert square(*ARM, "--round", 0, -1.5)["slide_mm"] < -1
    assert square(*ARM, "--round", 0, 1.5)["slide_mm"] > 1
    assert square(*ARM, "--round", "square", "out")["slide_mm"] < -1
    assert square(*ARM, "--round", "square", "in")["slide_mm"] > 1


def test_a_twist_alone_is_turned_back_about_the_holes(square):
    values = square(*ARM, *EXACT, "--round", 2, 2)
    assert values["turn_deg"] < -1
    # a turn moves the screws opposite ways, in slots half an inch apart (common practice)
    apart = values["outer_screw_mm"] - values["inner_screw_mm"]
    assert abs(apart) == pytest.approx(12.7 * np.sin(np.radians(abs(values["turn_deg"]))), abs=0.01)
    assert (values["outer_screw_mm"] + values["inner_screw_mm"]) / 2 == pytest.approx(
        values["slide_mm"], abs=1e-5
    )


def test_rounds_and_moves_keep_their_order_on_the_line(square):
    rounds = (("--round", 1, -1), ("--round", 0.2, 0.1), ("--round", 0, 0))
    slid, left = ("--moved", -3, -1), ("--moved", 0, 0)
    ordered = square(*ARM, *rounds[0], *slid, *rounds[1], *left, *rounds[2])
    grouped = square(*ARM, *rounds[0], *rounds[1], *rounds[2], *slid, *left)
    assert ordered == grouped
    # the same looks, but the middle one before the move
    later = square(*ARM, *rounds[0], *left, *rounds[1], *slid, *rounds[2])
    assert abs(later["slide_mm"] - ordered["slide_mm"]) > 0.3


def test_nothing_touched_adds_a_look_without_the_noise_of_a_move(square):
    one = square(*ARM, "--round", 0.5, -1)
    two = square(*ARM, "--round", 0.5, -1, "--moved", 0, 0, "--round", 0.5, -1)
    # two independent readings of the same thing: the uncertainty falls by the root of two (GUM, 4.2.3), or
    # a little less where other knowledge helps
    assert two["yaw_outer_sd_deg"] == pytest.approx(one["yaw_outer_sd_deg"] / 2**0.5, rel=0.02)


def test_a_move_that_was_not_looked_at_asks_for_a_look_and_still_tells_the_move(square):
    values = square(*ARM, "--round", 0.5, -1.5, "--moved", -3, -1)
    assert values["verdict"] == "look-again"
    assert isinstance(values["slide_mm"], float)
    assert isinstance(values["turn_deg"], float)


def test_slots_that_end_are_respected_and_the_nulls_that_remain_are_told(square, run):
    free = square(*ARM, "--round", 0, -3)
    assert free["slide_mm"] < -4
    short = square(*ARM, "--round", 0, -3, "--room", "1:5")
    assert short["slide_mm"] == pytest.approx(-1.0, abs=1e-6)
    assert short["reachable"] is False
    assert (short["null_inner_mm"], short["null_outer_mm"]) != pytest.approx((65.998, 120.891), abs=0.5)
    _, text, _ = run("square", *ARM, "--round", 0, -3, "--room", "1:5")
    assert "best reachable" in " ".join(text.split())


def test_a_reading_with_the_wrong_sign_is_pointed_at(square, run):
    steps = ("--round", 0, -1.5, "--moved", -4, -2, "--round", 3, -3)
    assert square(*ARM, "--reading-sd", 0.1, *steps)["misfits"]
    _, text, _ = run("square", *ARM, "--reading-sd", 0.1, *steps)
    assert "Check: The reading at" in text
    assert max(map(len, text.splitlines())) <= 80


def test_why_tells_formula_and_source(run):
    _, text, _ = run("square", *ARM, "--round", 0.2, -1.1, "--why")
    assert "source:" in text
    assert "probability_within_tolerance = P(" in text
    assert max(map(len, text.splitlines())) <= 80
